"""Paths in the cells of a sheet, as OGC 06-103r4 writes them (section 7.2)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.domain.line_path import NotAPath, checked_path
from apps.records import payload
from apps.records.payload import wkt
from apps.records.payload.rows import BadCell

FLAT = ((-75.3, 43.9), (-75.301, 43.901))
HIGH = ((-75.3, 43.9, 401.25), (-75.301, 43.901, 400.0))


@pytest.mark.parametrize(
    ("path", "text"),
    [
        (FLAT, "LINESTRING (-75.3 43.9, -75.301 43.901)"),
        (HIGH, "LINESTRING Z (-75.3 43.9 401.25, -75.301 43.901 400)"),
        (((0.0, 0.0), (1e-7, 0.0)), "LINESTRING (0 0, 0.0000001 0)"),
        (((-180.0, -90.0), (180.0, 90.0)), "LINESTRING (-180 -90, 180 90)"),
    ],
)
def test_a_path_is_written_as_the_standard_has_it(path, text):
    assert wkt.write_path(path) == text
    assert wkt.read_path(text) == path


@pytest.mark.parametrize(
    "text",
    [
        "linestring(-75.3 43.9,-75.301 43.901)",
        "LINESTRING  ( -75.3   43.9 , -75.301 43.901 )",
        "LineString (-75.3 43.9, -7.5301e1 +43.901)",
    ],
)
def test_what_other_tools_write_is_read_as_well(text):
    assert wkt.read_path(text) == FLAT


@pytest.mark.parametrize(
    "text",
    [
        "LINESTRINGZ(-75.3 43.9 401.25,-75.301 43.901 400)",
        "LINESTRING Z(-75.3 43.9 401.25,-75.301 43.901 400)",
        "LINESTRING (-75.3 43.9 401.25,-75.301 43.901 400)",
    ],
)
def test_heights_are_read_however_the_z_stands(text):
    assert wkt.read_path(text) == HIGH


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("M1", "“M1” is no path"),
        ("x" * 99, "x…” is no path"),
        ("POINT (-75.3 43.9)", "is no path"),
        ("LINESTRING EMPTY", "is no path"),
        ("MULTILINESTRING ((0 0, 1 1))", "is no path"),
        ("SRID=4326;LINESTRING (0 0, 1 1)", "is no path"),
        ("LINESTRING M (0 0 1, 1 1 2)", "is no path"),
        ("LINESTRING (0 0, 1 1", "is no path"),
        ("LINESTRING (0 0)", "2 to 2,000 points, not 1"),
        ("LINESTRING (0 0, )", "point 2"),
        ("LINESTRING (0 0, 1)", "point 2"),
        ("LINESTRING (0 0, 1 nan)", "“nan” is not a number"),
        ("LINESTRING (0 0, 1 91)", "latitude of point 2"),
        ("LINESTRING (0 0, 0 0)", "all its points are one place"),
        ("LINESTRING Z (0 0, 1 1)", "needs a height at every point"),
        ("LINESTRING (0 0 5, 1 1)", "every point must have a height, or none"),
    ],
)
def test_what_is_no_path_is_refused_with_its_reason(text, reason):
    with pytest.raises(BadCell, match=reason.replace("(", r"\(")):
        wkt.read_path(text)


def test_a_sheet_names_the_row_and_the_column_of_a_bad_path():
    text = 'woodlot,label,kind,geometry\nNorth,M1,mainline,"LINESTRING (0 0, 1 95)"'
    (fault,) = payload.read_lines(text).faults
    assert (fault.row, fault.column) == (2, "geometry")
    assert "latitude of point 2 must be between -90 and 90, not 95" in fault.reason


numbers = st.floats(-90, 90)
flat = st.lists(st.tuples(numbers, numbers), min_size=2, max_size=20)
high = st.lists(st.tuples(numbers, numbers, st.floats(-100, 5000)), min_size=2, max_size=20)


@given(flat | high)
def test_any_path_comes_back_to_the_last_figure(points):
    try:
        path = checked_path(points)
    except NotAPath:
        # Only points that all fall on one place are refused here.
        assert len({tuple(round(n, 7) + 0.0 for n in point[:2]) for point in points}) == 1
        return
    assert wkt.read_path(wkt.write_path(path)) == path


def said(cell):
    """What the reader makes of a cell: its path, or its reason to refuse it."""
    try:
        return wkt.read_path(cell)
    except BadCell as bad:
        return str(bad)


@given(st.text())
def test_no_cell_at_all_breaks_the_reader(text):
    assert said(text)


PIECES = ["LINESTRING", "Z", "(", ")", ",", " ", "1", "-2.5", "9" * 400]


@given(st.lists(st.sampled_from(PIECES)))
def test_no_cell_of_a_paths_own_pieces_breaks_the_reader(pieces):
    assert said("".join(pieces))

"""One path as GeoJSON: what is taken, what is refused and why, and back (RFC 7946, RFC 8259)."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.domain.line_path import NotAPath, checked_path
from apps.woods.payload import NotGeometry, read_path, strict_json, write_path

PATH = ((-75.3, 43.9), (-75.301, 43.901))
LINE = {"type": "LineString", "coordinates": [list(point) for point in PATH]}


@pytest.mark.parametrize(
    "typed",
    [
        LINE,
        LINE | {"bbox": [-76, 43, -75, 44]},
        {"type": "Feature", "properties": {"label": "M1"}, "geometry": LINE},
        {"type": "MultiLineString", "coordinates": [LINE["coordinates"]]},
        LINE["coordinates"],
    ],
)
def test_a_path_is_taken_as_any_tool_gives_it(typed):
    assert read_path(json.dumps(typed)) == PATH


# The example of RFC 7946, appendix A.2, and its first position as a line of one.
RFC_LINE = '{"type": "LineString", "coordinates": [[100.0, 0.0], [101.0, 1.0]]}'


def test_the_line_of_the_standards_appendix_is_read():
    assert read_path(RFC_LINE) == ((100.0, 0.0), (101.0, 1.0))


@pytest.mark.parametrize(
    ("typed", "reason"),
    [
        ("", "Expecting value in line 1"),
        ("[[-75.3, 43.9],\n [-75.301 43.901]]", "in line 2"),
        ("7", "an object with a type"),
        ("null", "an object with a type"),
        ('"LINESTRING (0 0, 1 1)"', "an object with a type"),
        ("{}", "something without a type"),
        ('{"type": 7}', "something without a type"),
        ('{"type": "Point", "coordinates": [0, 0]}', "not a Point"),
        ('{"type": "Feature", "geometry": null}', "an object with a type"),
        ('{"type": "MultiLineString", "coordinates": [[[0,0],[1,1]],[[2,2],[3,3]]]}', "one part"),
        ('{"type": "MultiLineString"}', "one part"),
        ('{"type": "LineString", "type": "LineString"}', "“type” stands twice"),
        ("[[NaN, 0], [1, 1]]", "NaN is no number"),
        ("[[-Infinity, 0], [1, 1]]", "-Infinity is no number"),
        ('{"type": "\\ud800"}', "half a letter"),
        ('{"\\ud800": 1, "\\ud800": 2}', r"“\?” stands twice"),
        ("[" * 100_000, "nested too deeply"),
        ("[[" + "9" * 5000 + ", 0], [1, 1]]", "a number is too long"),
    ],
)
def test_what_is_no_path_is_refused_with_its_reason(typed, reason):
    with pytest.raises(NotGeometry, match=reason):
        read_path(typed)


@pytest.mark.parametrize(
    ("typed", "reason"),
    [
        ("[]", "2 to 2,000 points"),
        ('{"type": "LineString"}', "must be a list of points"),
        ("[[1e999, 0], [1, 1]]", "longitude of point 1 .* not inf"),
        ('[["0", 0], [1, 1]]', "longitude of point 1 must be a number"),
    ],
)
def test_points_that_cannot_be_are_refused_by_their_number(typed, reason):
    with pytest.raises(NotAPath, match=reason):
        read_path(typed)


degrees = st.floats(-90, 90)


@given(st.lists(st.tuples(degrees, degrees), min_size=2, max_size=20))
def test_what_is_written_reads_back_the_same(points):
    try:
        path = checked_path(points)
    except NotAPath:
        assert len(points) >= 2
        return
    assert read_path(write_path(path)) == path


def test_each_position_stands_on_a_line_of_its_own():
    assert write_path(PATH).count("\n") == 3


def said(text):
    """What the reader makes of a text: its path, or its reason to refuse it."""
    try:
        return read_path(text)
    except (NotGeometry, NotAPath) as error:
        return str(error)


@given(st.recursive(st.none() | st.booleans() | st.text() | st.floats(), st.lists))
def test_any_json_at_all_is_taken_or_refused(value):
    assert said(json.dumps(value))


@pytest.mark.parametrize("text", ['{"a": {"b": ["c", 1]}}', "[1, 2.5, null, true]", '"é🍁"'])
def test_plain_json_is_read_as_the_standard_reader_reads_it(text):
    assert strict_json(text) == json.loads(text)

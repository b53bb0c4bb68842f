"""Sheets of lines: what is read, what is refused and why, and that a round trip changes nothing.

Comma-separated text follows RFC 4180 (Shafranovich, 2005); feet and inches are exact in NIST
SP 811 (2008), Appendix B.8.
"""

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.records import payload
from apps.records.payload import Fault, LineRow, NotASheet

HEAD = "woodlot,label,kind"
FULL = (
    "woodlot,pump house,label,kind,parent,planned taps 2026,length (ft),diameter (in.),"
    "fall (ft),walk (min),installed,drops installed"
)


def sheet(*rows, head=HEAD):
    return payload.read_lines("\n".join([head, *rows]))


def only_row(*rows, head=HEAD):
    read = sheet(*rows, head=head)
    assert read.faults == ()
    (row,) = read.rows.values()
    return row


def faults(*rows, head=HEAD):
    return list(sheet(*rows, head=head).faults)


def test_a_mainline_only_sheet_leaves_the_rest_unknown():
    assert only_row("North,M1,mainline") == LineRow("North", "M1", "main")


def test_a_full_row_is_read_into_si():
    row = only_row("North,Lower,L2,lateral,M1,7,100,0.3125,10,20,2019,2024", head=FULL)
    assert row.pump_house == "Lower"
    assert row.parent == "M1"
    assert row.planned_taps == 7
    assert row.length_m == pytest.approx(30.48, rel=1e-12)
    assert row.diameter_mm == pytest.approx(7.9375, rel=1e-12)
    assert row.fall_m == pytest.approx(3.048, rel=1e-12)
    assert row.walk_minutes == 20
    assert (row.installed_season, row.drops_installed_season) == (2019, 2024)


@pytest.mark.parametrize(
    ("head", "cell", "field", "si"),
    [
        ("length (ft)", "1000", "length_m", 304.8),
        ("length (m)", "1000", "length_m", 1000),
        ("Length (M)", "12.5", "length_m", 12.5),
        ("fall (ft)", "-3", "fall_m", -0.9144),
        ("fall (m)", "+3", "fall_m", 3),
        ("diameter (in.)", "1.25", "diameter_mm", 31.75),
        ("diameter (in)", ".75", "diameter_mm", 19.05),
        ("diameter (mm)", "25", "diameter_mm", 25),
        ("walk (min)", "1e1", "walk_minutes", 10),
    ],
)
def test_the_heading_states_the_unit(head, cell, field, si):
    row = only_row(f"North,M1,mainline,{cell}", head=f"{HEAD},{head}")
    assert getattr(row, field) == pytest.approx(si, rel=1e-12)


@pytest.mark.parametrize("mark", [",", ";", "\t"])
def test_any_common_mark_may_stand_between_cells(mark):
    rows = [["kind", "label", "woodlot"], ["mainline", "M1", "North"]]
    text = "\r\n".join(mark.join(cells) for cells in rows)
    (row,) = payload.read_lines(text).rows.values()
    assert row == LineRow("North", "M1", "main")


@pytest.mark.parametrize(
    "head",
    ["kind,woodlot,label", "  Kind , WOODLOT,Label  ", "\ufeffkind,woodlot,label"],
)
def test_headings_come_in_any_order_case_and_after_a_byte_order_mark(head):
    assert only_row("lateral,North,L1", head=head) == LineRow("North", "L1", "lateral")


@pytest.mark.parametrize(
    ("word", "code"),
    [
        ("wet conductor", "wet"),
        ("Dry Conductor", "dry"),
        ("MAINLINE", "main"),
        ("lateral", "lateral"),
        ("main", "main"),
        ("wet", "wet"),
    ],
)
def test_kinds_go_by_their_words_or_codes(word, code):
    assert only_row(f"North,M1,{word}").kind == code


def test_quoted_cells_may_hold_marks_and_quotes():
    row = only_row('"North, ""upper"" end",M1,mainline')
    assert row.woodlot == 'North, "upper" end'


@pytest.mark.parametrize("odd", ["\n", "\t", "\x01", "\x7f", "\x85", "\u2028", "\uffff"])
def test_what_cannot_be_written_on_a_tag_is_no_label(odd):
    (fault,) = faults(f'North,"M{odd}1",mainline')
    assert (fault.column, fault.row) == ("label", 2)
    assert "cannot be written on a tag" in fault.reason


def test_empty_cells_are_unknown_and_nought_is_nought():
    head = f"{HEAD},planned taps"
    read = sheet("North,M1,mainline,", "North,M2,mainline,0", head=head)
    assert [row.planned_taps for row in read.rows.values()] == [None, 0]


def test_rows_cut_short_and_blank_rows_are_forgiven():
    read = sheet("North,M1,mainline", "", " , , ", "North,M2,mainline,,", head=f"{HEAD},parent")
    assert list(read.rows) == [2, 5]


def test_columns_not_in_the_sheet_are_not_told_of():
    assert sheet("North,M1,main").told == {"woodlot", "label", "kind"}


@pytest.mark.parametrize(
    ("heading", "season"), [("planned taps 2027", 2027), ("Planned  Taps", None)]
)
def test_the_planned_taps_may_name_their_season(heading, season):
    assert sheet("North,M1,main,4", head=f"{HEAD},{heading}").season == season


@pytest.mark.parametrize(
    ("head", "cells", "reason"),
    [
        ("length (ft)", "long", "“long” is not a number"),
        ("length (ft)", "1_000", "“1_000” is not a number"),
        ("length (ft)", "nan", "“nan” is not a number"),
        ("length (ft)", "inf", "“inf” is not a number"),
        ("length (ft)", '"1,200"', "“1,200” is not a number"),
        ("length (ft)", "120 ft", "“120 ft” is not a number"),
        ("length (ft)", "0", "0 is not between"),
        ("length (ft)", "-4", "-4 is not between"),
        ("length (ft)", "1e999", "1e999 is not between"),
        ("diameter (in.)", "50", "50 is not between 0.0393701 and 39.3701"),
        ("fall (m)", "2000", "2000 is not between -1000 and 1000"),
        ("walk (min)", "0", "0 is not between 0.1 and 600"),
        ("planned taps", "12.5", "“12.5” is not a whole number"),
        ("planned taps", "-1", "“-1” is not a whole number"),
        ("planned taps", "20001", "20001 is not between 0 and 20000"),
        ("planned taps", "9" * 400, "is not between 0 and 20000"),
        ("planned taps", "١٢", "“١٢” is not a whole number"),
        ("installed", "19", "19 is not between 1900 and 2200"),
        ("drops installed", "2201", "2201 is not between 1900 and 2200"),
        ("pump house", "x" * 81, "is longer than 80 letters"),
        ("parent", "x" * 25, "is longer than 24 letters"),
    ],
)
def test_cells_that_cannot_be_believed_name_row_column_and_reason(head, cells, reason):
    (fault,) = faults(f"North,M1,mainline,{cells}", head=f"{HEAD},{head}")
    assert (fault.row, fault.column) == (2, head)
    assert reason in fault.reason


@pytest.mark.parametrize(
    ("row", "fault"),
    [
        (",M1,mainline", Fault(2, "woodlot", "is empty")),
        ("North,,mainline", Fault(2, "label", "is empty")),
        ("North,M1,", Fault(2, "kind", "is empty")),
        ("North,M1,mainline,what", Fault(2, "", "has more cells than there are headings")),
    ],
)
def test_rows_without_what_they_need_are_refused(row, fault):
    assert faults(row) == [fault]


def test_an_unknown_kind_says_which_kinds_there_are():
    (fault,) = faults("North,M1,pipe")
    assert fault.reason.endswith("wet conductor, dry conductor, mainline, lateral")


def test_a_cell_under_no_heading_is_refused_and_an_empty_column_is_not():
    assert faults("North,M1,main,stray", head=f"{HEAD},")[0].reason.startswith("“stray” stands")
    assert faults("North,M1,main,", head=f"{HEAD},") == []


def test_one_bad_row_hides_none_of_the_others():
    read = sheet("North,M1,pipe", "North,M2,mainline", "North,,pipe")
    assert [fault.row for fault in read.faults] == [2, 4, 4]
    assert list(read.rows) == [2, 3]


def test_a_bad_cell_is_left_unknown_and_the_rest_of_its_row_is_kept():
    read = sheet("North,L1,pipe,M1,many", head=f"{HEAD},parent,planned taps")
    assert [fault.column for fault in read.faults] == ["kind", "planned taps"]
    assert read.rows == {2: LineRow("North", "L1", "", parent="M1")}


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("", "must head a column “woodlot”"),
        ("label,kind", "must head a column “woodlot”"),
        ("woodlot,kind", "must head a column “label”"),
        ("woodlot,label", "must head a column “kind”"),
        (f"{HEAD},colour", "no column “colour”"),
        (f"{HEAD},length", "must state its unit: “length (ft)” or “length (m)”"),
        (f"{HEAD},length (yd)", "must state its unit"),
        (f"{HEAD},diameter (ft)", "must state its unit: “diameter (in.)” or “diameter (mm)”"),
        (f"{HEAD},length (ft),length (m)", "say the same: “length (ft)” and “length (m)”"),
        (f"{HEAD},planned taps 1700", "1700 is not between 1900 and 2200"),
        (f"{HEAD},planned taps 2025,planned taps 2026", "say the same"),
        (f'{HEAD}\nNorth,"M1,mainline', "cannot be read"),
        (f"{HEAD}\n{'x' * 200_000},M1,mainline", "cannot be read"),
    ],
)
def test_a_sheet_that_cannot_be_understood_is_refused_whole(text, reason):
    with pytest.raises(NotASheet) as refusal:
        payload.read_lines(text)
    assert reason in str(refusal.value)


@pytest.mark.parametrize("data", [b"\xff\xfew\x00o\x00", "Érable".encode("latin-1"), b"PK\0\0"])
def test_bytes_that_are_not_utf8_text_are_refused(data):
    with pytest.raises(NotASheet, match="CSV UTF-8"):
        payload.decode(data)


@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_a_byte_order_mark_makes_no_difference(mark):
    assert payload.decode(mark + "Érable".encode()) == "Érable"


@pytest.mark.parametrize(
    "text", ["=1+1", "+M1", "-M1", "@M1", "'=1", "''=x", "'plain", "'", "plain", "M-1"]
)
def test_no_text_runs_as_a_formula_in_a_spreadsheet_and_all_come_back(text):
    written = payload.write_lines([LineRow(text, text, "main")], 2026, "us")
    cells = next(csv.reader(io.StringIO(written.split("\r\n")[1])))
    assert not cells[0].startswith(("=", "+", "-", "@"))
    (row,) = payload.read_lines(written).rows.values()
    assert (row.woodlot, row.label) == (text, text)


@pytest.mark.parametrize(
    ("unit_system", "units"),
    [
        ("us", "length (ft),diameter (in.),fall (ft)"),
        ("metric", "length (m),diameter (mm),fall (m)"),
    ],
)
def test_headings_written_name_the_operations_units_and_the_season(unit_system, units):
    written = payload.write_lines([], 2026, unit_system)
    assert written == (
        f"woodlot,pump house,label,kind,parent,planned taps 2026,{units},"
        "walk (min),installed,drops installed,geometry,woodlot latitude,woodlot longitude,"
        f"woodlot elevation ({'ft' if unit_system == 'us' else 'm'})\r\n"
    )


def test_what_was_typed_in_feet_is_written_in_the_same_feet():
    row = only_row("North,M1,mainline,123.4", head=f"{HEAD},length (ft)")
    assert ",123.4," in payload.write_lines([row], 2026, "us")


def optional(strategy):
    return st.none() | strategy


def measured(low, high):
    return optional(st.floats(low, high).map(lambda value: float(f"{value:.6g}")))


words = st.text(
    st.characters(
        exclude_categories=("Cs", "Cc", "Zs", "Zl", "Zp"), exclude_characters="\ufffe\uffff"
    ),
    min_size=1,
    max_size=24,
)
seasons = optional(st.integers(1900, 2200))
lines = st.builds(
    LineRow,
    woodlot=words,
    label=words,
    kind=st.sampled_from(sorted(payload.KIND_WORDS)),
    pump_house=optional(words),
    parent=optional(words),
    planned_taps=optional(st.integers(0, 20_000)),
    length_m=measured(0.02, 49_000),
    fall_m=measured(-900, 900),
    diameter_mm=measured(2, 900),
    walk_minutes=measured(0.2, 500),
    installed_season=seasons,
    drops_installed_season=seasons,
)


@given(st.lists(lines, max_size=8), st.sampled_from(["us", "metric"]))
def test_a_sheet_written_read_and_written_again_is_the_same_sheet(rows, unit_system):
    written = payload.write_lines(rows, 2026, unit_system)
    read = payload.read_lines(written)
    assert read.faults == ()
    assert len(read.rows) == len(rows)
    assert payload.write_lines(read.rows.values(), 2026, unit_system) == written


@given(st.lists(lines, min_size=1, max_size=4), st.sampled_from(["us", "metric"]))
def test_every_field_survives_the_round_trip(rows, unit_system):
    read = payload.read_lines(payload.write_lines(rows, 2026, unit_system))
    for before, after in zip(rows, read.rows.values(), strict=True):
        for field in payload.FIELDS:
            kept = getattr(before, field)
            assert getattr(after, field) == (
                pytest.approx(kept, rel=1e-9) if isinstance(kept, float) else kept
            )


@given(st.text())
def test_no_text_at_all_breaks_the_reader(text):
    try:
        read = payload.read_lines(f"{HEAD}\n{text}")
    except NotASheet:
        return
    assert all(fault.row >= 2 and fault.reason for fault in read.faults)

"""What a preview says of each change, in words and in the operation's units."""

import pytest

from apps.records import queries
from apps.records.plan import Effect
from tests.factories import woods

pytestmark = pytest.mark.django_db


@pytest.fixture
def north():
    return woods.woodlot("North")


def shown(head, *rows, unit_system="us", season=2026):
    text = "\n".join([f"woodlot,label,kind,{head}", *rows])
    return queries.preview(queries.plan_lines(text, season), unit_system)


def said(head, cell, unit_system="us", kind="mainline"):
    (row,) = shown(head, f"North,M1,{kind},{cell}", unit_system=unit_system)["rows"]
    return row.changes


@pytest.mark.parametrize(
    ("head", "cell", "us", "metric"),
    [
        ("length (ft)", "1000", "length 1,000 ft", "length 305 m"),
        ("length (m)", "100", "length 328 ft", "length 100 m"),
        ("fall (ft)", "-3", "fall -3 ft", "fall -1 m"),
        ("diameter (in.)", "1.25", "diameter 1.2500 in.", "diameter 31.8 mm"),
        ("walk (min)", "12", "walk 12 min", "walk 12 min"),
        ("planned taps", "1200", "planned taps 1200", "planned taps 1200"),
        ("installed", "2019", "installed 2019", "installed 2019"),
        ("drops installed", "2024", "drops installed 2024", "drops installed 2024"),
    ],
)
def test_a_new_line_says_what_it_sets_in_the_operations_units(north, head, cell, us, metric):
    assert said(head, cell)[1:] == (us,)
    assert said(head, cell, "metric")[1:] == (metric,)


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        ("mainline", "kind mainline"),
        ("wet conductor", "kind wet conductor"),
        ("dry", "kind dry conductor"),
        ("LATERAL", "kind lateral"),
    ],
)
def test_kinds_are_said_as_people_say_them(north, kind, words):
    assert said("parent", "", kind=kind) == (words,)


@pytest.mark.parametrize(
    ("head", "before", "cell", "words"),
    [
        ("planned taps", {}, "4", "planned taps unknown → 4"),
        ("planned taps", {"planned_taps": 4}, "", "planned taps 4 → unknown"),
        ("planned taps", {"planned_taps": 4}, "0", "planned taps 4 → 0"),
        ("length (ft)", {"length_m": 30.48}, "120", "length 100 ft → 120 ft"),
        ("length (ft)", {"length_m": 30.48}, "", "length 100 ft → unknown"),
        ("installed", {"installed_season": 2019}, "2020", "installed 2019 → 2020"),
        ("walk (min)", {"walk_minutes": 5.0}, "6", "walk 5 min → 6 min"),
    ],
)
def test_a_changed_line_says_before_and_after(north, head, before, cell, words):
    woods.line(north, "M1", **before)
    assert said(head, cell) == (words,)


def test_an_empty_place_is_none_and_not_unknown(north):
    house = woods.pump_house(north, "Lower")
    woods.line(north, "M1", pump_house=house, parent=woods.line(north, "M2"))
    assert said("pump house,parent", ",") == ("pump house Lower → none", "parent M2 → none")
    assert said("pump house,parent", "Lower,") == ("parent M2 → none",)


def test_a_kind_that_changes_is_said_in_words(north):
    woods.line(north, "M1", kind="lateral")
    assert said("parent", "") == ("kind lateral → mainline",)


def test_lines_that_stay_the_same_are_counted_and_not_listed(north):
    woods.line(north, "M1", planned_taps=4)
    page = shown("planned taps", "North,M1,main,4", "North,M2,main,5")
    assert page["counts"] == [("new", 1), ("changed", 0), ("same", 1)]
    assert [(row.row, row.line.label, row.effect) for row in page["rows"]] == [(3, "M2", "new")]
    assert not page["nothing_to_do"]


def test_a_sheet_with_a_fault_shows_the_fault_and_no_change(north):
    page = shown("planned taps", "North,M1,main,4", "North,M2,main,many")
    assert (page["rows"], page["rows_more"]) == ([], 0)
    assert [fault.row for fault in page["faults"]] == [3]


@pytest.mark.parametrize(("extra", "listed", "more"), [(0, 200, 0), (1, 200, 1), (50, 200, 50)])
def test_a_long_preview_lists_two_hundred_and_says_how_many_more(north, extra, listed, more):
    page = shown("parent", *(f"North,L{n},lateral," for n in range(200 + extra)))
    assert (len(page["rows"]), page["rows_more"]) == (listed, more)
    assert page["plan"].count(Effect.NEW) == 200 + extra


@pytest.mark.parametrize(
    ("head", "season", "counted"),
    [("planned taps", 2026, 2026), ("planned taps 2024", 2026, 2024), ("parent", 2025, 2025)],
)
def test_the_season_of_the_counts_is_that_of_the_heading_or_the_one_at_hand(
    north, head, season, counted
):
    assert shown(head, "North,M1,main,", season=season)["plan"].season == counted


def test_lines_on_record_are_those_of_the_season_asked_for(north):
    woods.line(north, "M1", planned_taps=4, season=2025)
    assert [row.planned_taps for row in queries.line_rows(2025)] == [4]
    assert [row.planned_taps for row in queries.line_rows(2026)] == [None]


def test_lines_on_record_come_by_woodlot_and_then_as_people_count():
    for name, labels in [("South", ["L2"]), ("North", ["L10", "L9", "l9"])]:
        lot = woods.woodlot(name)
        for label in labels:
            woods.line(lot, label)
    rows = [(row.woodlot, row.label) for row in queries.line_rows(2026)]
    assert rows == [("North", "L9"), ("North", "l9"), ("North", "L10"), ("South", "L2")]


def test_a_woodlot_without_lines_or_pump_houses_is_known_all_the_same(north):
    woods.pump_house(woods.woodlot("South"), "Upper")
    known = queries.known_lines(2026)
    assert known.pump_houses == {"North": frozenset(), "South": frozenset({"Upper"})}
    assert known.lines == {}

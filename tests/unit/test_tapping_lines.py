"""What a line's or a woodlot's season says, from its numbers alone."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.tapping.models import CrewPlan
from apps.tapping.queries import LineProgress, WoodlotProgress, find_lines, season_to_tap
from apps.woods.models import Line, Woodlot


def a_line(planned=None, taps_set=0, *, finished=False, kind="lateral", branches=False, label="L1"):
    line = Line(label=label, kind=kind, woodlot=Woodlot(pk=1, name="North"))
    return LineProgress(line, planned, taps_set, finished, branches)


@pytest.mark.parametrize(
    ("planned", "taps_set", "finished", "left", "over", "under", "state"),
    [
        (None, 0, False, None, 0, 0, "not begun"),
        (None, 5, False, None, 0, 0, "under way"),
        (None, 0, True, 0, 0, 0, "done"),
        (None, 5, True, 0, 0, 0, "done"),
        (0, 0, False, 0, 0, 0, "done"),
        (0, 1, False, 0, 1, 0, "done"),
        (10, 0, False, 10, 0, 0, "not begun"),
        (10, 1, False, 9, 0, 0, "under way"),
        (10, 9, False, 1, 0, 0, "under way"),
        (10, 10, False, 0, 0, 0, "done"),
        (10, 11, False, 0, 1, 0, "done"),
        (10, 0, True, 0, 0, 10, "done"),
        (10, 9, True, 0, 0, 1, "done"),
        (10, 10, True, 0, 0, 0, "done"),
        (10, 12, True, 0, 2, 0, "done"),
    ],
)
def test_a_line_says_what_is_left_over_and_under(
    planned, taps_set, finished, left, over, under, state
):
    row = a_line(planned, taps_set, finished=finished)
    assert (row.taps_left, row.over_plan, row.under_plan, row.state) == (left, over, under, state)


@given(st.none() | st.integers(0, 500), st.integers(0, 600), st.booleans())
def test_plan_and_count_always_balance(planned, taps_set, finished):
    row = a_line(planned, taps_set, finished=finished)
    if planned is None:
        assert (row.over_plan, row.under_plan) == (0, 0)
    else:
        unset = row.under_plan if finished else row.taps_left
        assert planned == taps_set + unset - row.over_plan


@pytest.mark.parametrize(
    ("kind", "branches", "told", "bears"),
    [
        ("lateral", False, {}, True),
        ("main", False, {}, True),
        ("main", True, {}, False),
        ("lateral", True, {}, False),
        ("wet", False, {}, False),
        ("dry", False, {}, False),
        ("wet", False, {"planned": 0}, True),
        ("dry", True, {"planned": 4}, True),
        ("wet", False, {"taps_set": 1}, True),
        ("main", True, {"finished": True}, True),
    ],
)
def test_taps_are_expected_where_lines_end_or_somebody_says_so(kind, branches, told, bears):
    assert a_line(kind=kind, branches=branches, **told).bears_taps is bears


def a_woodlot(**fields):
    given = {
        "woodlot": Woodlot(name="North"),
        "lines": 3,
        "lines_done": 1,
        "lines_planned": 2,
        "planned_taps": 20,
        "taps_set": 0,
        "taps_left": 20,
        "observed_taps_per_pair_hour": None,
    }
    return WoodlotProgress(**given | fields)


@pytest.mark.parametrize(("taps_set", "begun"), [(0, False), (1, True), (20, True)])
def test_a_woodlot_is_begun_with_its_first_tap(taps_set, begun):
    assert a_woodlot(taps_set=taps_set).begun is begun


@pytest.mark.parametrize(("planned", "unplanned"), [(0, 3), (2, 1), (3, 0)])
def test_lines_without_a_plan_are_those_that_have_none(planned, unplanned):
    assert a_woodlot(lines_planned=planned).lines_unplanned == unplanned


LINES = [
    a_line(10, 10, label="L1"),
    a_line(10, 3, label="L12"),
    a_line(None, 0, label="M1"),
    a_line(10, 0, finished=True, label="l2"),
]


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ({}, ["L12", "M1"]),
        ({"everything": True}, ["L1", "L12", "M1", "l2"]),
        ({"label": "l1"}, ["L12"]),
        ({"label": " L1 ", "everything": True}, ["L1", "L12"]),
        ({"label": "L2", "everything": True}, ["l2"]),
        ({"label": "1", "everything": True}, ["L1", "L12", "M1"]),
        ({"label": "z"}, []),
        ({"woodlot": Woodlot(pk=1)}, ["L12", "M1"]),
        ({"woodlot": Woodlot(pk=2), "everything": True}, []),
    ],
)
def test_lines_are_found_by_part_of_their_label_in_their_woodlot(asked, found):
    assert [row.line.label for row in find_lines(LINES, **asked)] == found


@given(st.dates(date(1990, 1, 1), date(2100, 12, 31)))
def test_the_season_to_tap_is_the_next_spring_not_over_yet(day):
    season = season_to_tap(day)
    assert date(season - 1, 6, 1) <= day <= date(season, 5, 31)


@pytest.mark.parametrize(
    ("rest_day", "weekdays"), [("none", set()), ("saturday", {5}), ("sunday", {6})]
)
def test_the_day_of_rest_is_that_weekday_and_no_other(rest_day, weekdays):
    # Saturday 21 and Sunday 22 February 2026.
    assert CrewPlan(rest_day=rest_day).rest_weekdays == weekdays
    assert {date(2026, 2, 16 + day).weekday() for day in weekdays} == weekdays


@pytest.mark.parametrize(("pairs", "hours", "a_day"), [(1, 6.5, 6.5), (3, 5, 15), (2, 0.5, 1)])
def test_pair_hours_a_day_are_pairs_times_hours(pairs, hours, a_day):
    assert CrewPlan(pairs=pairs, hours_per_day=hours).pair_hours_per_day == a_day

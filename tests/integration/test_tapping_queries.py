"""What is tapped and what is left, summed from the tallies."""

from datetime import date

import pytest
from django.test.utils import CaptureQueriesContext

from apps.operation.queries import constants
from apps.tapping import queries
from apps.woods.models import TapCount
from tests.factories import operation as people
from tests.factories import tapping, woods
from tests.factories.operation import FIXED_NOW

pytestmark = pytest.mark.django_db


@pytest.fixture
def hollow(db):
    return woods.woodlot("Tamarack Hollow")


@pytest.fixture
def sol(db):
    return people.crew()


def only(season=2026):
    (row,) = queries.progress(season)
    return row


def test_taps_are_summed_by_line_and_by_woodlot(hollow, sol):
    one, two = woods.line(hollow, "1"), woods.line(hollow, "2")
    for line, taps in [(one, 100), (one, 25), (two, 40)]:
        tapping.tally(line, sol, taps)
    assert queries.taps_set_by_line(2026) == {one.id: 125, two.id: 40}
    assert queries.taps_set_by_woodlot(2026) == {hollow.id: 165}


def test_a_voided_tally_counts_nowhere(hollow, sol):
    line = woods.line(hollow)
    tapping.tally(line, sol, 100)
    tapping.tally(line, sol, 1000, voided_at=FIXED_NOW, voided_by=sol)
    assert queries.taps_set_by_line(2026) == {line.id: 100}
    assert queries.taps_set_by_woodlot(2026) == {hollow.id: 100}


def test_another_season_counts_nowhere(hollow, sol):
    tapping.tally(woods.line(hollow), sol, 100, season=2025)
    assert queries.taps_set_by_woodlot(2026) == {}


def test_a_line_or_woodlot_nobody_counted_is_absent_and_not_nought(hollow, sol):
    tapping.tally(woods.line(hollow), sol, 0, drops_renewed=12)
    assert queries.taps_set_by_line(2026) == {}
    assert queries.taps_set_by_woodlot(2026) == {}


def test_a_line_finished_without_a_tap_is_counted_as_nought(hollow, sol):
    line = woods.line(hollow)
    tapping.tally(line, sol, 0, finishes_line=True)
    assert queries.taps_set_by_line(2026) == {line.id: 0}


@pytest.mark.parametrize(
    ("planned", "tallies", "left"),
    [
        (100, [], 100),
        (100, [60], 40),
        (100, [60, 40], 0),
        (100, [130], 0),
        (None, [], None),
        (None, [60], None),
    ],
)
def test_taps_left_on_a_line(hollow, sol, planned, tallies, left):
    line = woods.line(hollow, planned_taps=planned)
    for taps in tallies:
        tapping.tally(line, sol, taps)
    assert only().taps_left == left


def test_a_finished_line_has_nothing_left_whatever_was_planned(hollow, sol):
    tapping.tally(woods.line(hollow, planned_taps=100), sol, 93, finishes_line=True)
    assert (only().taps_left, only().lines_done, only().taps_set) == (0, 1, 93)


def test_one_line_over_its_plan_leaves_the_others_as_they_are(hollow, sol):
    tapping.tally(woods.line(hollow, "1", planned_taps=100), sol, 150)
    woods.line(hollow, "2", planned_taps=80)
    assert (only().planned_taps, only().taps_set, only().taps_left) == (180, 150, 80)


def test_lines_without_a_plan_are_said_and_never_filled_with_noughts(hollow):
    woods.line(hollow, "1", planned_taps=100)
    woods.line(hollow, "2")
    row = only()
    assert (row.planned_taps, row.lines_planned, row.lines_unplanned) == (100, 1, 1)


@pytest.mark.parametrize("kind", ["wet", "dry"])
def test_conductors_bear_no_taps_until_somebody_says_so(hollow, kind):
    conductor = woods.line(hollow, "W", kind=kind)
    assert queries.line_progress(2026) == []
    TapCount.objects.create(line=conductor, season=2026, planned_taps=12)
    assert [row.taps_left for row in queries.line_progress(2026)] == [12]


def test_the_taps_of_a_line_that_branches_hang_on_its_branches(hollow, sol):
    main = woods.line(hollow, "M1")
    woods.line(hollow, "M1-1", kind="lateral", parent=main)
    assert [row.line.label for row in queries.line_progress(2026)] == ["M1-1"]
    tapping.tally(main, sol, 9)
    assert [row.line.label for row in queries.line_progress(2026)] == ["M1", "M1-1"]


def test_a_farm_of_mainlines_alone_is_listed_whole(hollow):
    for label in ("M1", "M2"):
        woods.line(hollow, label)
    assert only().lines_unplanned == 2


def test_lines_come_in_counting_order(hollow):
    for label in ("L10", "L2", "L1"):
        woods.line(hollow, label)
    assert [row.line.label for row in queries.line_progress(2026)] == ["L1", "L2", "L10"]


@pytest.mark.parametrize("fields", [{}, {"finishes_line": True}])
def test_one_line_alone_says_the_same_as_in_the_list(hollow, sol, fields):
    line = woods.line(hollow, planned_taps=100)
    tapping.tally(line, sol, 60, **fields)
    tapping.tally(line, sol, 7, voided_at=FIXED_NOW, voided_by=sol)
    assert [queries.one_line_progress(2026, line)] == queries.line_progress(2026)


def test_a_woodlot_without_lines_knows_nothing(hollow):
    row = only()
    assert (row.lines, row.planned_taps, row.taps_left, row.begun) == (0, None, None, False)


def test_the_observed_pace_uses_only_tallies_with_hours(hollow, sol):
    line = woods.line(hollow, planned_taps=500)
    tapping.tally(line, sol, 90, pair_hours=1)
    tapping.tally(line, sol, 150, pair_hours=2)
    tapping.tally(line, sol, 77)
    assert only().observed_taps_per_pair_hour == pytest.approx(80.0)


def test_the_newest_snow_seen_this_season_stands(hollow):
    tapping.snow_depth(hollow, 0.5, seen_on=date(2026, 2, 9))
    tapping.snow_depth(hollow, 0.2, seen_on=date(2026, 2, 1))
    tapping.snow_depth(hollow, 0.9, seen_on=date(2025, 2, 10), season=2025)
    assert queries.snow_by_woodlot(2026)[hollow.id].depth_m == 0.5


def test_a_season_without_a_date_of_its_own_takes_the_earliest_of_its_woodlots(hollow):
    ridge = woods.woodlot("Beech Ridge")
    tapping.first_run(date(2024, 3, 9))
    for lot, days in [(hollow, (date(2024, 3, 4), date(2025, 3, 6))), (ridge, (date(2025, 3, 2),))]:
        for day in days:
            tapping.first_run(day, woodlot=lot)
    runs = queries.operation_first_runs(2026)
    assert {season: row.date for season, row in runs.items()} == {
        2024: date(2024, 3, 9),
        2025: date(2025, 3, 2),
    }
    assert (runs[2024].woodlot, runs[2025].woodlot) == (None, ridge)


def test_the_season_at_hand_is_no_part_of_its_own_history(hollow):
    tapping.first_run(date(2026, 3, 1))
    tapping.first_run(date(2026, 3, 3), woodlot=hollow)
    assert queries.operation_first_runs(2026) == {}
    assert queries.woodlot_first_runs(2026) == {}


def test_woodlots_keep_their_own_first_runs(hollow):
    tapping.first_run(date(2024, 3, 9))
    tapping.first_run(date(2025, 3, 6), woodlot=hollow)
    assert queries.woodlot_first_runs(2026) == {hollow.id: {2025: date(2025, 3, 6)}}


@pytest.mark.parametrize(
    ("day", "season"),
    [
        (date(2025, 5, 31), 2025),
        (date(2025, 6, 1), 2026),
        (date(2025, 11, 30), 2026),
        (date(2025, 12, 1), 2026),
        (date(2026, 2, 9), 2026),
    ],
)
def test_from_june_tapping_is_for_the_season_to_come(day, season):
    assert queries.season_to_tap(day) == season


def test_the_crew_plan_stands_at_its_defaults_until_saved(db):
    plan = queries.crew_plan(2026, constants())
    assert (plan.pk, plan.pairs, plan.hours_per_day, plan.lost_days) == (None, 2, 6, 2)
    assert (plan.rest_weekdays, plan.accept_missing) == (frozenset({6}), 2)


def test_a_saved_crew_plan_goes_before_the_defaults(db):
    tapping.crew_plan(pairs=3, hours_per_day=5, rest_day="none")
    plan = queries.crew_plan(2026, constants())
    assert (plan.pair_hours_per_day, plan.rest_weekdays) == (15, frozenset())


def test_pair_hours_a_day_are_averaged_over_the_days_with_hours(hollow, sol):
    line = woods.line(hollow)
    assert queries.observed_pair_hours_per_day(2026) is None
    for day, hours in [(9, 5.0), (9, 4.0), (10, 6.0), (11, None)]:
        tapping.tally(line, sol, 50, tallied_on=date(2026, 2, day), pair_hours=hours)
    # (5 + 4) on the 9th, 6 on the 10th, nothing known of the 11th: 15 / 2.
    assert queries.observed_pair_hours_per_day(2026) == pytest.approx(7.5)


def test_progress_takes_as_many_queries_for_a_thousand_lines_as_for_ten(hollow, sol):
    from django.db import connection

    counts = []
    for size in (10, 1000):
        for number in range(hollow.lines.count(), size):
            woods.line(hollow, str(number), planned_taps=50)
        with CaptureQueriesContext(
            connection,
        ) as captured:
            queries.progress(2026)
        counts.append(len(captured))
    assert counts[0] == counts[1]

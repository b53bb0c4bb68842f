"""What is written about tapping, and what is refused."""

from datetime import date, timedelta
from uuid import uuid4

import pytest

from apps.tapping import actions
from apps.tapping.models import CrewPlan, FirstRun, SnowDepth, TapPull, TapTally
from tests.factories import operation as people
from tests.factories import tapping, woods
from tests.factories.operation import FIXED_NOW

pytestmark = pytest.mark.django_db
LATER = FIXED_NOW + timedelta(hours=1)


@pytest.fixture
def line(db):
    return woods.line(woods.woodlot(), "L7")


@pytest.fixture
def sol(db):
    return people.crew()


def record(line, crew, **fields) -> TapTally:
    defaults = {"uuid": uuid4(), "tallied_on": date(2026, 2, 20), "now": FIXED_NOW, "taps_set": 10}
    return actions.record_tally(line=line, crew=crew, **defaults | fields)


def plan(**fields) -> CrewPlan:
    defaults = {
        "season": 2026,
        "pairs": 2,
        "hours_per_day": 6.0,
        "lost_days": 2,
        "rest_day": "sunday",
        "accept_missing": 2,
        "ready_morning": None,
    }
    return actions.save_crew_plan(**defaults | fields)


@pytest.mark.parametrize(
    ("day", "season"),
    [(date(2026, 2, 20), 2026), (date(2025, 11, 20), 2026), (date(2026, 6, 2), 2027)],
)
def test_a_tally_belongs_to_the_season_its_day_is_for(line, sol, day, season):
    assert record(line, sol, tallied_on=day).season == season


def test_a_tally_sent_again_changes_nothing_and_gives_the_first_one_back(line, sol):
    same = uuid4()
    first = record(line, sol, uuid=same, taps_set=10)
    again = record(line, people.crew("wren"), uuid=same, taps_set=99, now=LATER)
    assert again == first
    row = TapTally.objects.get()
    assert (row.taps_set, row.crew, row.received_at) == (10, sol, FIXED_NOW)


def test_a_tally_keeps_its_time_of_arrival_and_stands(line, sol):
    row = record(line, sol)
    assert (row.received_at, row.voided_at, row.voided_by) == (FIXED_NOW, None, None)
    assert list(TapTally.objects.standing()) == [row]


def test_a_voided_tally_is_kept_with_who_and_when(line, sol):
    row = record(line, sol)
    actions.void_tally(tally=row, by=sol, now=LATER)
    row.refresh_from_db()
    assert (row.voided_by, row.voided_at, row.taps_set) == (sol, LATER, 10)
    assert not TapTally.objects.standing().exists()


def test_voiding_twice_keeps_the_first_time(line, sol):
    row = record(line, sol)
    for now in (FIXED_NOW, LATER):
        actions.void_tally(tally=row, by=sol, now=now)
    row.refresh_from_db()
    assert row.voided_at == FIXED_NOW


def test_another_of_the_crew_may_not_take_a_tally_back(line, sol):
    row = record(line, sol)
    with pytest.raises(actions.TallyRefused, match="Only Sol or an owner"):
        actions.void_tally(tally=row, by=people.crew("wren"), now=LATER)
    assert TapTally.objects.standing().exists()


def test_a_voided_press_can_be_sent_again_only_under_a_new_identifier(line, sol):
    same = uuid4()
    actions.void_tally(tally=record(line, sol, uuid=same), by=sol, now=LATER)
    record(line, sol, uuid=same)
    assert not TapTally.objects.standing().exists()
    record(line, sol)
    assert TapTally.objects.standing().count() == 1


@pytest.mark.parametrize(
    ("day", "season"),
    [(date(2025, 12, 1), 2026), (date(2026, 5, 31), 2026), (date(2025, 1, 3), 2025)],
)
def test_a_first_run_belongs_to_the_season_of_its_spring(db, day, season):
    assert actions.record_first_run(date=day).season == season


def test_the_same_first_run_again_is_the_same_row(db):
    rows = {actions.record_first_run(date=date(2025, 3, 8)).pk for _ in range(2)}
    assert len(rows) == FirstRun.objects.count() == 1


@pytest.mark.parametrize(
    ("own", "words"), [(False, "for the whole operation"), (True, "for Tamarack Hollow")]
)
def test_a_second_date_for_a_season_names_the_first(line, own, words):
    woodlot = line.woodlot if own else None
    actions.record_first_run(date=date(2025, 3, 8), woodlot=woodlot)
    with pytest.raises(actions.FirstRunRefused, match=f"8 March 2025 on record {words}"):
        actions.record_first_run(date=date(2025, 3, 9), woodlot=woodlot)


def test_a_removed_first_run_makes_room_for_the_right_one(db):
    actions.remove_first_run(first_run=actions.record_first_run(date=date(2025, 3, 8)))
    assert actions.record_first_run(date=date(2025, 3, 9)).date == date(2025, 3, 9)


def test_the_crew_plan_of_a_season_is_one_row_changed_in_place(db):
    first, second = plan(), plan(pairs=3, ready_morning=date(2026, 2, 24))
    assert first.pk == second.pk
    row = CrewPlan.objects.get()
    assert (row.pairs, row.ready_morning) == (3, date(2026, 2, 24))


def test_seasons_keep_their_own_crew_plans(db):
    plan(season=2025, pairs=1)
    plan(pairs=3)
    assert dict(CrewPlan.objects.values_list("season", "pairs")) == {2025: 1, 2026: 3}


def test_snow_of_several_woodlots_is_recorded_for_one_day(line):
    ridge = woods.woodlot("Beech Ridge")
    depths = {line.woodlot.pk: 0.2, ridge.pk: 0.6}
    actions.record_snow(depths_m=depths, seen_on=date(2025, 12, 3))
    rows = SnowDepth.objects.values_list("woodlot_id", "season", "depth_m")
    assert sorted(rows) == sorted((pk, 2026, depth) for pk, depth in depths.items())


def test_snow_of_another_day_stands_beside_the_first(line):
    for day in (1, 2):
        actions.record_snow(depths_m={line.woodlot.pk: day / 10}, seen_on=date(2026, 2, day))
    assert SnowDepth.objects.count() == 2


@pytest.mark.parametrize(
    ("rest_day", "weekdays"), [("none", set()), ("saturday", {5}), ("sunday", {6})]
)
def test_the_day_of_rest_as_weekdays_counted_from_monday(db, rest_day, weekdays):
    assert plan(rest_day=rest_day).rest_weekdays == weekdays


def test_every_row_names_itself(line, sol):
    assert [str(row) for row in (tapping.tally(line, sol, 12), plan())] == [
        "L7 on 2026-02-20: 12 taps",
        "Crew plan 2026",
    ]
    assert str(tapping.snow_depth(line.woodlot)) == "Tamarack Hollow on 2026-02-01: 0.2 m"
    assert str(tapping.first_run(date(2025, 3, 8))) == "Whole operation, 2025: 2025-03-08"


def pull(line, crew, **fields) -> TapPull:
    defaults = {"uuid": uuid4(), "pulled_on": date(2026, 4, 20), "received_at": FIXED_NOW}
    return actions.record_pull(line=line, crew=crew, **defaults | {"taps_pulled": 40} | fields)


@pytest.mark.parametrize(
    ("day", "season"),
    [
        (date(2026, 4, 20), 2026),
        (date(2026, 8, 3), 2026),
        (date(2026, 12, 24), 2026),
        (date(2027, 1, 2), 2027),
    ],
)
def test_pulled_taps_belong_to_the_calendar_year(line, sol, day, season):
    assert pull(line, sol, pulled_on=day).season == season


def test_pulled_taps_sent_again_change_nothing(line, sol):
    first = pull(line, sol, note="three stuck")
    again = pull(line, people.crew("wren"), uuid=first.uuid, taps_pulled=99, received_at=LATER)
    assert again == first
    row = TapPull.objects.get()
    assert (row.taps_pulled, row.crew, row.received_at) == (40, sol, FIXED_NOW)
    assert (row.note, row.finishes_line) == ("three stuck", False)


@pytest.mark.parametrize(("role", "allowed"), [("crew", False), ("owner", True)])
def test_pulled_taps_are_taken_back_by_who_counted_them_or_an_owner(line, sol, role, allowed):
    row = pull(line, sol)
    other = people.crew("wren", role=role)
    if allowed:
        actions.void_pull(pull=row, by=other, at=LATER)
    else:
        with pytest.raises(actions.TallyRefused, match="Only Sol or an owner"):
            actions.void_pull(pull=row, by=other, at=LATER)
    assert TapPull.objects.standing().exists() is not allowed


def test_pulled_taps_taken_back_twice_keep_the_first_who_and_when(line, sol):
    row = pull(line, sol)
    for by, at in ((sol, FIXED_NOW), (people.owner(), LATER)):
        actions.void_pull(pull=row, by=by, at=at)
    row.refresh_from_db()
    assert (row.voided_by, row.voided_at, row.taps_pulled) == (sol, FIXED_NOW, 40)
    assert pull(line, sol, uuid=row.uuid).voided_at == FIXED_NOW

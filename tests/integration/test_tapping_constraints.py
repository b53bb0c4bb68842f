"""What the database itself refuses about tapping."""

from datetime import date
from uuid import UUID

import pytest
from django.db import IntegrityError

from tests.factories import operation as people
from tests.factories import tapping, woods
from tests.factories.operation import FIXED_NOW

pytestmark = pytest.mark.django_db


@pytest.fixture
def line(db):
    return woods.line(woods.woodlot())


@pytest.fixture
def sol(db):
    return people.crew()


@pytest.mark.parametrize(
    ("name", "fields"),
    [
        ("season", {"season": 1899}),
        ("season", {"season": 2201}),
        ("taps", {"taps_set": -1}),
        ("taps", {"taps_set": 20001}),
        ("drops", {"drops_renewed": -1}),
        ("drops", {"drops_renewed": 20001}),
        ("hours", {"pair_hours": 0}),
        ("hours", {"pair_hours": 24.5}),
        ("says nothing", {"taps_set": 0}),
        ("voided by nobody", {"voided_at": FIXED_NOW}),
    ],
)
def test_a_tally_that_cannot_be_is_refused(line, sol, name, fields):
    with pytest.raises(IntegrityError):
        tapping.tally(line, sol, **fields)


def test_a_tally_voided_by_somebody_at_no_time_is_refused(line, sol):
    with pytest.raises(IntegrityError):
        tapping.tally(line, sol, voided_by=sol)


@pytest.mark.parametrize(
    "fields",
    [
        {"season": 1899},
        {"season": 2201},
        {"taps_pulled": -1},
        {"taps_pulled": 20001},
        {"taps_pulled": 0},
        {"voided_at": FIXED_NOW},
    ],
)
def test_a_count_of_pulled_taps_that_cannot_be_is_refused(line, sol, fields):
    with pytest.raises(IntegrityError):
        tapping.pull(line, sol, **fields)


@pytest.mark.parametrize(
    "fields",
    [{"taps_pulled": 0, "finishes_line": True}, {"taps_pulled": 20000}, {"season": 2200}],
)
def test_a_count_of_pulled_taps_at_its_limits_is_kept(line, sol, fields):
    assert tapping.pull(line, sol, **fields).pk


def test_the_same_pulled_taps_sent_twice_are_refused(line, sol):
    first = tapping.pull(line, sol)
    with pytest.raises(IntegrityError):
        tapping.pull(line, sol, uuid=first.uuid)


def test_the_same_tally_sent_twice_is_refused(line, sol):
    same = UUID("5b1f6f0e-6f44-4c51-9a55-2f5d7d0d3c11")
    tapping.tally(line, sol, uuid=same)
    with pytest.raises(IntegrityError):
        tapping.tally(line, sol, uuid=same)


@pytest.mark.parametrize(
    "fields",
    [
        {"season": 1899},
        {"season": 2201},
        {"pairs": 0},
        {"pairs": 21},
        {"hours_per_day": 0.4},
        {"hours_per_day": 16.5},
        {"lost_days": -1},
        {"lost_days": 31},
        {"rest_day": "monday"},
        {"accept_missing": -1},
        {"accept_missing": 10},
    ],
)
def test_a_crew_plan_that_cannot_be_is_refused(db, fields):
    with pytest.raises(IntegrityError):
        tapping.crew_plan(**fields)


def test_a_season_has_one_crew_plan(db):
    tapping.crew_plan()
    with pytest.raises(IntegrityError):
        tapping.crew_plan()


@pytest.mark.parametrize(
    "fields", [{"depth_m": -0.01}, {"depth_m": 5.01}, {"season": 1899}, {"season": 2201}]
)
def test_a_snow_depth_that_cannot_be_is_refused(line, fields):
    with pytest.raises(IntegrityError):
        tapping.snow_depth(line.woodlot, **fields)


def test_snow_is_seen_once_a_day_in_a_woodlot(line):
    tapping.snow_depth(line.woodlot)
    with pytest.raises(IntegrityError):
        tapping.snow_depth(line.woodlot, 0.5)


@pytest.mark.parametrize("season", [1899, 2201])
def test_a_first_run_outside_all_seasons_is_refused(db, season):
    with pytest.raises(IntegrityError):
        tapping.first_run(date(2026, 3, 1), season=season)


@pytest.mark.parametrize("whose", ["operation", "woodlot"])
def test_a_season_has_one_first_run(line, whose):
    woodlot = line.woodlot if whose == "woodlot" else None
    tapping.first_run(date(2026, 3, 1), woodlot=woodlot)
    with pytest.raises(IntegrityError):
        tapping.first_run(date(2026, 3, 2), woodlot=woodlot)


def test_the_operation_and_a_woodlot_each_have_their_own_first_run(line):
    tapping.first_run(date(2026, 3, 1))
    tapping.first_run(date(2026, 3, 5), woodlot=line.woodlot)
    assert line.woodlot.first_runs.count() == 1

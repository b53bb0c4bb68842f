"""A check taken back is gone from every list, and the one before it counts again."""

import pytest

from apps.leaks import actions, queries
from apps.operation.queries import constants
from tests.factories import leaks, woods
from tests.factories import operation as people

pytestmark = pytest.mark.django_db


@pytest.fixture
def line():
    return leaks.a_line("L7", planned_taps=50)


def void(check):
    actions.void_check(check=check, by=check.crew, at=people.FIXED_NOW)


def standing():
    (row,) = queries.ranked_lines(season=2026, now=people.FIXED_NOW, constants=constants())
    return row


def test_found_tight_is_told_by_the_first_such_look_however_late_it_came(line):
    leaks.check(line, "leak_left", hours=9)
    leaks.check(line, "tight", hours=2)
    leaks.check(line, "tight", hours=6)
    assert queries.open_leaks().get().tight_since == leaks.hours_ago(6)


def test_a_tight_look_taken_back_is_no_hint_that_a_leak_was_mended(line):
    leaks.check(line, "leak_left", hours=9)
    first, second = (leaks.check(line, "tight", hours=hours) for hours in (6, 2))
    void(first)
    assert queries.open_leaks().get().tight_since == leaks.hours_ago(2)
    void(second)
    assert queries.open_leaks().get().tight_since is None


def test_a_tight_look_at_the_very_moment_of_the_leak_is_no_later_one(line):
    leaks.check(line, "leak_left", hours=9)
    leaks.check(line, "tight", hours=9)
    assert queries.open_leaks().get().tight_since is None


def test_a_frozen_look_taken_back_leaves_the_line_as_it_was_seen_before(line):
    before = leaks.check(line, "tight", hours=9, vacuum_before_kpa=60.0)
    frozen = leaks.check(line, "frozen", hours=2)
    assert (standing().group, standing().latest) == ("frozen", frozen)
    void(frozen)
    assert (standing().group, standing().latest) == ("ranked", before)


def test_a_reading_taken_back_gives_the_one_before_its_place(line):
    leaks.check(line, hours=9, vacuum_before_kpa=60.0)
    slip = leaks.check(line, hours=2, vacuum_before_kpa=6.0)
    assert standing().reading_kpa == 6.0
    void(slip)
    assert (standing().reading_kpa, standing().reading_at) == (60.0, leaks.hours_ago(9))


def test_an_unmeasured_fix_taken_back_gives_the_reading_its_worth_again(line):
    leaks.check(line, hours=9, vacuum_before_kpa=60.0)
    fix = leaks.check(line, "leak_fixed", hours=2)
    assert standing().group == "no_reading"
    void(fix)
    assert standing().group == "ranked"


@pytest.mark.parametrize("left", [0, 1, 2])
def test_open_leaks_are_counted_with_their_line(line, left):
    for hours in range(1, left + 1):
        leaks.check(line, "leak_left", hours=hours)
    assert standing().open_leaks == left
    leaks.check(line, "leak_fixed", hours=0)
    assert standing().open_leaks == 0


def test_a_line_without_a_pump_house_stands_under_its_woodlots_sky(line):
    assert standing().pump_house is None
    house = woods.pump_house(line.woodlot, elevation_m=2000)
    assert standing().pump_house is None, "a pump house it does not drain to"
    line.pump_house = house
    line.save(update_fields=["pump_house"])
    assert standing().pump_house == house


def test_woodlots_to_choose_from_come_by_name(line):
    for name in ("Beech Hill", "Ash Swale"):
        woods.woodlot(name)
    assert [lot.name for lot in queries.woodlots()] == [
        "Ash Swale",
        "Beech Hill",
        "Tamarack Hollow",
    ]

"""Recording checks, taking them back, and what becomes of the leaks."""

from itertools import permutations
from uuid import uuid4

import pytest

from apps.leaks import actions, queries
from apps.leaks.models import GaugeReading, Leak, LeakCheck
from tests.factories import leaks, woods
from tests.factories import operation as people

pytestmark = pytest.mark.django_db


@pytest.fixture
def line():
    return leaks.a_line("7")


def open_on(line):
    return [leak.opened_by for leak in queries.open_leaks().filter(line=line)]


def test_a_leak_left_opens_a_leak_with_its_cause_and_time(line):
    check = leaks.check(line, "leak_left", cause="chew")
    leak = Leak.objects.get()
    assert (leak.opened_by, leak.cause, leak.opened_at) == (check, "chew", check.observed_at)


def test_the_same_uuid_sent_again_is_one_check_and_one_leak(line):
    first = leaks.check(line, "leak_left")
    again = leaks.check(line, "leak_left", uuid=first.uuid)
    assert again == first
    assert (LeakCheck.objects.count(), Leak.objects.count()) == (1, 1)


def test_a_resent_check_says_it_is_not_new(line):
    given = {"uuid": uuid4(), "line": line, "state": "tight", "crew": leaks.somebody()}
    given |= {"observed_at": leaks.hours_ago(1), "received_at": leaks.hours_ago(0)}
    assert actions.record_check(**given).is_new
    assert not actions.record_check(**given).is_new


@pytest.mark.parametrize(("label", "state"), [("7", "tight"), ("8", "leak_left")])
def test_another_check_under_a_used_uuid_is_refused_and_not_swallowed(line, label, state):
    first = leaks.check(line, "leak_left")
    other = line if label == "7" else leaks.a_line(label)
    with pytest.raises(actions.SentBefore) as refusal:
        leaks.check(other, state, uuid=first.uuid)
    assert refusal.value.record == first
    assert LeakCheck.objects.count() == 1


def test_a_fix_closes_the_open_leak(line):
    leaks.check(line, "leak_left", hours=5)
    fix = leaks.check(line, "leak_fixed", hours=2)
    leak = Leak.objects.get()
    assert (leak.closed_by, leak.closed_at) == (fix, fix.observed_at)


@pytest.mark.parametrize("state", ["tight", "frozen"])
def test_a_line_found_tight_or_frozen_leaves_its_leak_open(line, state):
    left = leaks.check(line, "leak_left", hours=5)
    leaks.check(line, state, hours=2)
    assert open_on(line) == [left]


def test_a_fix_leaves_the_leaks_of_other_lines_alone(line):
    other = leaks.a_line("8")
    left = leaks.check(other, "leak_left", hours=5)
    leaks.check(line, "leak_fixed", hours=2)
    assert open_on(other) == [left]


def test_a_fix_with_a_place_leaves_a_leak_elsewhere_open(line):
    leaks.check(line, "leak_left", hours=6, place_drops=3)
    far = leaks.check(line, "leak_left", hours=5, place_drops=40)
    leaks.check(line, "leak_fixed", hours=2, place_drops=3)
    assert open_on(line) == [far]


@pytest.mark.parametrize("order", list(permutations(range(3))))
def test_the_order_of_arrival_changes_nothing(line, order):
    seen = [("leak_left", 9), ("leak_fixed", 6), ("leak_left", 3)]
    for nth in order:
        state, hours = seen[nth]
        leaks.check(line, state, hours=hours)
    assert [check.observed_at for check in open_on(line)] == [leaks.hours_ago(3)]
    assert Leak.objects.count() == 2


def void(check, by=None):
    actions.void_check(check=check, by=by or check.crew, at=people.FIXED_NOW)


def test_taking_back_a_leak_left_leaves_no_open_leak_but_keeps_both_rows(line):
    check = leaks.check(line, "leak_left")
    void(check)
    assert open_on(line) == []
    assert (LeakCheck.objects.count(), Leak.objects.count()) == (1, 1)


def test_taking_back_a_fix_opens_its_leaks_again(line):
    left = leaks.check(line, "leak_left", hours=5)
    void(leaks.check(line, "leak_fixed", hours=2))
    assert open_on(line) == [left]
    assert Leak.objects.get().closed_at is None


def test_taking_back_one_of_two_fixes_leaves_the_leak_closed_by_the_other(line):
    leaks.check(line, "leak_left", hours=5)
    first = leaks.check(line, "leak_fixed", hours=3)
    second = leaks.check(line, "leak_fixed", hours=2)
    void(first)
    assert Leak.objects.get().closed_by == second


def test_taking_back_says_who_and_when_and_twice_is_once(line):
    check = leaks.check(line)
    void(check)
    actions.void_check(check=check, by=people.owner("wren"), at=leaks.hours_ago(-1))
    check.refresh_from_db()
    assert (check.voided, check.voided_by, check.voided_at) == (True, check.crew, people.FIXED_NOW)


def test_a_check_sent_again_after_it_was_taken_back_stays_taken_back(line):
    check = leaks.check(line, "leak_left")
    void(check)
    assert leaks.check(line, "leak_left", uuid=check.uuid).voided
    assert open_on(line) == []


def test_another_crew_member_cannot_take_a_check_back(line):
    check = leaks.check(line)
    with pytest.raises(actions.NotYours):
        void(check, by=people.crew("sol"))
    assert LeakCheck.objects.standing().count() == 1


def test_an_owner_can_take_any_check_back(line):
    check = leaks.check(line)
    void(check, by=people.owner())
    assert LeakCheck.objects.standing().count() == 0


def test_the_reading_after_a_fix_is_filled_in_once(line):
    check = leaks.check(line, "leak_fixed", vacuum_before_kpa=60.0)
    actions.add_reading_after(check=check, vacuum_after_kpa=80.0)
    with pytest.raises(actions.ReadingAlreadySet):
        actions.add_reading_after(check=check, vacuum_after_kpa=10.0)
    check.refresh_from_db()
    assert (check.vacuum_before_kpa, check.vacuum_after_kpa) == (60.0, 80.0)


def test_a_voided_check_takes_no_reading(line):
    check = leaks.check(line, "leak_fixed")
    void(check)
    with pytest.raises(actions.ReadingAlreadySet):
        actions.add_reading_after(check=check, vacuum_after_kpa=80.0)


def gauge(house, vacuum_kpa, **fields):
    given = {"uuid": uuid4(), "pump_house": house, "read_at": leaks.hours_ago(1)}
    return actions.record_gauge_reading(vacuum_kpa=vacuum_kpa, **given | fields)


def test_a_gauge_reading_sent_twice_is_one_row():
    house = woods.pump_house(woods.woodlot())
    assert gauge(house, 80.0) == gauge(house, 80.0)


def test_a_different_gauge_reading_at_the_same_moment_is_refused_by_name():
    house = woods.pump_house(woods.woodlot())
    first = gauge(house, 80.0)
    with pytest.raises(actions.AnotherReading) as refusal:
        gauge(house, 81.0)
    assert refusal.value.reading == first
    assert GaugeReading.objects.get().vacuum_kpa == 80.0


@pytest.mark.parametrize("minute", [0, 30])
def test_a_gauge_reading_taken_back_and_sent_again_is_not_written_anew(crew, minute):
    house, uuid = woods.pump_house(woods.woodlot()), uuid4()
    first = gauge(house, 80.0, uuid=uuid, crew=crew)
    actions.void_gauge_reading(reading=first, by=crew, at=leaks.hours_ago(0))
    # The corrected time of a resend may differ a little; the identifier does not.
    again = gauge(house, 80.0, uuid=uuid, read_at=leaks.hours_ago(1 + minute / 60))
    assert again == first
    assert not GaugeReading.objects.standing().exists()


def test_another_gauge_reading_under_a_used_uuid_is_refused():
    house, uuid = woods.pump_house(woods.woodlot()), uuid4()
    first = gauge(house, 80.0, uuid=uuid)
    other = woods.pump_house(house.woodlot, "Upper")
    for where, kpa in ((house, 81.0), (other, 80.0)):
        with pytest.raises(actions.SentBefore) as refusal:
            gauge(where, kpa, uuid=uuid)
        assert refusal.value.record == first
    assert GaugeReading.objects.count() == 1

"""Checks that come late, twice, or between two others, and checks taken back in between."""

from uuid import UUID

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from apps.leaks import actions, queries
from apps.leaks.closing import Seen, closers
from apps.leaks.models import Leak, LeakCheck
from tests.factories import leaks
from tests.factories import operation as people

quick = settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])
states = st.sampled_from(["tight", "leak_fixed", "leak_left", "frozen"])
# Each check at an hour of its own, so that "later" never depends on which record came first.
told = st.lists(
    st.tuples(st.integers(1, 40), states, st.none() | st.integers(0, 2)),
    max_size=8,
    unique_by=lambda check: check[0],
)


def send(line, hours, state, place):
    """The identifier follows from the hour: the same check again is the same check."""
    uuid = UUID(int=line.pk * 1000 + hours)
    return leaks.check(line, state, hours=hours, place_drops=place, uuid=uuid)


def found(line):
    """Each leak by the hour it was left: the hour of the fix, or None while it is open."""
    rows = Leak.objects.standing().filter(line=line)
    return {ago(leak.opened_at): leak.closed_at and ago(leak.closed_at) for leak in rows}


def ago(moment):
    return round((people.FIXED_NOW - moment).total_seconds() / 3600)


def replayed(checks):
    """The same told from nothing, in the order it was seen."""
    in_order = sorted(checks, reverse=True)
    return closers(Seen(hours, state, place) for hours, state, place in in_order)


class Late(TestCase):
    """Any story of one line, each in a transaction of its own."""

    @quick
    @given(told, st.randoms(use_true_random=False))
    def test_any_order_of_arrival_tells_the_story_in_the_order_it_was_seen(self, checks, chance):
        line = leaks.a_line()
        arriving = list(checks)
        chance.shuffle(arriving)
        for check in arriving:
            send(line, *check)
        assert found(line) == replayed(checks)

    @quick
    @given(told, st.lists(st.integers(0, 7), max_size=6))
    def test_checks_sent_again_change_nothing(self, checks, again):
        line = leaks.a_line()
        for check in checks:
            send(line, *check)
        for nth in again:
            if nth < len(checks):
                send(line, *checks[nth])
        assert found(line) == replayed(checks)
        assert LeakCheck.objects.count() == len(checks)

    @quick
    @given(told, st.sets(st.integers(0, 7)), st.booleans())
    def test_a_check_taken_back_is_as_if_never_made_whenever_that_happens(
        self, checks, back, at_once
    ):
        line = leaks.a_line()
        taken_back = []
        for nth, check in enumerate(checks):
            row = send(line, *check)
            if nth in back:
                taken_back.append(row)
            for each in taken_back if at_once else ():
                void(each)
        for each in taken_back:
            void(each)
        assert found(line) == replayed([c for n, c in enumerate(checks) if n not in back])

    @quick
    @given(told, told)
    def test_two_lines_know_nothing_of_each_other(self, here, there):
        first, second = leaks.a_line("1"), leaks.a_line("2")
        for check in here:
            send(first, *check)
        for check in there:
            send(second, *check)
        assert (found(first), found(second)) == (replayed(here), replayed(there))

    @quick
    @given(told)
    def test_the_list_of_open_leaks_is_oldest_first_and_counts_by_line(self, checks):
        line = leaks.a_line()
        for check in checks:
            send(line, *check)
        still_open = sorted(
            (h for h, closed in replayed(checks).items() if not closed), reverse=True
        )
        assert [ago(leak.opened_at) for leak in queries.open_leaks()] == still_open
        counted = {line.pk: len(still_open)} if still_open else {}
        assert queries.open_leaks_by_line() == counted

    @quick
    @given(told)
    def test_the_last_walk_is_the_newest_verdict(self, checks):
        line = leaks.a_line()
        for check in checks:
            send(line, *check)
        verdicts = [hours for hours, state, _ in checks if state != "frozen"]
        walked = queries.last_walked_by_line().get(line.pk)
        assert (walked and ago(walked)) == (min(verdicts) if verdicts else None)


def void(check):
    actions.void_check(check=check, by=check.crew, at=people.FIXED_NOW)


@pytest.fixture
def line(db):
    return leaks.a_line("7")


def test_a_fix_that_comes_late_does_not_close_what_was_left_after_it(line):
    send(line, 2, "leak_left", None)
    send(line, 5, "leak_fixed", None)
    assert found(line) == {2: None}


def test_a_leak_that_comes_late_is_closed_by_the_fix_that_came_first(line):
    send(line, 2, "leak_fixed", None)
    send(line, 5, "leak_left", None)
    assert found(line) == {5: 2}


def test_an_earlier_fix_that_comes_late_takes_the_leak_from_the_later_one(line):
    send(line, 9, "leak_left", 3)
    send(line, 1, "leak_fixed", 3)
    assert found(line) == {9: 1}
    send(line, 4, "leak_fixed", None)
    assert found(line) == {9: 4}


def test_taking_back_the_leak_between_two_fixes_leaves_each_what_it_closed(line):
    send(line, 9, "leak_left", 1)
    send(line, 7, "leak_fixed", 1)
    between = send(line, 5, "leak_left", 1)
    send(line, 3, "leak_fixed", 1)
    void(between)
    assert found(line) == {9: 7}


def test_of_two_at_the_very_same_moment_the_later_record_is_the_later(line):
    leaks.check(line, "leak_left", hours=3)
    leaks.check(line, "leak_fixed", hours=3)
    leaks.check(line, "leak_left", hours=3)
    assert list(found(line).values()) == [None]
    assert Leak.objects.filter(closed_by__isnull=False).count() == 1


def test_a_refused_second_check_leaves_the_leaks_as_they_were(line):
    first = send(line, 5, "leak_left", None)
    with pytest.raises(actions.SentBefore, match="Already recorded as 7: Leak left"):
        leaks.check(line, "leak_fixed", hours=2, uuid=first.uuid)
    assert found(line) == {5: None}


def test_a_cause_is_kept_with_its_leak_when_a_fix_names_another(line):
    leaks.check(line, "leak_left", hours=5, cause="chew")
    leaks.check(line, "leak_fixed", hours=2, cause="limb")
    leak = Leak.objects.get()
    assert (leak.cause, leak.closed_by.cause) == ("chew", "limb")

"""However checks arrive and are taken back, the leaks say what the standing checks say."""

from concurrent.futures import ThreadPoolExecutor
from uuid import uuid4

import pytest
from django.db import connection
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from apps.leaks import actions, queries
from apps.leaks.models import Leak, LeakCheck
from tests.factories import leaks
from tests.factories import operation as people

checks = st.lists(
    st.tuples(
        st.sampled_from(["tight", "leak_fixed", "leak_left", "frozen"]),
        st.none() | st.integers(0, 2),
        st.integers(1, 9),  # hours ago, so that they arrive out of order and at once
        st.booleans(),  # taken back in the end
    ),
    max_size=8,
)


def open_by_hand(line):
    """The rule once more, leak by leak: open unless a later fix may have meant it."""
    told = list(LeakCheck.objects.standing().filter(line=line).order_by("observed_at", "id"))
    return {
        check.pk
        for nth, check in enumerate(told)
        if check.state == "leak_left" and not any(meant(fix, check) for fix in told[nth + 1 :])
    }


def meant(fix, check):
    places = {fix.place_drops, check.place_drops}
    return fix.state == "leak_fixed" and (None in places or len(places) == 1)


class Story(TestCase):
    """Any story at all."""

    @settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
    @given(checks)
    def test_open_leaks_are_those_no_standing_fix_can_have_meant(self, story):
        line = leaks.a_line()
        made = []
        for state, place, hours, taken_back in story:
            check = leaks.check(line, state, hours=hours, place_drops=place)
            made.append((check, taken_back))
        for check, taken_back in made:
            if taken_back:
                actions.void_check(check=check, by=check.crew, at=people.FIXED_NOW)
        assert {leak.opened_by_id for leak in queries.open_leaks()} == open_by_hand(line)
        assert LeakCheck.objects.count() == len(story)
        assert Leak.objects.count() == sum(state == "leak_left" for state, *_ in story)


def in_thread(work):
    try:
        return work()
    finally:
        connection.close()


@pytest.mark.django_db(transaction=True)
def test_one_check_sent_from_eight_threads_at_once_is_one_row():
    line, crew, uuid = leaks.a_line(), leaks.somebody(), uuid4()

    def send():
        return leaks.check(line, "leak_left", uuid=uuid, crew=crew).pk

    with ThreadPoolExecutor(8) as threads:
        keys = {done.result() for done in [threads.submit(in_thread, send) for _ in range(8)]}
    assert len(keys) == 1
    assert (LeakCheck.objects.count(), Leak.objects.count()) == (1, 1)


@pytest.mark.django_db(transaction=True)
def test_fixes_and_leaks_logged_at_once_settle_as_if_one_after_the_other():
    line, crew = leaks.a_line(), leaks.somebody()

    def log(hours):
        return leaks.check(line, "leak_fixed" if hours % 2 else "leak_left", hours=hours, crew=crew)

    with ThreadPoolExecutor(8) as threads:
        for done in [threads.submit(in_thread, lambda h=h: log(h)) for h in range(8)]:
            done.result()
    # Left 6, 4, 2 and 0 hours ago; each fix closes those before it, so the newest stays open.
    assert [leak.opened_at for leak in queries.open_leaks()] == [leaks.hours_ago(0)]
    assert Leak.objects.filter(closed_by__isnull=False).count() == 3

"""Whatever order records arrive in, the later look by the right clock has the last word."""

from datetime import timedelta
from itertools import permutations
from uuid import UUID

import pytest

from apps.leaks import queries
from apps.leaks.models import LeakCheck
from apps.operation.queries import constants
from tests.factories import leaks
from tests.factories import operation as people

pytestmark = pytest.mark.django_db
# Three looks of one morning, oldest first, by the corrected time.
STORY = [(6, "leak_left", 70.0), (4, "frozen", None), (2, "leak_fixed", 84.0)]


@pytest.fixture
def line(db):
    people.operation()
    return leaks.a_line("L7", planned_taps=50)


def send(line, hours, state, kpa, **fields):
    """All of them received now: when it came says nothing of when it was seen."""
    uuid = UUID(int=hours)
    reading = {"vacuum_before_kpa": kpa} if state != "leak_fixed" else {"vacuum_after_kpa": kpa}
    received = {"received_at": people.FIXED_NOW}
    return leaks.check(line, state, hours=hours, uuid=uuid, **reading | received | fields)


def standing_of(line):
    rows = queries.ranked_lines(season=2026, now=people.FIXED_NOW, constants=constants())
    return next(row for row in rows if row.line == line)


@pytest.mark.parametrize("order", list(permutations(range(3))))
def test_last_state_walk_and_reading_follow_what_was_seen_not_what_came(line, order):
    for nth in order:
        send(line, *STORY[nth])
    row = standing_of(line)
    assert row.latest.state == "leak_fixed"
    assert row.walked_at == leaks.hours_ago(2)
    assert row.reading_kpa == 84.0
    assert row.open_leaks == 0


@pytest.mark.parametrize("order", list(permutations(range(2))))
def test_a_frozen_look_is_the_last_state_and_never_the_last_walk(line, order):
    for nth in order:
        send(line, *STORY[nth])
    row = standing_of(line)
    assert row.latest.state == "frozen"
    assert row.walked_at == leaks.hours_ago(6)
    assert row.reading_kpa == 70.0


def test_both_rows_are_kept_when_an_earlier_look_comes_late(line):
    send(line, *STORY[2])
    late = send(line, *STORY[0])
    assert LeakCheck.objects.standing().count() == 2
    assert late.observed_at < late.received_at


@pytest.mark.parametrize("states", list(permutations(["tight", "leak_left", "frozen"], 2)))
def test_of_two_looks_at_one_moment_the_later_record_is_the_later(line, states):
    rows = [leaks.check(line, state, hours=3) for state in states]
    row = standing_of(line)
    assert row.latest == rows[1]
    assert row.walked_at == leaks.hours_ago(3)
    assert row.open_leaks == states.count("leak_left")


def test_of_two_readings_at_one_moment_the_later_record_ranks_the_line(line):
    for kpa in (60.0, 75.0):
        leaks.check(line, hours=3, vacuum_before_kpa=kpa)
    assert standing_of(line).reading_kpa == 75.0


def test_a_microsecond_decides(line):
    seen_at = leaks.hours_ago(3)
    leaks.check(line, "tight", observed_at=seen_at + timedelta(microseconds=1))
    leaks.check(line, "leak_left", observed_at=seen_at)
    assert standing_of(line).latest.state == "tight"


def test_the_last_word_taken_back_gives_it_to_the_one_before(line):
    send(line, *STORY[0])
    last = send(line, *STORY[2])
    LeakCheck.objects.filter(pk=last.pk).update(voided=True)
    row = standing_of(line)
    assert (row.latest.state, row.reading_kpa) == ("leak_left", 70.0)

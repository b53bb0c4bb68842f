"""Days since a line was walked, and the taps behind a line."""

from datetime import UTC, date, datetime
from uuid import uuid4
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone

from apps.leaks import actions, queries
from apps.operation.queries import constants
from apps.tapping.models import TapTally
from tests.factories import leaks
from tests.factories import operation as people

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def local_zone():
    with timezone.override(ZoneInfo("America/New_York")):
        yield


def standing(label="A"):
    rows = queries.ranked_lines(season=2026, now=people.FIXED_NOW, constants=constants())
    return next(row for row in rows if row.line.label == label)


# Now is 07:00 on 16 March in New York, 11:00 UTC.
@pytest.mark.parametrize(
    ("seen_at", "days"),
    [
        (datetime(2026, 3, 16, 10, 0, tzinfo=UTC), 0),
        (datetime(2026, 3, 16, 4, 0, tzinfo=UTC), 0),  # midnight there
        (datetime(2026, 3, 16, 3, 59, tzinfo=UTC), 1),  # 23:59 the evening before
        (datetime(2026, 3, 1, 17, 0, tzinfo=UTC), 15),  # across the change of clocks
    ],
)
def test_days_since_walked_are_local_days(seen_at, days):
    leaks.check(leaks.a_line("A"), observed_at=seen_at)
    assert standing().days_since_walked == days


def test_a_line_never_walked_has_no_number_of_days():
    leaks.a_line("A")
    assert standing().days_since_walked is None


def test_a_frozen_look_does_not_count_as_walked():
    line = leaks.a_line("A")
    leaks.check(line, "tight", hours=50)
    leaks.check(line, "frozen", hours=1)
    assert queries.last_walked_by_line() == {line.pk: leaks.hours_ago(50)}


def test_a_check_taken_back_does_not_count_as_walked():
    line = leaks.a_line("A")
    check = leaks.check(line)
    actions.void_check(check=check, by=check.crew, at=people.FIXED_NOW)
    assert queries.last_walked_by_line() == {}


def tally(line, taps):
    return TapTally.objects.create(
        uuid=uuid4(),
        line=line,
        season=2026,
        tallied_on=date(2026, 2, 20),
        taps_set=taps,
        crew=leaks.somebody(),
        received_at=people.FIXED_NOW,
    )


def test_taps_set_go_before_taps_planned():
    tally(leaks.a_line("A", planned_taps=400), 380)
    assert (standing().taps.taps, standing().taps.source) == (380, "set")


def test_planned_taps_are_named_as_planned():
    leaks.a_line("A", planned_taps=400)
    assert (standing().taps.taps, standing().taps.source) == (400, "planned")


def test_taps_unknown_stay_unknown():
    leaks.a_line("A")
    assert (standing().taps.known, standing().taps.source) == (False, "unknown")


def test_a_line_carries_the_taps_of_all_that_runs_into_it():
    main = leaks.a_line("A", kind="main")
    tally(leaks.a_line("A1", kind="lateral", parent=main, planned_taps=10), 9)
    second = leaks.a_line("A2", kind="lateral", parent=main, planned_taps=6)
    leaks.a_line("A2x", kind="lateral", parent=second)
    taps = standing("A").taps
    assert taps.taps == 15
    assert taps.source == "1 line set, 1 line planned, 2 lines unknown"


def test_an_open_leak_says_since_when_its_line_was_found_tight():
    line = leaks.a_line("A")
    leaks.check(line, "tight", hours=9)
    leaks.check(line, "leak_left", hours=7)
    leaks.check(line, "tight", hours=5)
    leaks.check(line, "tight", hours=2)
    assert queries.open_leaks().get().tight_since == leaks.hours_ago(5)


def test_open_leaks_survive_the_season_oldest_first():
    new = leaks.check(leaks.a_line("A"), "leak_left", hours=3)
    old = leaks.check(leaks.a_line("B"), "leak_left", observed_at=datetime(2025, 4, 2, tzinfo=UTC))
    assert [leak.opened_by for leak in queries.open_leaks()] == [old, new]

"""Two people on one line the same day: both rows side by side, on the pages and in the board."""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from apps.leaks import actions
from apps.leaks.queries import same_day_differences
from tests.factories import leaks, woods
from tests.factories import operation as people

pytestmark = pytest.mark.django_db
TODAY = date(2026, 3, 16)
LINES = reverse("leaks:lines")


@pytest.fixture
def sol(db):
    people.operation()
    return people.crew("sol")


@pytest.fixture
def wren(db):
    return people.crew("wren")


@pytest.fixture(autouse=True)
def at_home():
    """As every page has it: the operation's own zone."""
    with timezone.override(ZoneInfo("America/New_York")):
        yield


def told(day=TODAY):
    return [
        (row.line.label, [(check.crew.username, check.state) for check in row.checks])
        for row in same_day_differences(day)
    ]


def text_of(response):
    return " ".join(response.content.decode().split())


def test_one_person_however_often_is_no_difference(sol):
    line = leaks.a_line("L7")
    for state in ("leak_left", "leak_fixed"):
        leaks.check(line, state, crew=sol)
    assert told() == []


def test_two_people_are_shown_in_the_order_they_looked(sol, wren):
    line = leaks.a_line("L7")
    leaks.check(line, "tight", crew=wren, hours=1)
    leaks.check(line, "leak_left", crew=sol, hours=3)
    assert told() == [("L7", [("sol", "leak_left"), ("wren", "tight")])]


@pytest.mark.parametrize(("second", "agree"), [("tight", True), ("frozen", False)])
def test_it_says_whether_they_agree(sol, wren, second, agree):
    line = leaks.a_line("L7")
    leaks.check(line, "tight", crew=sol)
    leaks.check(line, second, crew=wren)
    (row,) = same_day_differences(TODAY)
    assert row.agree is agree


def test_a_check_taken_back_meets_nobody(sol, wren):
    line = leaks.a_line("L7")
    leaks.check(line, crew=sol)
    slip = leaks.check(line, "frozen", crew=wren)
    actions.void_check(check=slip, by=wren, at=people.FIXED_NOW)
    assert told() == []


@pytest.mark.parametrize(
    ("first", "second", "day"),
    [
        # 23:30 and 00:30 at home are two days, though one day in UTC.
        (datetime(2026, 3, 16, 3, 30, tzinfo=UTC), datetime(2026, 3, 16, 4, 30, tzinfo=UTC), None),
        # 00:10 and 23:50 at home are one day, though two in UTC.
        (datetime(2026, 3, 16, 4, 10, tzinfo=UTC), datetime(2026, 3, 17, 3, 50, tzinfo=UTC), TODAY),
        # The night of the change: 8 March has 23 hours, from 05:00 to 04:00 UTC.
        (
            datetime(2026, 3, 8, 5, 0, tzinfo=UTC),
            datetime(2026, 3, 9, 3, 59, tzinfo=UTC),
            date(2026, 3, 8),
        ),
    ],
)
def test_the_day_is_the_operations_own(sol, wren, first, second, day):
    line = leaks.a_line("L7")
    for crew, seen_at in ((sol, first), (wren, second)):
        leaks.check(line, crew=crew, observed_at=seen_at)
    days = [date(2026, 3, each) for each in range(7, 19)]
    assert [each for each in days if told(each)] == ([day] if day else [])


def test_lines_stand_by_woodlot_and_label_as_people_count(sol, wren):
    north, south = woods.woodlot("North"), woods.woodlot("South")
    for lot, label in ((south, "1"), (north, "10"), (north, "2")):
        line = woods.line(lot, label)
        for crew in (sol, wren):
            leaks.check(line, crew=crew)
    assert [label for label, _ in told()] == ["2", "10", "1"]


def test_it_is_one_question_however_many_lines(sol, wren):
    for label in range(12):
        line = leaks.a_line(f"L{label}")
        for crew in (sol, wren):
            leaks.check(line, crew=crew)
    with CaptureQueriesContext(connection) as asked:
        assert len(told()) == 12
    assert len(asked) == 1


def test_the_page_of_lines_shows_both_with_who_and_when(crew_client, crew, wren):
    line = leaks.a_line("L7")
    leaks.check(line, "leak_left", crew=crew, hours=2)
    leaks.check(line, "tight", crew=wren, hours=1)
    text = text_of(crew_client.get(LINES))
    assert "<strong>Leak left</strong>, Sol at 05:00" in text
    assert "<strong>Tight</strong>, Wren at 06:00" in text
    assert "not the same" in text


def test_the_board_names_the_line_and_leads_there(crew_client, crew, wren):
    for label, second in (("L7", wren), ("L8", crew)):
        line = leaks.a_line(label)
        for each in (crew, second):
            leaks.check(line, crew=each)
    text = text_of(crew_client.get(reverse("today:board")))
    assert f'L7 Tamarack Hollow: <a href="{LINES}#same-day">who saw what</a>' in text
    assert "L8 Tamarack Hollow:" not in text


def test_nothing_is_said_where_nobody_met(crew_client, crew):
    leaks.check(leaks.a_line("L7"), crew=crew)
    assert "Two people, one line" not in text_of(crew_client.get(LINES))
    assert "by two people today" not in text_of(crew_client.get(reverse("today:board")))

"""The board at its edges: near midnight, between seasons, in metric units, and half-known."""

from datetime import UTC, datetime
from uuid import uuid4

import pytest
from django.urls import reverse

from apps.domain.units import kpa_from_inhg
from apps.sugarhouse.models import Dip, Tank
from tests.factories import leaks, tapping, woods
from tests.factories import operation as people

pytestmark = pytest.mark.django_db
BOARD = reverse("today:board")


@pytest.fixture
def at(monkeypatch):
    """Move the app's clock to another moment, given in UTC."""
    return lambda *when: monkeypatch.setattr(people, "FIXED_NOW", datetime(*when, tzinfo=UTC))


def board(client):
    return client.get(BOARD).context["board"]


def shown(client):
    return " ".join(client.get(BOARD).content.decode().split())


# New York: four hours behind UTC from 8 March 2026, 02:00, five before and in winter.
@pytest.mark.parametrize(
    ("utc", "day"),
    [
        ((2026, 3, 17, 3, 59), "Monday 16 March"),
        ((2026, 3, 17, 4, 0), "Tuesday 17 March"),
        ((2026, 1, 1, 4, 59), "Wednesday 31 December"),
        ((2026, 3, 8, 4, 59), "Saturday 7 March"),
        ((2026, 3, 9, 4, 0), "Monday 9 March"),
    ],
)
def test_the_day_is_the_one_it_is_in_the_woods(crew_client, at, utc, day):
    at(*utc)
    assert f"<h1>{day}</h1>" in shown(crew_client)


@pytest.mark.parametrize(
    ("utc", "leaks_of", "taps_of"),
    [
        ((2025, 12, 1, 4, 59), 2025, 2026),
        ((2025, 12, 1, 5, 0), 2026, 2026),
        ((2026, 6, 1, 3, 59), 2026, 2026),
        ((2026, 6, 1, 4, 0), 2026, 2027),
        ((2026, 10, 20, 12, 0), 2026, 2027),
    ],
)
def test_from_june_the_taps_are_those_of_the_season_to_come(
    crew_client, at, utc, leaks_of, taps_of
):
    at(*utc)
    found = board(crew_client)
    assert (found.season, found.taps.season) == (leaks_of, taps_of)


def test_the_taps_left_name_their_season(crew_client, at):
    line = leaks.a_line("A", planned_taps=100)
    line.tap_counts.create(season=2027, planned_taps=80)
    at(2026, 10, 20, 12, 0)
    assert "0 set of 80 planned, season 2027" in shown(crew_client)


def test_a_check_made_before_midnight_was_yesterday_after_it(crew_client, at):
    line = leaks.a_line("A", planned_taps=100)
    at(2026, 3, 17, 3, 50)
    leaks.check(line, "tight", hours=0)
    assert "walked today" in shown(crew_client)
    at(2026, 3, 17, 4, 5)
    assert "walked yesterday" in shown(crew_client)


def test_a_metric_operation_reads_litres(crew_client):
    people.operation(unit_system="metric")
    leaks.check(leaks.a_line("A", planned_taps=100), vacuum_before_kpa=kpa_from_inhg(20))
    # 0.3 / 2.3 of 100 x 0.9 gal is 11.739 gal, at 3.785412 L each 44.438 L.
    text = shown(crew_client)
    assert "44.4 L of sap a day" in text
    assert " gal " not in text


def test_a_finished_line_leaves_nothing_whatever_was_planned(crew_client, crew):
    tapping.tally(leaks.a_line("A", planned_taps=100), crew, 60, finishes_line=True)
    leaks.a_line("B", planned_taps=30)
    found = board(crew_client).taps
    assert (found.planned, found.taps_set, found.left, found.lines) == (130, 60, 30, 2)


def test_taps_are_summed_over_woodlots_and_bare_ones_add_nothing(crew_client, crew):
    tapping.tally(leaks.a_line("A", planned_taps=100), crew, 60)
    south = woods.woodlot("South")
    woods.line(south, "B", planned_taps=50)
    woods.woodlot("Bare")
    found = board(crew_client).taps
    assert (found.planned, found.left, found.lines_unplanned) == (150, 90, 0)


@pytest.mark.parametrize(
    ("states", "walk_next"),
    [
        (["tight", None], ["B", "A"]),
        ([None, None], ["A", "B"]),
        (["frozen", None], ["B"]),
        (["frozen", "frozen"], []),
    ],
)
def test_lines_never_walked_come_first_and_frozen_ones_not_at_all(crew_client, states, walk_next):
    for label, state in zip("AB", states, strict=True):
        line = leaks.a_line(label, planned_taps=10)
        if state:
            leaks.check(line, state)
    assert [row.line.label for row in board(crew_client).next_lines] == walk_next


def test_an_open_leak_is_marked_where_its_line_is_offered(crew_client):
    line = leaks.a_line("A", planned_taps=100)
    for hours in (9, 7):
        leaks.check(line, "leak_left", hours=hours)
    leaks.check(line, "tight", hours=3)
    text = shown(crew_client)
    assert "2 open leaks</span>" in text
    assert "found tight since" in text


@pytest.mark.parametrize(
    ("leaks_left", "link"), [(1, "The list"), (3, "The list"), (4, "All 4"), (1001, "All 1,001")]
)
def test_the_link_to_the_leaks_counts_them_where_some_are_not_shown(crew_client, leaks_left, link):
    line = leaks.a_line("A")
    for _ in range(min(leaks_left, 4)):
        leaks.check(line, "leak_left")
    if leaks_left > 4:
        more = [leaks.bare_check(line, "leak_left") for _ in range(leaks_left - 4)]
        line.leaks.bulk_create(
            line.leaks.model(line=line, opened_by=one, opened_at=one.observed_at) for one in more
        )
    assert f">{link}</a>" in shown(crew_client)


def a_tank(name, *dips):
    """Upright, 1,000 litres to the brim; each dip is (hours ago, litres)."""
    row = Tank.objects.create(name=name, shape="vertical", diameter_mm=1128.379167, height_mm=1000)
    for hours, litres in dips:
        Dip.objects.create(
            uuid=uuid4(),
            tank=row,
            at=leaks.hours_ago(hours),
            depth_mm=litres,
            volume_litres=litres,
            crew=leaks.somebody(),
        )


def test_tanks_that_cannot_be_told_come_last_and_by_name(crew_client):
    a_tank("Zinc")
    a_tank("Alder", (3, 500))
    a_tank("Beech", (2, 500), (1, 400))
    a_tank("Maple", (2, 100), (1, 200))
    names = [row.tank.name for row in board(crew_client).tanks]
    assert names == ["Maple", "Alder", "Beech", "Zinc"]


@pytest.mark.parametrize(
    ("dips", "words"),
    [
        ([], "no dip yet"),
        ([(1, 300)], "time to full unknown"),
        ([(2, 300), (1, 300)], "not filling"),
        ([(2, 300), (1, 600)], "full in 0.2 h"),
        ([(9, 100), (8, 900)], "full by now: look at it"),
    ],
)
def test_a_tank_says_when_it_is_full_or_why_it_cannot(crew_client, dips, words):
    # 970 L are usable: of 370 L at 300 an hour, 1.233 h less the hour gone by, 0.2 h are left.
    a_tank("Front", *dips)
    assert words in shown(crew_client)


@pytest.mark.parametrize("method", ["post", "put", "delete"])
def test_the_board_is_only_looked_at(crew_client, method):
    assert getattr(crew_client, method)(BOARD).status_code == 405

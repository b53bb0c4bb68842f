"""The day's board: what it gathers, and what it says when there is nothing."""

from datetime import date
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from apps.domain.units import kpa_from_inhg
from apps.sugarhouse.models import Dip, Tank
from apps.tapping.models import TapTally
from tests.factories import leaks, woods
from tests.factories import operation as people

pytestmark = pytest.mark.django_db
BOARD = reverse("today:board")


def shown(client):
    return " ".join(client.get(BOARD).content.decode().split())


def test_the_board_is_the_first_page_and_says_the_local_day(crew_client):
    assert BOARD == "/"
    assert "<h1>Monday 16 March</h1>" in shown(crew_client)


@pytest.mark.parametrize(
    "words",
    [
        "No forecast yet.",
        "Add lines to a woodlot</a> and the first to walk stand here",
        "None on record. That is what the checks say, not that the lines are tight.",
        "Add the tanks</a>; two dips then tell when each is full",
        "Add the woods first</a>, then their planned taps",
    ],
)
def test_an_empty_operation_is_told_what_to_do(crew_client, words):
    assert words in shown(crew_client)


def test_three_lines_to_walk_worst_first_with_where_the_number_comes_from(crew_client):
    for label, inches in [("A", 24), ("B", 10), ("C", 20), ("D", 15)]:
        line = leaks.a_line(label, planned_taps=100)
        leaks.check(line, vacuum_before_kpa=kpa_from_inhg(inches))
    board = crew_client.get(BOARD).context["board"]
    assert [row.line.label for row in board.next_lines] == ["B", "D", "C"]
    text = shown(crew_client)
    # B by hand: 16 in. under 26, 0.8 / 2.3 = 34.8 % of 90 gal = 31.3 gal.
    assert "31.3 gal of sap a day, 45 min to walk and fix" in text
    assert "linear in the missing vacuum" in text
    assert f"{reverse('field:phone_check')}?line={board.next_lines[0].line.pk}" in text


def test_lines_without_a_reading_are_offered_as_unknown(crew_client):
    leaks.a_line("A", planned_taps=100)
    assert "No reading yet: what it loses is unknown" in shown(crew_client)


def test_with_every_line_at_target_nothing_is_said_to_be_worth_a_walk(crew_client):
    leaks.check(leaks.a_line("A", planned_taps=9), vacuum_before_kpa=kpa_from_inhg(26))
    assert "No line is known to be worth a walk" in shown(crew_client)


def test_open_leaks_are_counted_and_the_oldest_named(crew_client):
    for number in range(5):
        leaks.check(leaks.a_line(f"L{number}"), "leak_left", hours=number + 1)
    board = crew_client.get(BOARD).context["board"]
    assert board.open_leaks_total == 5
    assert [leak.line.label for leak in board.open_leaks] == ["L4", "L3", "L2"]
    assert "All 5" in shown(crew_client)


def tally(line, taps, **fields):
    TapTally.objects.create(
        uuid=uuid4(),
        line=line,
        season=2026,
        tallied_on=date(2026, 2, 20),
        taps_set=taps,
        crew=leaks.somebody(),
        received_at=people.FIXED_NOW,
        **fields,
    )


def test_taps_left_are_planned_less_set_line_by_line(crew_client):
    tally(leaks.a_line("A", planned_taps=100), 60)
    tally(leaks.a_line("B", planned_taps=100), 110)
    leaks.a_line("C")
    text = shown(crew_client)
    assert '<p class="big">40</p>' in text
    assert "170 set of 200 planned, season 2026" in text
    assert "1 of 3 lines have no planned taps and are not in it" in text


def test_taps_left_are_unknown_where_nothing_is_planned(crew_client):
    tally(leaks.a_line("A"), 60)
    text = shown(crew_client)
    assert "60 set in season 2026, none planned" in text


def tank(name, *litres):
    """An upright tank of 1,000 litres, dipped an hour apart up to now."""
    row = Tank.objects.create(name=name, shape="vertical", diameter_mm=1128.379167, height_mm=1000)
    for hours, volume in zip(range(len(litres) - 1, -1, -1), litres, strict=True):
        Dip.objects.create(
            uuid=uuid4(),
            tank=row,
            at=leaks.hours_ago(hours),
            depth_mm=volume,
            volume_litres=volume,
            crew=leaks.somebody(),
        )


def test_tanks_come_in_the_order_they_fill(crew_client):
    tank("Unknown")
    tank("Slow", 100, 200)
    tank("Fast", 100, 500)
    text = shown(crew_client)
    assert [row.tank.name for row in crew_client.get(BOARD).context["board"].tanks] == [
        "Fast",
        "Slow",
        "Unknown",
    ]
    # 97 % of 1,000 L less 500 L, at 400 L an hour: 1.2 hours (rounded from 1.175).
    assert "full in 1.2 h" in text
    assert "no dip yet" in text


def test_the_board_asks_as_often_at_ten_rows_as_at_a_thousand(crew_client):
    counts = []
    for lines in (10, 990):
        lot = woods.woodlot(f"Lot of {lines}")
        for number in range(lines):
            woods.line(lot, f"L{number}")
        leaks.check(lot.lines.first(), "leak_left")
        tank(f"Tank {lines}", 10, 20)
        with CaptureQueriesContext(connection) as queries:
            assert crew_client.get(BOARD).status_code == 200
        counts.append(len(queries))
    assert counts[0] == counts[1]


def test_somebody_not_signed_in_is_sent_to_sign_in(client):
    assert reverse("operation:sign_in") in client.get(BOARD).url

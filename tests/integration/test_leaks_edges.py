"""The leak pages at their edges: clocks, units, limits, long lists, narrow questions."""

from uuid import uuid4

import pytest
from django.urls import reverse

from apps.leaks import queries
from apps.leaks.forms import GaugeForm
from apps.leaks.models import GaugeReading
from apps.operation.queries import constants
from tests.factories import leaks, woods
from tests.factories import operation as people

pytestmark = pytest.mark.django_db
LINES, OPEN, GAUGES = (reverse(f"leaks:{name}") for name in ("lines", "open_leaks", "gauges"))


@pytest.fixture
def house():
    return woods.pump_house(woods.woodlot())


def write_down(client, house, **typed):
    data = {"pump_house": house.pk, "vacuum": "24.5", "read_at": "2026-03-16T06:30"}
    return client.post(GAUGES, data | {"uuid": uuid4()} | typed)


def text_of(response):
    return " ".join(response.content.decode().split())


# New York moved its clocks from 02:00 to 03:00 on 8 March 2026, and from 02:00 back to 01:00 on
# 2 November 2025 (US Energy Policy Act of 2005): five hours behind UTC in winter, four after.
@pytest.mark.parametrize(
    ("typed", "utc"),
    [
        ("2026-03-08T01:59", "2026-03-08T06:59:00+00:00"),
        ("2026-03-08T03:00", "2026-03-08T07:00:00+00:00"),
        ("2026-03-15T23:50", "2026-03-16T03:50:00+00:00"),
        ("2026-03-16T07:00", "2026-03-16T11:00:00+00:00"),
    ],
)
def test_a_reading_is_kept_at_the_hour_it_was_there(crew_client, house, typed, utc):
    assert write_down(crew_client, house, read_at=typed).status_code == 302
    assert GaugeReading.objects.get().read_at.isoformat() == utc


@pytest.mark.parametrize("typed", ["2026-03-08T02:30", "2025-11-02T01:30"])
def test_an_hour_that_was_not_or_was_twice_is_asked_about_and_not_guessed(
    crew_client, house, typed
):
    response = write_down(crew_client, house, read_at=typed)
    assert list(response.context["form"].errors) == ["read_at"]
    assert not GaugeReading.objects.exists()


@pytest.mark.parametrize(
    ("typed", "kept"), [("2026-03-16T07:00", True), ("2026-03-16T07:01", False)]
)
def test_a_reading_is_from_now_or_before(crew_client, house, typed, kept):
    write_down(crew_client, house, read_at=typed)
    assert GaugeReading.objects.exists() is kept


@pytest.mark.parametrize(
    ("unit_system", "typed", "kept"),
    [
        ("us", "0", True),
        ("us", "35.4", True),
        ("us", "35.5", False),
        ("metric", "120", True),
        ("metric", "120.1", False),
        ("metric", "-0.1", False),
    ],
)
def test_a_reading_is_taken_at_its_limits_and_refused_beyond(
    crew_client, house, unit_system, typed, kept
):
    people.operation(unit_system=unit_system)
    write_down(crew_client, house, vacuum=typed)
    assert GaugeReading.objects.exists() is kept


@pytest.mark.parametrize(("letters", "kept"), [(200, True), (201, False)])
def test_a_note_is_no_longer_than_two_hundred_letters(crew_client, house, letters, kept):
    write_down(crew_client, house, note="x" * letters)
    assert GaugeReading.objects.exists() is kept


def test_the_form_opens_at_the_minute_it_is_there(crew_client, house):
    assert 'value="2026-03-16T07:00"' in text_of(crew_client.get(GAUGES))


def test_two_pump_houses_of_one_name_are_told_apart_by_their_woodlots(house):
    woods.pump_house(woods.woodlot("Beech Hill"), house.name)
    form = GaugeForm(unit_system="us", now=people.FIXED_NOW)
    assert [label for _, label in form.fields["pump_house"].choices][1:] == [
        "Beech Hill: Lower pump house",
        "Tamarack Hollow: Lower pump house",
    ]


def test_the_same_number_in_the_other_unit_system_is_the_same_reading(crew_client, house):
    write_down(crew_client, house, vacuum="24")
    people.operation(unit_system="metric")
    # 24 in. x 3.386389 kPa, to more figures than a gauge shows.
    write_down(crew_client, house, vacuum="81.273336")
    assert GaugeReading.objects.count() == 1


@pytest.mark.parametrize(
    ("elevation_m", "own_m", "pascals"),
    [(0, None, 101_325), (2000, None, 79_501), (0, 2000, 79_501), (2000, 0, 101_325)],
)
def test_the_ceiling_is_that_of_the_pump_house_and_else_of_its_woodlot(elevation_m, own_m, pascals):
    # US Standard Atmosphere (1976), table I, by height above the sea. It tells that height from
    # the geopotential one, which at 2,000 m is 7 Pa's worth of air apart: no gauge shows it.
    house = woods.pump_house(woods.woodlot(elevation_m=elevation_m), elevation_m=own_m)
    (row,) = queries.gauge_rows([leaks.reading(house, 60.0)], constants())
    assert row.ceiling_kpa * 1000 == pytest.approx(pascals, abs=10)


def test_gauges_are_newest_first_and_at_one_moment_by_name(house):
    other = woods.pump_house(house.woodlot, "Back")
    for each in (house, other):
        leaks.reading(each, hours=3)
    newest = leaks.reading(house, hours=1)
    rows = list(queries.gauge_readings())
    assert rows[0] == newest
    assert [row.pump_house.name for row in rows[1:]] == ["Back", "Lower pump house"]


@pytest.mark.parametrize("url", [LINES, OPEN, GAUGES])
@pytest.mark.parametrize("woodlot", ["", "x", "0", "999", "-1", "²"])
def test_a_woodlot_that_is_none_means_all(crew_client, url, woodlot, house):
    leaks.check(leaks.a_line("L7"), "leak_left")
    leaks.reading(house)
    response = crew_client.get(url, {"woodlot": woodlot})
    assert response.context["page"].paginator.count == 1
    assert response.context["woodlot"] is None


@pytest.mark.parametrize(("url", "words"), [(LINES, "No lines in"), (OPEN, "No open leaks in")])
def test_a_bare_woodlot_is_named_in_the_empty_list(crew_client, url, words):
    leaks.check(leaks.a_line("L7"), "leak_left")
    bare = woods.woodlot("Bare Hill")
    assert f"{words} Bare Hill" in text_of(crew_client.get(url, {"woodlot": bare.pk}))


@pytest.mark.parametrize("url", [OPEN, GAUGES])
def test_long_lists_come_fifty_a_page(crew_client, url, house):
    line = leaks.a_line("L7")
    for hours in range(1, 52):
        leaks.check(line, "leak_left", hours=hours)
        leaks.reading(house, hours=hours)
    first, second = (crew_client.get(url, {"page": n}).context["page"] for n in (1, 2))
    assert (len(first), len(second), first.paginator.count) == (50, 1, 51)


@pytest.mark.parametrize("url", [LINES, OPEN, GAUGES])
def test_a_stranger_is_sent_to_sign_in(client, url):
    assert reverse("operation:sign_in") in client.get(url).url


@pytest.mark.parametrize("url", [LINES, OPEN])
def test_lists_are_only_looked_at(crew_client, url):
    assert crew_client.post(url).status_code == 405


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({}, ["Cause not said", "place not noted"]),
        ({"place_drops": 0}, ["0 drops from the pump end"]),
        ({"cause": "unknown"}, ["Cause not found"]),
        ({"cause": "sag", "place_drops": 1}, ["Sag or ice", "1 drop from the pump end"]),
    ],
)
def test_what_is_not_known_of_a_leak_is_said_to_be_unknown(crew_client, fields, words):
    leaks.check(leaks.a_line("L7"), "leak_left", **fields)
    text = text_of(crew_client.get(OPEN))
    assert all(each in text for each in words)


@pytest.mark.parametrize(
    ("state", "fields", "short"),
    [
        ("tight", {"vacuum_before_kpa": 60.0}, "17.7 inHg on 16 Mar, 8.3 inHg short"),
        ("tight", {}, "No reading"),
        ("leak_fixed", {"vacuum_before_kpa": 60.0}, "No reading since the fix"),
        ("frozen", {"vacuum_before_kpa": 60.0}, "No verdict"),
        ("tight", {"vacuum_before_kpa": 90.0}, "26.6 inHg on 16 Mar"),
        ("tight", {"vacuum_before_kpa": 119.0}, "35.1 inHg on 16 Mar"),
    ],
)
def test_the_reason_folded_up_is_the_reading_it_rests_on(crew_client, state, fields, short):
    leaks.check(leaks.a_line("L7", planned_taps=50), state, **fields)
    assert f"<summary> {short} </summary>" in text_of(crew_client.get(LINES))


def test_a_line_without_taps_says_so_folded_up(crew_client):
    leaks.check(leaks.a_line("L7"), vacuum_before_kpa=60.0)
    assert "<summary> 17.7 inHg, taps unknown </summary>" in text_of(crew_client.get(LINES))

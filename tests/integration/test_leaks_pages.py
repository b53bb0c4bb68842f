"""The leak pages: what they show, how they ask, and that they stay quick."""

from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from apps.domain.units import kpa_from_inhg, metres_from_feet
from apps.leaks.models import GaugeReading, Leak, LeakCheck
from apps.woods.models import Line, TapCount
from tests.factories import leaks, woods
from tests.factories import operation as people

pytestmark = pytest.mark.django_db
LINES, OPEN, GAUGES = (reverse(f"leaks:{name}") for name in ("lines", "open_leaks", "gauges"))


def text_of(response):
    return " ".join(response.content.decode().split())


def shown(client, url, **query):
    return text_of(client.get(url, query))


@pytest.mark.parametrize(
    ("url", "words"),
    [
        (LINES, "Add lines to a woodlot"),
        (OPEN, "A leak opens here when a check finds one"),
        (GAUGES, "No pump houses yet"),
    ],
)
def test_an_empty_page_says_what_to_do(crew_client, url, words):
    assert words in shown(crew_client, url)


def test_the_ranking_on_the_page_is_the_arithmetic_by_hand(crew_client):
    line = leaks.a_line("L7", planned_taps=400)
    leaks.check(line, vacuum_before_kpa=kpa_from_inhg(20))
    text = shown(crew_client, LINES)
    # 0.05 x 6 / (1 + 0.05 x 26) = 13.0 %; 400 x 0.9 x 0.1304 = 47.0 gal; over 0.75 h = 62.6.
    assert "62.6 gal</td>" in text
    assert "400 taps (planned)" in text
    assert "13.0 % lost" in text
    assert "47.0 gal a day</strong>, for 30 min to walk and 15 min to fix" in text
    assert "Read 20.0 inHg on 16 Mar: 6.0 inHg under the target of 26.0 inHg" in text
    assert "<strong>linear</strong>" in text


def test_each_group_says_why_its_lines_are_not_ranked(crew_client):
    readings = {"G": 29.5, "T": 26.0}
    for label, inches in readings.items():
        leaks.check(leaks.a_line(label, planned_taps=9), vacuum_before_kpa=kpa_from_inhg(inches))
    leaks.check(leaks.a_line("F", planned_taps=9), "frozen")
    leaks.check(leaks.a_line("N"), vacuum_before_kpa=50)
    leaks.a_line("U", planned_taps=9)
    leaks.check(leaks.a_line("X", planned_taps=9), "leak_fixed")
    text = shown(crew_client, LINES)
    for words in (
        "the air there can hold no more than 28.5 inHg",
        "the target is 26.0 inHg",
        "Frozen says nothing of leaks",
        "no taps are counted or planned",
        "No reading this season: what it loses is unknown",
        "No reading since the fix on 16 Mar",
    ):
        assert words in text


def test_lines_can_be_narrowed_to_a_woodlot(crew_client):
    leaks.a_line("L7")
    other = woods.woodlot("Beech Hill")
    leaks.a_line("B1", woodlot=other)
    rows = crew_client.get(LINES, {"woodlot": other.pk}).context["page"]
    assert [row.line.label for row in rows] == ["B1"]


def test_fifty_lines_a_page_and_a_nonsense_page_is_the_last(crew_client):
    for number in range(51):
        leaks.a_line(f"L{number}")
    assert len(crew_client.get(LINES).context["page"]) == 50
    assert len(crew_client.get(LINES, {"page": "99"}).context["page"]) == 1


def test_an_open_leak_shows_place_cause_and_who(crew_client):
    leaks.check(leaks.a_line("L7"), "leak_left", cause="chew", place_drops=12, note="by the brook")
    text = shown(crew_client, OPEN)
    for words in ("L7", "Chewed", "12 drops from the pump end", "by the brook", "by Sol"):
        assert words in text


def test_an_open_leak_found_tight_later_asks_whether_it_was_fixed(crew_client):
    line = leaks.a_line("L7")
    leaks.check(line, "leak_left", hours=9)
    leaks.check(line, "tight", hours=5)
    text = shown(crew_client, OPEN)
    assert "found tight since" in text
    assert "Nobody has said so" in text


def test_open_leaks_can_be_narrowed_to_a_woodlot(crew_client):
    leaks.check(leaks.a_line("L7"), "leak_left")
    other = leaks.a_line("B1", woodlot=woods.woodlot("Beech Hill"))
    leaks.check(other, "leak_left")
    page = crew_client.get(OPEN, {"woodlot": other.woodlot_id}).context["page"]
    assert [leak.line for leak in page] == [other]


@pytest.fixture
def house():
    return woods.pump_house(woods.woodlot(elevation_m=metres_from_feet(2000)))


def write_down(client, house, **typed):
    data = {"pump_house": house.pk, "vacuum": "24.5", "read_at": "2026-03-16T06:30"}
    return client.post(GAUGES, data | {"uuid": uuid4()} | typed)


def test_a_gauge_reading_is_kept_in_si_and_utc(crew_client, crew, house):
    assert write_down(crew_client, house).url == GAUGES
    reading = GaugeReading.objects.get()
    assert reading.vacuum_kpa == pytest.approx(kpa_from_inhg(24.5))
    assert reading.read_at.isoformat() == "2026-03-16T10:30:00+00:00"
    assert reading.crew == crew


def test_a_gauge_reading_sent_twice_is_one(crew_client, house):
    for _ in range(2):
        assert write_down(crew_client, house).status_code == 302
    assert GaugeReading.objects.count() == 1


@pytest.mark.parametrize(
    ("typed", "message"),
    [
        ({"vacuum": "40"}, "Must not be over 35.4 inHg."),
        ({"vacuum": ""}, "This field is required."),
        ({"read_at": "2026-03-16T08:00"}, "Must not be after now."),
        ({"read_at": "soon"}, "Enter a valid date/time."),
        ({"pump_house": "99"}, "Select a valid choice"),
    ],
)
def test_a_bad_gauge_reading_is_named_and_stays(crew_client, house, typed, message):
    response = write_down(crew_client, house, note="needle sticks", **typed)
    assert message in text_of(response)
    assert "needle sticks" in text_of(response)
    assert GaugeReading.objects.count() == 0


def test_another_reading_at_the_same_moment_is_refused_with_a_reason(crew_client, house):
    write_down(crew_client, house)
    assert "another reading at that very time" in text_of(
        write_down(crew_client, house, vacuum="20")
    )


# Ceiling at 2,000 ft: 27.82 inHg, US Standard Atmosphere (1976); target 2 in. under it, 25.8.
@pytest.mark.parametrize(
    ("inches", "verdict"),
    [
        ("28.4", "gauge fault"),
        ("28.3", "at target</span> of 25.8 inHg"),
        ("25.9", "at target</span> of 25.8 inHg"),
        ("24.0", "short</span> 1.8 inHg under the target of 25.8 inHg"),
    ],
)
def test_a_gauge_is_judged_by_its_ceiling_and_target(crew_client, house, inches, verdict):
    write_down(crew_client, house, vacuum=inches)
    text = shown(crew_client, GAUGES)
    assert verdict in text
    assert "27.8 inHg" in text


def traces(response):
    return {trace["name"]: trace["y"] for trace in response.context["figure"].spec["data"]}


def test_the_picture_holds_the_readings_of_the_table_and_faults_apart(crew_client, house):
    for hours, inches in [(9, 24.0), (6, 30.0), (3, 25.5)]:
        leaks.reading(house, kpa_from_inhg(inches), hours=hours)
    assert traces(crew_client.get(GAUGES)) == {
        "Tamarack Hollow: Lower pump house": [24.0, 25.5],
        "Gauge fault": [30.0],
    }


def test_no_line_is_drawn_across_days_nobody_read_the_gauge(crew_client, house):
    for hours, inches in [(60, 24.0), (24, 25.0), (1, 25.5)]:
        leaks.reading(house, kpa_from_inhg(inches), hours=hours)
    (drawn,) = traces(crew_client.get(GAUGES)).values()
    assert drawn == [24.0, None, 25.0, 25.5]


def test_readings_can_be_narrowed_to_a_woodlot(crew_client, house):
    other = woods.pump_house(woods.woodlot("Beech Hill"), "Upper")
    leaks.reading(house, 80)
    leaks.reading(other, 84)
    response = crew_client.get(GAUGES, {"woodlot": other.woodlot_id})
    assert [row.place for row in response.context["rows"]] == ["Beech Hill: Upper"]
    assert list(traces(response)) == ["Beech Hill: Upper"]


def test_the_gauge_page_warns_of_the_pump(crew_client):
    assert "belts and hot surfaces" in shown(crew_client, GAUGES)


def grow(lines):
    """Many lines with a check, an open leak and a gauge reading each, past the actions."""
    lot = woods.woodlot(f"Lot of {lines}")
    house = woods.pump_house(lot)
    rows = Line.objects.bulk_create(
        Line(woodlot=lot, label=f"L{n}", kind="main", pump_house=house) for n in range(lines)
    )
    TapCount.objects.bulk_create(TapCount(line=r, season=2026, planned_taps=50) for r in rows)
    seen = {"state": "leak_left", "crew": leaks.somebody(), "received_at": people.FIXED_NOW}
    checks = LeakCheck.objects.bulk_create(
        LeakCheck(
            uuid=uuid4(),
            line=row,
            observed_at=leaks.hours_ago(n / 10 + 1),
            vacuum_before_kpa=40 + n % 50,
            **seen,
        )
        for n, row in enumerate(rows)
    )
    Leak.objects.bulk_create(
        Leak(line=c.line, opened_by=c, opened_at=c.observed_at) for c in checks
    )
    GaugeReading.objects.bulk_create(
        GaugeReading(pump_house=house, read_at=leaks.hours_ago(n + 1), vacuum_kpa=80)
        for n in range(lines)
    )


@pytest.mark.parametrize("url", [LINES, OPEN, GAUGES, reverse("field:check")])
def test_a_list_asks_as_often_at_ten_rows_as_at_a_thousand(crew_client, url):
    counts = []
    for lines in (10, 990):
        grow(lines)
        with CaptureQueriesContext(
            connection,
        ) as queries:
            assert crew_client.get(url).status_code == 200
        counts.append(len(queries))
    assert Line.objects.count() == 1000
    assert counts[0] == counts[1]

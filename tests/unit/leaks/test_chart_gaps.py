"""Where a trend line breaks off."""

from datetime import timedelta

import pytest

from apps.leaks.charts import gauge_trend
from apps.leaks.models import GaugeReading
from apps.leaks.queries import GaugeRow
from apps.woods.models import PumpHouse, Woodlot
from tests.factories.operation import FIXED_NOW


def rows(*hours_ago, is_fault=False):
    """Newest first, as the page lists them."""
    house = PumpHouse(name="Lower", woodlot=Woodlot(name="Beech Hill"))
    return [
        GaugeRow(
            reading=GaugeReading(
                pump_house=house, read_at=FIXED_NOW - timedelta(hours=hours), vacuum_kpa=80.0
            ),
            ceiling_kpa=96.0,
            target_kpa=88.0,
            is_fault=is_fault,
        )
        for hours in sorted(hours_ago)
    ]


def drawn(listed, unit_system="metric"):
    return [trace["y"] for trace in gauge_trend(listed, unit_system).spec["data"]]


@pytest.mark.parametrize(
    ("hours_ago", "values"),
    [
        ((1,), [80.0]),
        ((25, 1), [80.0, 80.0]),  # a day to the minute is still one line
        ((25.1, 1), [80.0, None, 80.0]),
        ((60, 30, 1), [80.0, None, 80.0, None, 80.0]),
    ],
)
def test_a_line_breaks_where_nobody_looked_for_over_a_day(hours_ago, values):
    assert drawn(rows(*hours_ago)) == [values]


def test_no_readings_make_no_picture():
    assert gauge_trend([], "us") is None


def test_readings_are_drawn_in_the_operations_unit():
    # 80 kPa over 3.386389 kPa to the conventional inch (NIST SP 811) is 23.62 inHg.
    assert drawn(rows(1), "us") == [[23.6]]


def test_faults_are_drawn_as_crosses_and_not_joined():
    (trace,) = gauge_trend(rows(3, 1, is_fault=True), "metric").spec["data"]
    assert (trace["name"], trace["mode"], trace["marker"]["symbol"]) == (
        "Gauge fault",
        "markers",
        "x",
    )


def test_what_a_reading_is_short_of_its_target_is_never_less_than_nothing():
    (row,) = rows(1)
    assert row.short_kpa == 8.0
    assert GaugeRow(row.reading, 96.0, 70.0, is_fault=False).short_kpa == 0.0


def test_a_reading_taken_back_is_drawn_nowhere_and_leaves_no_gap():
    listed = rows(30, 10, 1)
    listed[1].reading.voided_at = FIXED_NOW
    assert drawn(listed) == [[80.0, None, 80.0]]
    for row in listed:
        row.reading.voided_at = FIXED_NOW
    assert gauge_trend(listed, "metric") is None

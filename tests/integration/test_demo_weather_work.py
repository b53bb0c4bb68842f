"""What the demo measured and remembers: invented, and such that the pages have a true tale."""

import random
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from apps.demo.generator import weather_work
from apps.demo.generator.farm import rows
from apps.demo.weather_story import temperature_c
from apps.domain import units
from apps.operation.queries import constants
from apps.weather.models import ArchiveWinter, SetAside, ThermometerReading
from apps.weather.queries.history import histories
from apps.weather.queries.offset import offset_suggestions
from apps.weather.queries.readings import whole_record
from apps.weather.queries.winters import winter_progress
from apps.woods.models import Woodlot
from tests.factories import weather as forecasts

pytestmark = pytest.mark.django_db
UNTIL = datetime(2026, 3, 16, 11, 20, tzinfo=UTC)


@pytest.fixture
def farm():
    return [
        Woodlot.objects.create(
            name=row["name"],
            latitude=float(row["latitude"]),
            longitude=float(row["longitude"]),
            elevation_m=float(units.metres_from_feet(float(row["elevation_ft"]))),
        )
        for row in rows("woodlots")
    ]


@pytest.fixture
def hollow(farm):
    weather_work.measure(random.Random(1), UNTIL)
    return Woodlot.objects.get(name=weather_work.HOLLOW)


def test_two_weeks_are_measured_up_to_the_moment_and_none_beyond(hollow):
    assert ThermometerReading.objects.count() == 14 * 24 - 1
    record = whole_record(hollow)
    assert record.start_at == datetime(2026, 3, 2, 11, tzinfo=UTC)
    assert record.start_at + timedelta(hours=record.temps_c.size) == datetime(
        2026, 3, 16, 11, tzinfo=UTC
    )


def test_the_loose_sensors_value_is_set_aside_and_its_hour_missing(hollow):
    (doubted,) = SetAside.objects.all()
    assert (doubted.value_c, doubted.woodlot) == (-85.0, hollow)
    record = whole_record(hollow)
    hour = (doubted.at - record.start_at) // timedelta(hours=1)
    assert np.isnan(record.temps_c[hour])
    assert record.known_hours == record.temps_c.size - 1


def test_the_page_finds_how_much_colder_the_hollow_is(hollow):
    start = UNTIL.replace(hour=0, minute=0) - timedelta(days=5)
    for day in range(4):
        fetched = start + timedelta(days=day)
        run = forecasts.run(fetched_at=fetched)
        stamps = int(fetched.timestamp()) + 3600 * np.arange(24)
        story = temperature_c(hollow.latitude, hollow.longitude, hollow.elevation_m, stamps)
        forecasts.stored(run, hollow, story, start_at=fetched)
    (suggestion,) = offset_suggestions(hollow, constants(), UNTIL)
    # The noise of 0.4 C leaves the median of 96 hours within 0.06 C or so: 1.25 x 0.4 / sqrt(96).
    assert suggestion.median_c == pytest.approx(weather_work.HOLLOW_C, abs=0.2)
    assert suggestion.enough


def test_every_woodlot_remembers_every_wanted_winter_whole(farm):
    weather_work.remember_winters(UNTIL)
    assert all(row.whole for row in winter_progress(farm, UNTIL))
    assert {row.provider for row in ArchiveWinter.objects.all()} == {"invented"}
    assert not [row for row in ArchiveWinter.objects.all() if row.known_hours < row.hours]


def test_the_higher_woodlot_has_the_colder_winters(farm):
    weather_work.remember_winters(UNTIL)
    found = histories(farm, constants())
    by_height = sorted(farm, key=lambda lot: lot.elevation_m)
    means = [
        float(np.mean([hours.temps_c.mean() for hours in found[lot.pk].values()]))
        for lot in by_height
    ]
    assert means == sorted(means, reverse=True)


def test_no_two_winters_are_alike(farm):
    weather_work.remember_winters(UNTIL)
    winters = histories(farm[:1], constants())[farm[0].pk]
    means = {round(float(hours.temps_c.mean()), 3) for hours in winters.values()}
    assert len(means) == len(winters) == 25

"""What the invented farm measured, and the winters an archive would have had for it."""

import random
from datetime import UTC, datetime, timedelta

import numpy as np
from django.conf import settings

from apps.demo.weather_story import HOME_ELEVATION_M, temperature_c
from apps.weather import actions_readings as readings
from apps.weather.models import ArchiveWinter
from apps.weather.packing import Hours, pack
from apps.weather.payload import Reading, Refused
from apps.weather.queries.winters import first_day, last_day, wanted
from apps.woods.models import Woodlot

# A hollow that cold air flows into: what the page's suggestion is to find.
HOLLOW, HOLLOW_C = "Tamarack Hollow", -1.4
DAYS_MEASURED = 14
BROKEN_C = -85.0


def measure(rng: random.Random, until: datetime) -> None:
    """Two weeks of hourly readings from the hollow's thermometer, its sensor loose for an hour."""
    woodlot = Woodlot.objects.get(name=HOLLOW)
    new = readings.add_thermometer(name="Hollow pump house", woodlot=woodlot, now=until)
    last = until.replace(minute=0, second=0, microsecond=0)
    start = last - timedelta(days=DAYS_MEASURED)
    temps = _story(woodlot, start, 24 * DAYS_MEASURED, woodlot.elevation_m)
    sent: list[Reading | Refused] = [
        Reading(
            hour,
            start + timedelta(hours=hour),
            round(float(temp_c) + HOLLOW_C + rng.gauss(0, 0.4), 1),
        )
        for hour, temp_c in enumerate(temps)
    ]
    loose = len(sent) // 2
    at = start + timedelta(hours=loose)
    reason = f"{BROKEN_C:g} C is not between -60 and 60 C"
    sent[loose] = Refused(loose, reason, (at, BROKEN_C))
    readings.take_readings(thermometer=new.thermometer, sent=sent, now=until)


def remember_winters(until: datetime) -> None:
    """The past winters of every woodlot, as an archive would give them for the hamlet's height."""
    rows = [
        _winter(woodlot, winter, until)
        for woodlot in Woodlot.objects.all()
        for winter in wanted(until)
    ]
    ArchiveWinter.objects.bulk_create(rows)


def _winter(woodlot: Woodlot, winter: int, until: datetime) -> ArchiveWinter:
    days = (last_day(winter) - first_day(winter)).days + 1
    first = first_day(winter)
    start = datetime(first.year, first.month, first.day, tzinfo=UTC)
    temps = np.round(_story(woodlot, start, 24 * days, HOME_ELEVATION_M), 1)
    return ArchiveWinter(
        woodlot=woodlot,
        winter=winter,
        provider="invented",
        model=settings.WEATHER_ARCHIVE_MODEL,
        attribution="Demo weather, invented by this program",
        fetched_at=until,
        start_at=start,
        hours=temps.size,
        known_hours=temps.size,
        packed=pack(temps),
        elevation_used_m=HOME_ELEVATION_M,
    )


def _story(woodlot: Woodlot, start: datetime, hours: int, elevation_m: float) -> Hours:
    seconds = int(start.timestamp()) + 3600 * np.arange(hours)
    return temperature_c(woodlot.latitude, woodlot.longitude, elevation_m, seconds)

"""Thermometers, readings, imported hours and archive winters for tests."""

from datetime import UTC, datetime, time, timedelta

import numpy as np

from apps.operation.actions import add_device
from apps.weather import actions_readings
from apps.weather.client.records import FetchOutcome, Finding, HourlySeries, Provenance
from apps.weather.models import ArchiveWinter, HistoryFetch, Thermometer, ThermometerReading
from apps.weather.packing import pack
from apps.weather.payload import read_hourly
from apps.weather.queries.winters import first_day, last_day

NOW = datetime(2026, 3, 16, 11, 0, tzinfo=UTC)
MODEL = "era5_seamless"
PROVENANCE = Provenance("made-up", "archive", MODEL, "Made by hand", "")


def device(name="North wall", *, now=NOW):
    return add_device(name=name, now=now)


def thermometer(woodlot, name="North wall") -> Thermometer:
    return Thermometer.objects.create(device=device(name).device, woodlot=woodlot)


def reading(thermometer, at=NOW, temp_c=-3.0) -> ThermometerReading:
    return ThermometerReading.objects.create(
        thermometer=thermometer, at=at, temp_c=temp_c, received_at=NOW
    )


def readings(thermometer, start_at, temps_c) -> None:
    """One an hour, at its start."""
    ThermometerReading.objects.bulk_create(
        ThermometerReading(
            thermometer=thermometer,
            at=start_at + timedelta(hours=hour),
            temp_c=temp_c,
            received_at=NOW,
        )
        for hour, temp_c in enumerate(temps_c)
    )


def sheet(start_at, temps_c) -> str:
    """A record as CSV, None where an hour is missing."""
    rows = (
        f"{start_at + timedelta(hours=hour):%Y-%m-%dT%H:%MZ},{'' if value is None else value}"
        for hour, value in enumerate(temps_c)
    )
    return "\n".join(["time_utc,temp_c", *rows, ""])


def imported(woodlot, start_at, temps_c, *, now=NOW):
    record = read_hourly(sheet(start_at, temps_c), now)
    return actions_readings.import_hours(woodlot=woodlot, record=record, now=now)


def winter_start(winter) -> datetime:
    return datetime.combine(first_day(winter), time(), UTC)


def winter_hours(winter) -> int:
    return ((last_day(winter) - first_day(winter)).days + 1) * 24


def archive_winter(woodlot, winter, temps_c=None, **changes) -> ArchiveWinter:
    """Freezing to noon and thawing after it, every day, unless told otherwise."""
    if temps_c is None:
        temps_c = np.resize([-5.0] * 17 + [5.0] * 7, winter_hours(winter))
    temps_c = np.asarray(temps_c, dtype=np.float64)
    fields = {
        "provider": "made-up",
        "model": MODEL,
        "attribution": "Made by hand",
        "fetched_at": NOW,
        "start_at": winter_start(winter),
        "hours": temps_c.size,
        "known_hours": int(np.isfinite(temps_c).sum()),
        "packed": pack(temps_c),
        "elevation_used_m": woodlot.elevation_m,
    }
    return ArchiveWinter.objects.create(woodlot=woodlot, winter=winter, **fields | changes)


def history_fetch(*, started_at=NOW, **changes) -> HistoryFetch:
    fields = {"touched_at": started_at, "outcome": "done", "detail": "All well."}
    return HistoryFetch.objects.create(started_at=started_at, **fields | changes)


def archive_series(point, first, last, temp_c=-3.0, **changes) -> HourlySeries:
    hours = ((last - first).days + 1) * 24
    fields = {
        "site_id": point.site_id,
        "start_at": datetime.combine(first, time(), UTC),
        "temps_c": np.full((1, hours), temp_c),
        "grid_latitude": point.latitude,
        "grid_longitude": point.longitude,
        "elevation_used_m": 400.0,
    }
    return HourlySeries(**fields | changes)


class Archive:
    """An archive that answers at once and remembers what it was asked.

    `fails_at` is the number of the request it fails from, `empty_tail_hours` what is still to
    come at the end of every winter, `refuses` the latitude it has nothing for.
    """

    def __init__(self, *, fails_at=None, empty_tail_hours=0, refuses=None, not_before=None) -> None:
        self.fails_at, self.empty_tail_hours = fails_at, empty_tail_hours
        self.refuses, self.not_before = refuses, not_before
        self.asked = []

    def __call__(self, points, first, last, model, *, now):
        self.asked.append((last.year, len(points), model))
        if self.fails_at is not None and len(self.asked) >= self.fails_at:
            failure = Finding("rate_limited", "The archive asks us to wait.")
            return FetchOutcome(PROVENANCE, failure=failure, not_before=self.not_before)
        good = [point for point in points if point.latitude != self.refuses]
        refused = {
            point.site_id: Finding("refused", "No data here.", point.site_id)
            for point in points
            if point.latitude == self.refuses
        }
        series = {point.site_id: self._series(point, first, last) for point in good}
        return FetchOutcome(PROVENANCE, series, refused, payload_sha256="a" * 64)

    def _series(self, point, first, last):
        series = archive_series(point, first, last)
        if self.empty_tail_hours:
            series.temps_c[:, -self.empty_tail_hours :] = np.nan
        return series

"""Past winters of a woodlot as hours at its own height, and what they come to."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo

import numpy as np
from django.conf import settings

from apps.domain.freeze_thaw import local_day_edges
from apps.domain.freeze_thaw.months import COMPLETE_HOURS
from apps.domain.sap_run import (
    DayWeather,
    InferredRun,
    days_from_hours,
    fit_setting,
    inferred_first_run,
)
from apps.operation.queries import Constants, constants
from apps.weather.models import ArchiveWinter
from apps.weather.packing import Hours
from apps.weather.queries.grid import to_woodlot
from apps.weather.queries.readings import HOUR, Observed, own_records
from apps.weather.queries.winters import first_day, last_day
from apps.woods.models import Woodlot

# An own record stands for a winter once it holds this share of its hours.
ENOUGH_OF_A_WINTER = 0.8


@dataclass(frozen=True)
class HistoryHours:
    """One winter's hours at a woodlot, C, NaN missing; `own` when measured there.

    An archive's hours are moved to the woodlot's height with its offset. The two are never
    joined within a winter.
    """

    winter: int
    start_at: datetime
    temps_c: Hours
    own: bool
    source: str

    def days(self, tz: tzinfo) -> DayWeather:
        """Local days from 1 December to 31 May; one with under 20 hours is unknown."""
        start, stop = (
            -((self.start_at - datetime.combine(day, time(), tzinfo=tz).astimezone(UTC)) // HOUR)
            for day in (date(self.winter - 1, 12, 1), date(self.winter, 6, 1))
        )
        temps_c = self.temps_c[max(0, start) : stop]
        begins = self.start_at + max(0, start) * HOUR
        return days_from_hours(temps_c, local_day_edges(begins, temps_c.size, tz), COMPLETE_HOURS)


Winters = dict[int, HistoryHours]


def history_hours(woodlot: Woodlot) -> Winters:
    """Past winters by their spring: own records where they hold enough, else the archive."""
    return histories([woodlot], constants())[woodlot.pk]


def histories(woodlots: Iterable[Woodlot], in_use: Constants) -> dict[int, Winters]:
    """The winters of each woodlot by its id, in the same few questions for one or for sixty."""
    lots = {lot.pk: lot for lot in woodlots}
    found: dict[int, Winters] = {pk: {} for pk in lots}
    lapse = in_use.number("weather.lapse_c_per_m")
    rows = ArchiveWinter.objects.filter(woodlot__in=lots, model=settings.WEATHER_ARCHIVE_MODEL)
    for row in rows.order_by("winter"):
        found[row.woodlot_id][row.winter] = _archived(row, lots[row.woodlot_id], lapse)
    for pk, record in own_records(lots.values()).items():
        found[pk] |= _own_winters(record)
    return {pk: dict(sorted(winters.items())) for pk, winters in found.items()}


def inferred_first_runs(
    winters: Winters, tz: tzinfo, own_dates: Mapping[int, date]
) -> dict[int, InferredRun]:
    """The first run of each winter by its weather alone; `own_dates` only set the threshold."""
    return first_runs_of_days({year: one.days(tz) for year, one in winters.items()}, own_dates)


def first_runs_of_days(
    days: Mapping[int, DayWeather], own_dates: Mapping[int, date]
) -> dict[int, InferredRun]:
    """As `inferred_first_runs`, from local days already cut."""
    # A record that begins after New Year has no first of January to count warmth from.
    whole = {winter: one for winter, one in days.items() if date(winter, 1, 1) in one.dates}
    setting = fit_setting(whole, own_dates)
    return {winter: inferred_first_run(one, winter, setting) for winter, one in whole.items()}


def _archived(row: ArchiveWinter, woodlot: Woodlot, lapse_c_per_m: float) -> HistoryHours:
    moved = to_woodlot(
        row.temps_c(),
        row.elevation_used_m,
        woodlot,
        lapse_c_per_m,
        woodlot.temperature_offset_c,
    )
    source = f"{row.provider} archive, {row.model}"
    return HistoryHours(row.winter, row.start_at, moved, own=False, source=source)


def _own_winters(record: Observed) -> Winters:
    """The winters that a record holds enough of, each on the full span of its days."""
    last = record.start_at + record.temps_c.size * HOUR
    found = {}
    for winter in range(record.start_at.year, last.year + 2):
        hours = _cut(record, winter)
        if np.isfinite(hours.temps_c).mean() >= ENOUGH_OF_A_WINTER:
            found[winter] = hours
    return found


def _cut(record: Observed, winter: int) -> HistoryHours:
    start = datetime.combine(first_day(winter), time(), UTC)
    stop = datetime.combine(last_day(winter), time(), UTC) + timedelta(days=1)
    temps_c = np.full((stop - start) // HOUR, np.nan)
    shift = (record.start_at - start) // HOUR
    low, high = max(0, shift), min(temps_c.size, shift + record.temps_c.size)
    if low < high:
        temps_c[low:high] = record.temps_c[low - shift : high - shift]
    return HistoryHours(winter, start, temps_c, own=True, source=record.source)

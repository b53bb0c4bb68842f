"""What the temperature really was, hour by hour: as measured, else archived, else said later.

The three are never mixed within a day. The later word of a forecast is its hours gone by when it
was fetched: a model's own account of what was, and so a lenient judge of that model.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo

import numpy as np
import numpy.typing as npt
from django.conf import settings

from apps.domain.errors import DomainError
from apps.domain.freeze_thaw import FreezeThawDay, judge_days
from apps.domain.freeze_thaw.months import COMPLETE_HOURS
from apps.operation.queries import Constants
from apps.weather.models import ArchiveWinter, HourlySeries, RecordedYear, ThermometerReading
from apps.weather.packing import first_hour_of_year
from apps.weather.queries.grid import to_woodlot
from apps.woods.models import Woodlot

HOUR = timedelta(hours=1)
HOUR_S = 3600
MEASURED, ARCHIVED, SAID_LATER = "measured in the woods", "from the archive", "said later"
SOURCES = (MEASURED, ARCHIVED, SAID_LATER)
# Some fifty kilobytes each.
ROWS_AT_A_TIME = 100

Hours = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Came:
    """One woodlot's hours from `start_at`, (hours,) NaN missing, by source in order of trust."""

    start_at: datetime
    by_source: Mapping[str, Hours]

    @property
    def temps_c(self) -> Hours:
        """Each hour from the first source that knows it."""
        joined = np.full_like(next(iter(self.by_source.values())), np.nan)
        for hours in self.by_source.values():
            joined = np.where(np.isnan(joined), hours, joined)
        return joined

    @property
    def words(self) -> str:
        """How many hours are from where, each counted once."""
        taken = np.zeros_like(self.temps_c, dtype=bool)
        parts = []
        for source, hours in self.by_source.items():
            new = ~np.isnan(hours) & ~taken
            taken |= new
            if new.any():
                parts.append(f"{int(new.sum()):,} h {source}")
        return ", ".join(parts) or "no hour is known"

    def days(
        self, tz: tzinfo, freeze_c: float, thaw_c: float
    ) -> dict[date, tuple[str, FreezeThawDay]]:
        """Each day with at least 20 known hours of one source, from the most trusted that has."""
        found: dict[date, tuple[str, FreezeThawDay]] = {}
        for source, hours in self.by_source.items():
            # Most farms have one source of the three, and several seasons are many hours to judge.
            if np.isnan(hours).all():
                continue
            for day in judge_days(hours, self.start_at, tz, freeze_c, thaw_c):
                if day.known_hours >= COMPLETE_HOURS:
                    found.setdefault(day.date, (source, day))
        return found


def came(
    woodlots: Iterable[Woodlot],
    start_at: datetime,
    constants: Constants,
    until: datetime,
    said: Iterable[HourlySeries] = (),
) -> dict[int, Came]:
    """From `start_at`, a whole UTC hour, to `until`; in three questions for any number of woodlots.

    `said` are stored series, oldest first, whose hours gone by may stand in; each is looked at
    once, so that they need not all be held at a time.
    """
    lots = {lot.pk: lot for lot in woodlots}
    hours = max(1, (until - start_at) // HOUR)
    lapse = constants.number("weather.lapse_c_per_m")
    measured = _measured(lots, start_at, hours)
    archived = _archived(lots, start_at, hours, lapse)
    later: dict[int, Hours] = {pk: np.full(hours, np.nan) for pk in lots}
    for row in said:
        # What was still to come when it was fetched is forecast, and no word on what came.
        gone_by = max(0, (row.run.fetched_at - row.start_at) // HOUR)
        temps = at_woodlot(row, lots[row.woodlot_id], lapse)[0, :gone_by]
        # The newest word on an hour stands: it is laid last.
        _lay(later[row.woodlot_id], temps, (row.start_at - start_at) // HOUR)
    return {
        pk: Came(start_at, {MEASURED: measured[pk], ARCHIVED: archived[pk], SAID_LATER: later[pk]})
        for pk in lots
    }


def at_woodlot(row: HourlySeries, woodlot: Woodlot, lapse_c_per_m: float) -> Hours:
    """(members, hours) at the woodlot's own height; all unknown where the heights cannot be."""
    return _moved(row.temps_c(), row.elevation_used_m, woodlot, lapse_c_per_m)


def _moved(temps_c: Hours, used_m: float | None, woodlot: Woodlot, lapse_c_per_m: float) -> Hours:
    try:
        return to_woodlot(temps_c, used_m, woodlot, lapse_c_per_m, woodlot.temperature_offset_c)
    except DomainError:
        # Heights that cannot be cost their own hours only, and no other woodlot its scores.
        return np.full_like(temps_c, np.nan)


def _measured(lots: Mapping[int, Woodlot], start_at: datetime, hours: int) -> dict[int, Hours]:
    """The mean of what thermometers sent in an hour; else an imported record's value."""
    stop_at = start_at + hours * HOUR
    found = {pk: np.full(hours, np.nan) for pk in lots}
    years = range(start_at.year, stop_at.year + 1)
    # Whole hours since 1970: places in an array, without a calendar in between.
    first = int(start_at.timestamp()) // HOUR_S
    for row in RecordedYear.objects.filter(woodlot__in=lots, year__in=years):
        _lay(found[row.woodlot_id], row.temps_c(), first_hour_of_year(row.year) - first)
    sent: dict[int, list[tuple[int, float]]] = {}
    readings = ThermometerReading.objects.filter(
        thermometer__woodlot__in=lots, at__gte=start_at, at__lt=stop_at
    )
    for pk, at, temp_c in readings.values_list("thermometer__woodlot_id", "at", "temp_c"):
        sent.setdefault(pk, []).append((int(at.timestamp()) // HOUR_S - first, temp_c))
    for pk, pairs in sent.items():
        places = np.array([place for place, _ in pairs], dtype=np.intp)
        count = np.bincount(places, minlength=hours)
        total = np.bincount(places, weights=[temp for _, temp in pairs], minlength=hours)
        found[pk] = np.where(count > 0, total / np.maximum(count, 1), found[pk])
    return found


def _archived(
    lots: Mapping[int, Woodlot], start_at: datetime, hours: int, lapse_c_per_m: float
) -> dict[int, Hours]:
    found = {pk: np.full(hours, np.nan) for pk in lots}
    # The winter under way is not in the archive yet; a season looked back on may be.
    rows = ArchiveWinter.objects.filter(
        woodlot__in=lots,
        model=settings.WEATHER_ARCHIVE_MODEL,
        winter__range=(start_at.year, (start_at + hours * HOUR).year),
    )
    for row in rows:
        moved = _moved(row.temps_c(), row.elevation_used_m, lots[row.woodlot_id], lapse_c_per_m)
        _lay(found[row.woodlot_id], moved, (row.start_at - start_at) // HOUR)
    return found


def _lay(hours: Hours, temps_c: Hours, shift: int) -> None:
    """Write the known values over the hours, beginning `shift` hours after the first."""
    low, high = max(0, shift), min(hours.size, shift + temps_c.size)
    if low < high:
        part = temps_c[low - shift : high - shift]
        hours[low:high] = np.where(np.isnan(part), hours[low:high], part)


def first_of_each_day(
    woodlots: Iterable[Woodlot], since: datetime, zone: tzinfo, until: datetime
) -> Iterator[HourlySeries]:
    """Each woodlot's first series of each local day and model, oldest first, in one question.

    One forecast a day, so that a day with many refreshes counts no more than one with a single.
    They are read one after the other: a season of ensembles would not fit a small machine at once.
    """
    rows = HourlySeries.objects.filter(
        woodlot__in=[lot.pk for lot in woodlots],
        run__fetched_at__gte=since,
        run__fetched_at__lte=until,
    ).order_by("run__fetched_at", "pk")
    seen = set()
    for row in rows.select_related("run").iterator(ROWS_AT_A_TIME):
        run = row.run
        day = run.fetched_at.astimezone(zone).date()
        key = (row.woodlot_id, day, run.provider, run.product, run.model)
        if key not in seen:
            seen.add(key)
            yield row

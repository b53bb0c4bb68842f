"""How far the forecast reaches and which working days it rules out by cold.

A day's work is judged in the hours from 8 in the morning, local time, on temperatures already
moved to the woodlot's height. Wind is not stored, so wind chill stays unknown: an hour over the
air limit counts as unknown, and unknown hours never rule a day out.
"""

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo

import numpy as np
import numpy.typing as npt

from apps.domain.freeze_thaw import LocalDay, local_day_edges
from apps.domain.tapping import ColdLimits, judge_work_hours

FIRST_HOUR = 8
USUAL_HOURS = 8

Temperatures = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Hours:
    """One woodlot's corrected hours, NaN where missing."""

    woodlot: str
    start_at: datetime
    temps_c: Temperatures


@dataclass(frozen=True)
class WorkDay:
    """One woodlot's working hours of one day."""

    date: date
    woodlot: str
    warmest_c: float | None
    covered: bool
    ruled_out: bool


@dataclass(frozen=True)
class ColdDay:
    """A day ruled out in every woodlot with a forecast, and the warmest it gets in any."""

    date: date
    warmest_c: float


def work_days(
    series: Hours, zone: tzinfo, hours_per_day: float, limits: ColdLimits
) -> list[WorkDay]:
    """Judge the working hours of each local day the series touches."""
    size = max(USUAL_HOURS, math.ceil(hours_per_day))
    days = local_day_edges(series.start_at, series.temps_c.size, zone)
    return [_work_day(series, zone, day, size, hours_per_day, limits) for day in days]


def _work_day(
    series: Hours, zone: tzinfo, day: LocalDay, size: int, hours_needed: float, limits: ColdLimits
) -> WorkDay:
    temps, stamped = _window(series, zone, day, size)
    winds = np.full_like(temps, np.nan)
    known = temps[~np.isnan(temps)]
    return WorkDay(
        date=day.date,
        woodlot=series.woodlot,
        warmest_c=float(known.max()) if known.size else None,
        covered=bool(stamped.all()),
        ruled_out=judge_work_hours(temps, winds, hours_needed, limits).ruled_out,
    )


def _window(
    series: Hours, zone: tzinfo, day: LocalDay, size: int
) -> tuple[Temperatures, npt.NDArray[np.bool_]]:
    """The working hours' temperatures, and whether the series holds a stamp for each."""
    temps, stamped = np.full(size, np.nan), np.zeros(size, dtype=bool)
    for index in range(day.start_index, day.stop_index):
        at = (series.start_at + timedelta(hours=index)).astimezone(zone)
        place = at.hour - FIRST_HOUR
        if 0 <= place < size:
            temps[place], stamped[place] = series.temps_c[index], True
    return temps, stamped


def last_day_covered(days: Sequence[WorkDay]) -> date | None:
    """The last day whose working hours lie inside some woodlot's series."""
    return max((day.date for day in days if day.covered), default=None)


def ruled_out(days: Sequence[WorkDay], until: date | None) -> list[ColdDay]:
    """The days up to `until` too cold in every woodlot forecast: one workable woodlot is enough.

    A woodlot with unknown hours could still be workable, so it keeps the day open as well.
    """
    by_date: dict[date, list[WorkDay]] = defaultdict(list)
    for day in days:
        if until and day.date <= until:
            by_date[day.date].append(day)
    return [
        ColdDay(on, max(day.warmest_c for day in group if day.warmest_c is not None))
        for on, group in sorted(by_date.items())
        if all(day.ruled_out for day in group)
    ]

"""How far the forecast reaches and which working days it rules out by cold.

A day's work is judged in the hours from 8 in the morning, local time, on temperatures already
moved to the woodlot's height, in the wind of the same forecast. An hour of unknown wind is judged
by its temperature alone: over the air limit it may be workable, and never rules a day out.
"""

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo

import numpy as np
import numpy.typing as npt

from apps.domain.freeze_thaw import LocalDay, local_day_edges
from apps.domain.tapping import ColdLimits, judge_work_hours, wind_chill_c

FIRST_HOUR = 8
USUAL_HOURS = 8

Temperatures = npt.NDArray[np.float64]
Winds = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Hours:
    """One woodlot's corrected hours and their wind over open ground, NaN where missing."""

    woodlot: str
    start_at: datetime
    temps_c: Temperatures
    winds_kmh: Winds


@dataclass(frozen=True)
class WorkDay:
    """One woodlot's working hours of one day; `mildest_c` is the mildest wind chill of any.

    `by_wind` says that the air alone would not have ruled the day out. `winds_unknown` counts the
    hours that were judged by their temperature alone, of `hours_known` with a temperature.
    """

    date: date
    woodlot: str
    warmest_c: float | None
    covered: bool
    ruled_out: bool
    mildest_c: float | None
    by_wind: bool
    hours_known: int
    winds_unknown: int


@dataclass(frozen=True)
class ColdDay:
    """A day ruled out in every woodlot with a forecast, and the warmest it gets in any.

    `mildest_c` is the mildest wind chill in any, told where it took the wind to rule the day out.
    """

    date: date
    warmest_c: float
    mildest_c: float | None = None


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
    temps, winds, stamped = _window(series, zone, day, size)
    out = judge_work_hours(temps, winds, hours_needed, limits).ruled_out
    # With no wind known the air alone decides.
    no_winds = np.full_like(winds, np.nan)
    known = ~np.isnan(temps)
    return WorkDay(
        date=day.date,
        woodlot=series.woodlot,
        warmest_c=_highest(temps),
        covered=bool(stamped.all()),
        ruled_out=out,
        mildest_c=_highest(np.asarray(wind_chill_c(temps, winds))),
        by_wind=out and not judge_work_hours(temps, no_winds, hours_needed, limits).ruled_out,
        hours_known=int(known.sum()),
        winds_unknown=int(np.isnan(winds[known]).sum()),
    )


def _highest(hours: Temperatures) -> float | None:
    known = hours[~np.isnan(hours)]
    return float(known.max()) if known.size else None


def _window(
    series: Hours, zone: tzinfo, day: LocalDay, size: int
) -> tuple[Temperatures, Winds, npt.NDArray[np.bool_]]:
    """The working hours' temperatures and winds, and whether the series holds a stamp for each."""
    temps, winds, stamped = np.full(size, np.nan), np.full(size, np.nan), np.zeros(size, dtype=bool)
    for index in range(day.start_index, day.stop_index):
        at = (series.start_at + timedelta(hours=index)).astimezone(zone)
        place = at.hour - FIRST_HOUR
        if 0 <= place < size:
            temps[place], winds[place] = series.temps_c[index], series.winds_kmh[index]
            stamped[place] = True
    return temps, winds, stamped


def last_day_covered(days: Sequence[WorkDay]) -> date | None:
    """The last day whose working hours lie inside some woodlot's series."""
    return max((day.date for day in days if day.covered), default=None)


def ruled_out(days: Sequence[WorkDay], until: date | None) -> list[ColdDay]:
    """The days up to `until` too cold in every woodlot forecast: one workable woodlot is enough.

    A woodlot with unknown hours could still be workable, so it keeps the day open as well.
    """
    return [
        _cold_day(on, group)
        for on, group in _by_date(days, until)
        if all(day.ruled_out for day in group)
    ]


def _cold_day(on: date, group: Sequence[WorkDay]) -> ColdDay:
    warmest_c = max(day.warmest_c for day in group if day.warmest_c is not None)
    felt = [day.mildest_c for day in group if day.mildest_c is not None]
    return ColdDay(on, warmest_c, max(felt) if any(day.by_wind for day in group) else None)


def judged_without_wind(days: Sequence[WorkDay], until: date | None) -> list[date]:
    """The days up to `until` left open somewhere with hours judged by their temperature alone."""
    return [
        on
        for on, group in _by_date(days, until)
        if any(day.winds_unknown and not day.ruled_out for day in group)
    ]


def _by_date(days: Sequence[WorkDay], until: date | None) -> list[tuple[date, list[WorkDay]]]:
    by_date: dict[date, list[WorkDay]] = defaultdict(list)
    for day in days:
        if until and day.date <= until:
            by_date[day.date].append(day)
    return sorted(by_date.items())

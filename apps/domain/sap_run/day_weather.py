"""What the run rules need of each local day: extremes, mean, and warmth over freezing.

Formula: from hours, minimum, maximum, mean and thaw degree-hours (the sum of degrees over 0 C) of
a day with at least `fewest_hours` known hours; a day with fewer is unknown. From a minimum and a
maximum alone, a sine curve through both: with M their mean and W half their difference, thaw
degree-hours = 24 M when the minimum is over 0, 0 when the maximum is not, else
(24 / pi) (M (pi/2 - a) + W cos a) with a = arcsin(-M / W).
Units: C, degree-hours over 0 C. Days lie on the last axis; leading axes are members.
Validity: hourly values stamped at their start, -90 to 60 C. NaN is unknown and stays so.
Source: the sine curve is Baskerville and Emin (1969), Ecology 50:514 (from memory); the hours
needed are those of `freeze_thaw` (every hour), or its 20 for past records.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import numpy as np
import numpy.typing as npt

from apps.domain.errors import DomainError, OutOfRange
from apps.domain.freeze_thaw import LocalDay, summarise_days, thaw_degree_hours
from apps.domain.freeze_thaw.daily import COLDEST_C, WARMEST_C

Floats = npt.NDArray[np.floating[Any]]

HOURS_A_DAY = 24
DAY = timedelta(days=1)


@dataclass(frozen=True)
class DayWeather:
    """Days in a row, `dates` (days,), and arrays of (..., days); NaN where a day is unknown.

    Raises DomainError unless the dates follow each other and every array has a value for each.
    """

    dates: tuple[date, ...]
    minimum_c: Floats
    maximum_c: Floats
    mean_c: Floats
    thaw_degree_hours: Floats

    def __post_init__(self) -> None:
        for before, after in zip(self.dates, self.dates[1:], strict=False):
            if after - before != DAY:
                raise DomainError(f"dates must follow each other, not {before} then {after}")
        for name in ("minimum_c", "maximum_c", "mean_c", "thaw_degree_hours"):
            size = np.shape(getattr(self, name))[-1:]
            if size != (len(self.dates),):
                raise DomainError(f"{name} must have {len(self.dates)} days, not {size}")


def days_from_hours(
    temps_c: Floats, days: Sequence[LocalDay], fewest_hours: int | None = None
) -> DayWeather:
    """Days of (..., hours) temperatures, NaN missing; `days` comes from local_day_edges.

    A day is known with `fewest_hours` of its hours, or with all of them when None. Raises what
    summarise_days raises.
    """
    temps_c = np.asarray(temps_c, dtype=np.float64)
    summary = summarise_days(temps_c, days)
    needed = summary.full_hours if fewest_hours is None else fewest_hours
    known = summary.known_hours >= needed
    hours = np.maximum(summary.known_hours, 1)
    total = _sums(np.nan_to_num(temps_c), days)

    def only_known(values: Floats) -> Floats:
        return np.where(known, values, np.nan)

    return DayWeather(
        tuple(day.date for day in days),
        only_known(summary.minimum_c),
        only_known(summary.maximum_c),
        only_known(total / hours),
        only_known(thaw_degree_hours(temps_c, days)),
    )


def days_from_extremes(
    dates: Sequence[date], minimum_c: npt.ArrayLike, maximum_c: npt.ArrayLike
) -> DayWeather:
    """Days of a daily minimum and maximum, (..., days), a sine curve between them.

    Raises OutOfRange for a temperature outside -90 to 60 C, DomainError for a minimum over its
    maximum.
    """
    low = np.asarray(minimum_c, dtype=np.float64)
    high = np.asarray(maximum_c, dtype=np.float64)
    unknown = np.isnan(low) | np.isnan(high)
    _refuse_impossible(low[~unknown], high[~unknown])
    low, high = (np.where(unknown, np.nan, values) for values in (low, high))
    return DayWeather(tuple(dates), low, high, (low + high) / 2, sine_thaw_degree_hours(low, high))


def sine_thaw_degree_hours(minimum_c: Floats, maximum_c: Floats) -> Floats:
    """Degree-hours over 0 C in a day whose temperature is a sine between the two; NaN kept."""
    middle = (np.asarray(minimum_c) + np.asarray(maximum_c)) / 2
    swing = np.maximum((np.asarray(maximum_c) - np.asarray(minimum_c)) / 2, 1e-12)
    # Clipped, the formula gives 0 for a day all frozen and 24 M for a day all thawed.
    crossing = np.arcsin(np.clip(-middle / swing, -1, 1))
    warmth = middle * (np.pi / 2 - crossing) + swing * np.cos(crossing)
    hours: Floats = HOURS_A_DAY / np.pi * np.maximum(warmth, 0)
    return hours


def _sums(temps_c: Floats, days: Sequence[LocalDay]) -> Floats:
    if not days:
        return np.empty_like(temps_c)
    total: Floats = np.add.reduceat(temps_c, [day.start_index for day in days], axis=-1)
    return total


def _refuse_impossible(low: Floats, high: Floats) -> None:
    both = np.concatenate((low, high))
    bad = both[(both < COLDEST_C) | (both > WARMEST_C)]
    if bad.size:
        raise OutOfRange("temps_c", float(bad[0]), COLDEST_C, WARMEST_C)
    if (low > high).any():
        at = int(np.argmax(low > high))
        raise DomainError(f"minimum_c {low[at]:g} must not be over maximum_c {high[at]:g}")

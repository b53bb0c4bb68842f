"""Minimum, maximum and hours above and below freezing of each local day, for many series at once.

Formula: reductions over the hours of a day that are known. An hour is above (below) freezing
when its temperature rounded to 0.01 C is over (under) 0. Height correction:
t + lapse x (from height - to height) + offset.
Units: C, metres, hours. Series lie on the last axis; any leading axes (sites, members) are kept.
Validity: -90 to 60 C at -500 to 9,000 m. NaN means missing; a day with no known hour has NaN for
its minimum and maximum and 0 known hours.
Source: lapse 6.5 C per km, ISO 2533 (1975) standard atmosphere; the rest is counting.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from apps.domain.errors import DomainError, OutOfRange, require_range
from apps.domain.freeze_thaw.days import LocalDay

Temperatures = npt.NDArray[np.floating[Any]]
Counts = npt.NDArray[np.uint8]

LAPSE_C_PER_M = 0.0065
# Rounded to 0.01 C, a temperature is over 0 exactly when it is over 0.005 (halves go to even).
HALF_STEP_C = 0.005
COLDEST_C, WARMEST_C = -90.0, 60.0


@dataclass(frozen=True, slots=True)
class DailySummary:
    """Daily figures; arrays are (..., days), `full_hours` is (days,).

    Missing hours count against the day: `missing_hours` = `full_hours` - `known_hours`, the
    hours of a day outside the series included.
    """

    days: tuple[LocalDay, ...]
    minimum_c: Temperatures
    maximum_c: Temperatures
    known_hours: Counts
    hours_above_0: Counts
    hours_below_0: Counts

    @property
    def full_hours(self) -> Counts:
        """Hours each date has on the clock, (days,)."""
        return np.array([day.full_hours for day in self.days], dtype=np.uint8)

    @property
    def missing_hours(self) -> Counts:
        """Hours of each date that are not known, (..., days)."""
        return self.full_hours - self.known_hours


def correct_temperature(
    temps_c: float | Temperatures,
    from_elevation_m: float,
    to_elevation_m: float,
    lapse_c_per_m: float = LAPSE_C_PER_M,
    offset_c: float = 0.0,
) -> float | Temperatures:
    """Move temperatures from the height they stand for to another, plus a place's own offset.

    Any shape, NaN kept. Raises OutOfRange for heights outside -500 to 9,000 m, a lapse outside
    -0.02 to 0.02 C per metre or an offset over 15 C either way.
    """
    require_range("from_elevation_m", from_elevation_m, -500, 9000)
    require_range("to_elevation_m", to_elevation_m, -500, 9000)
    require_range("lapse_c_per_m", lapse_c_per_m, -0.02, 0.02)
    require_range("offset_c", offset_c, -15, 15)
    return temps_c + (lapse_c_per_m * (from_elevation_m - to_elevation_m) + offset_c)


def summarise_days(temps_c: Temperatures, days: Sequence[LocalDay]) -> DailySummary:
    """Daily minima, maxima, known hours and hours above and below 0 C of (..., hours) arrays.

    `days` comes from local_day_edges for the same series. Raises DomainError when the days do
    not cover the series exactly, OutOfRange for a temperature outside -90 to 60 C.
    """
    temps_c = np.asarray(temps_c)
    _refuse_other_edges(temps_c, days)
    edges = [day.start_index for day in days]
    if not edges:
        nothing, none = np.empty_like(temps_c), np.empty(temps_c.shape, np.uint8)
        return DailySummary((), nothing, nothing, none, none, none)
    # fmin and fmax pass over NaN, and give NaN only where a day has nothing else.
    summary = DailySummary(
        tuple(days),
        np.fmin.reduceat(temps_c, edges, axis=-1),
        np.fmax.reduceat(temps_c, edges, axis=-1),
        _count(temps_c == temps_c, edges),  # only NaN differs from itself
        _count(temps_c > HALF_STEP_C, edges),
        _count(temps_c < -HALF_STEP_C, edges),
    )
    _refuse_impossible(summary)
    return summary


def thaw_degree_hours(temps_c: Temperatures, days: Sequence[LocalDay]) -> Temperatures:
    """Degree-hours over 0 C of the known hours of each day, (..., hours) to (..., days).

    With hours missing it is a lower bound. Raises DomainError as summarise_days does.
    """
    temps_c = np.asarray(temps_c)
    _refuse_other_edges(temps_c, days)
    if not days:
        return np.empty_like(temps_c)
    # fmax passes over NaN, so a missing hour adds nothing.
    warmth = np.fmax(temps_c, 0)
    total: Temperatures = np.add.reduceat(warmth, [day.start_index for day in days], axis=-1)
    return total


def _count(hit: npt.NDArray[np.bool_], edges: list[int]) -> Counts:
    # Bytes are added as bytes: a day has at most 25 hours, and a wider sum would first widen
    # every hour of every member.
    counts: Counts = np.add.reduceat(hit.view(np.uint8), edges, axis=-1, dtype=np.uint8)
    return counts


def _refuse_other_edges(temps_c: Temperatures, days: Sequence[LocalDay]) -> None:
    if temps_c.ndim == 0:
        raise DomainError("temps_c must have hours on its last axis, not be a single number")
    stops = [0, *(day.stop_index for day in days)]
    starts = [*(day.start_index for day in days), temps_c.shape[-1]]
    if starts != stops:
        raise DomainError(
            f"days must cover hours 0 to {temps_c.shape[-1]} without gap or overlap, "
            f"not {starts[:-1]} to {stops[1:]}"
        )


def _refuse_impossible(summary: DailySummary) -> None:
    # The extremes are already there, so a bad hour costs no further pass over the hours.
    for value, beyond in ((summary.minimum_c, np.less), (summary.maximum_c, np.greater)):
        bad = beyond(value, COLDEST_C if beyond is np.less else WARMEST_C)
        if bad.any():
            raise OutOfRange("temps_c", float(value[bad][0]), COLDEST_C, WARMEST_C)

"""Freeze-thaw cycles and the longest thaw, for many hourly series at once.

Formula: an hour is F (under 0 C), T (over 0 C) or neutral (exactly 0, or missing), compared at
0.01 C. A neutral hour ends a run. A run of at least 3 equal hours qualifies. One cycle is a
qualifying T run whose last qualifying run before it was F; it is dated by the third hour of the
T run. The freeze of a cycle begins with the first qualifying F run since the last qualifying T
run. The longest thaw is the longest run of T hours.
Units: C, hours, indices into the last axis.
Validity: hourly series. A missing hour ends a run, so with hours missing a count is of cycles
seen and a longest thaw is a lower bound.
Source: common practice, no source; three hours keep a single warm gust from counting.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from apps.domain.errors import DomainError
from apps.domain.freeze_thaw.daily import HALF_STEP_C, Temperatures

QUALIFYING_HOURS = 3

Indices = npt.NDArray[np.intp]
Mask = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Cycle:
    """One freeze followed by one thaw, in series number `series` (leading axes flattened).

    The freeze starts at `freeze_index`, the thaw at `thaw_index`; `dated_index` is its third
    hour. `depth_c` is the lowest known temperature between the two; `freeze_hours` and
    `thaw_hours` are their lengths, `hours` the length of both.
    """

    series: int
    freeze_index: int
    thaw_index: int
    dated_index: int
    depth_c: float
    freeze_hours: int
    thaw_hours: int

    @property
    def hours(self) -> int:
        """Hours from the start of the freeze to the end of the thaw."""
        return self.freeze_hours + self.thaw_hours


@dataclass(frozen=True, slots=True)
class Cycles:
    """Cycles as columns of equal length, by series and then by time; see Cycle for the columns."""

    series: Indices
    freeze_index: Indices
    thaw_index: Indices
    depth_c: Temperatures
    freeze_hours: Indices
    thaw_hours: Indices

    @property
    def dated_index(self) -> Indices:
        """Third hour of each thaw, the hour a cycle is dated by."""
        return self.thaw_index + (QUALIFYING_HOURS - 1)

    def rows(self) -> list[Cycle]:
        """The same cycles one by one."""
        columns = (
            self.series,
            self.freeze_index,
            self.thaw_index,
            self.dated_index,
            self.depth_c,
            self.freeze_hours,
            self.thaw_hours,
        )
        return [Cycle(*row) for row in zip(*(c.tolist() for c in columns), strict=True)]


@dataclass(frozen=True, slots=True)
class _Found:
    """Flat positions: of each cycle's first frozen hour and of its first thawed hour."""

    freeze: Indices
    thaw: Indices


def count_cycles(temps_c: Temperatures) -> npt.NDArray[np.intp]:
    """Cycles in each series of a (..., hours) array; the result drops the last axis."""
    temps_c = _with_hours(temps_c)
    series = _find(temps_c).thaw // max(1, temps_c.shape[-1])
    count = int(np.prod(temps_c.shape[:-1]))
    return np.bincount(series, minlength=count).reshape(temps_c.shape[:-1])


def find_cycles(temps_c: Temperatures) -> Cycles:
    """Every cycle of a (..., hours) array, with its depth and lengths."""
    temps_c = _with_hours(temps_c)
    hours = max(1, temps_c.shape[-1])
    found = _find(temps_c)
    ends = _run_ends(temps_c > HALF_STEP_C)
    # The first run end at or after a thaw's start is that thaw's own.
    thaw_stop = ends[np.searchsorted(ends, found.thaw)] + 1
    return Cycles(
        series=found.thaw // hours,
        freeze_index=found.freeze % hours,
        thaw_index=found.thaw % hours,
        depth_c=_lowest_between(temps_c.reshape(-1), found.freeze, found.thaw),
        freeze_hours=found.thaw - found.freeze,
        thaw_hours=thaw_stop - found.thaw,
    )


def _lowest_between(temps_c: Temperatures, starts: Indices, stops: Indices) -> Temperatures:
    if not starts.size:
        return np.empty(0, dtype=temps_c.dtype)
    # Starts and stops alternate, so every other segment is a freeze.
    segments = np.column_stack((starts, stops)).ravel()
    lowest: Temperatures = np.fmin.reduceat(temps_c, segments)[::2]
    return lowest


def longest_thaw_hours(temps_c: Temperatures) -> npt.NDArray[np.intp]:
    """Longest run of known hours over 0 C in each series of a (..., hours) array."""
    temps_c = _with_hours(temps_c)
    # Starts and ends come in equal number and order, so they pair off by position.
    thawed = temps_c > HALF_STEP_C
    lengths = _run_ends(thawed) + 1 - _run_starts(thawed)
    longest = np.zeros(int(np.prod(temps_c.shape[:-1])), dtype=np.intp)
    np.maximum.at(longest, _run_ends(thawed) // max(1, temps_c.shape[-1]), lengths)
    return longest.reshape(temps_c.shape[:-1])


def _with_hours(temps_c: Temperatures) -> Temperatures:
    if np.ndim(temps_c) == 0:
        raise DomainError("temps_c must have hours on its last axis, not be a single number")
    return np.ascontiguousarray(temps_c)


def _find(temps_c: Temperatures) -> _Found:
    thawed = _qualified(temps_c > HALF_STEP_C)
    frozen = _qualified(temps_c < -HALF_STEP_C)
    # Only the first qualified hour of each run matters, and runs are few: from here on the
    # arrays are short.
    is_thaw_at = np.sort(np.concatenate((_run_starts(thawed) * 2 + 1, _run_starts(frozen) * 2)))
    at, is_thaw = is_thaw_at >> 1, (is_thaw_at & 1).astype(bool)
    new_series = np.ones(at.size, dtype=bool)
    # Series lie end to end in the flat array; what one ended on must not reach the next.
    new_series[1:] = np.diff(at // max(1, temps_c.shape[-1])) > 0
    follows_thaw = np.ones(at.size, dtype=bool)
    follows_thaw[1:] = is_thaw[:-1]
    opens_freeze = ~is_thaw & (new_series | follows_thaw)
    is_cycle = is_thaw & ~new_series & ~follows_thaw
    # The freeze of a cycle is the latest one opened before it.
    opened = np.maximum.accumulate(np.where(opens_freeze, at, 0))
    before = QUALIFYING_HOURS - 1
    return _Found(opened[is_cycle] - before, at[is_cycle] - before)


def _qualified(hit: Mask) -> Mask:
    """True from the third hour of a run on."""
    qualified = hit.copy()
    for back in range(1, QUALIFYING_HOURS):
        qualified[..., back:] &= hit[..., :-back]
        qualified[..., :back] = False
    return qualified


def _run_starts(hit: Mask) -> Indices:
    starts = hit.copy()
    starts[..., 1:] &= ~hit[..., :-1]
    return np.flatnonzero(starts)


def _run_ends(hit: Mask) -> Indices:
    ends = hit.copy()
    ends[..., :-1] &= ~hit[..., 1:]
    return np.flatnonzero(ends)

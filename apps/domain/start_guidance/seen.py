"""What the members of a forecast say of each day ahead, and when the first of them runs.

Formula: a member's day is a run day when its run likelihood is high (two in three); its first run
is the first run day on which the thaw degree-hours gathered since its last hard freeze reach
`first_run_degree_hours` and that begins a week with at least three run days: one freeze-thaw day in
January is no first run, and what the member cannot see of that week counts for nothing. A day's
shares are taken over the members that know the day: each model
weighs the same, and within it each member. A day is likely this or that from a share of a half.
Units: C, degree-hours over 0 C, shares 0 to 1. Arrays are (members, days).
Validity: a member is known up to its first unknown day. Under ten members a share is no percentage
and `fit_for_percent` says so. Two days before the first one shown settle whether sap runs; without
them its likelihood is unknown, and no first run.
Source: run likelihood and hard freeze as in `sap_run`; equal weight per model and the limits are
common practice, no source.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from apps.domain.errors import DomainError, require_range
from apps.domain.freeze_thaw.verdicts import FREEZE_C, THAW_C
from apps.domain.sap_run import DayWeather, run_probability
from apps.domain.sap_run.first_run import HARD_FREEZE_C
from apps.domain.sap_run.likelihood import FEWEST_MEMBERS, HIGH_FROM
from apps.domain.tapping.pace import DAY
from apps.domain.units import celsius_from_fahrenheit

Floats = npt.NDArray[np.floating[Any]]
Mask = npt.NDArray[np.bool_]

LIKELY = 0.5
NEVER: Final = -1
SPELL_RUN_DAYS, SPELL_DAYS = 3, 7


@dataclass(frozen=True, slots=True)
class Signs:
    """What to look for in a forecast; every value is a setting, common practice, no source.

    About `frozen_days` frozen days with `warm_c` at the end of them mean start now; freeze-thaw
    days within `plan_days` mean time to plan; a warm spell at most `wait_out_days` off is waited
    out.
    """

    freeze_c: float = FREEZE_C
    thaw_c: float = THAW_C
    warm_c: float = float(celsius_from_fahrenheit(40.0))
    first_run_degree_hours: float = 100.0
    frozen_days: int = 10
    plan_days: int = 10
    wait_out_days: int = 2
    trusted_days: int = 7

    def __post_init__(self) -> None:
        for name in ("freeze_c", "thaw_c", "warm_c"):
            require_range(name, getattr(self, name), -40, 40)
        if not self.freeze_c < self.thaw_c <= self.warm_c:
            raise DomainError("freeze_c must be under thaw_c, and thaw_c not over warm_c")
        require_range("first_run_degree_hours", self.first_run_degree_hours, 0, 5000)
        for name in ("frozen_days", "plan_days", "wait_out_days", "trusted_days"):
            require_range(name, getattr(self, name), 0, 30)


USUAL_SIGNS: Final = Signs()


@dataclass(frozen=True, slots=True)
class DaySeen:
    """Shares of the members for one day; `run` is None where the days before are unknown."""

    date: date
    members: int
    thaw: float
    warm: float
    freeze_thaw: float
    run: float | None

    @property
    def sap_likely(self) -> bool:
        """Whether sap more likely than not runs; a thaw stands in where that is unknown."""
        return (self.thaw if self.run is None else self.run) >= LIKELY


@dataclass(frozen=True, eq=False)
class Seen:
    """Days ahead, and of each member its weight, last known day and first run (place in `days`).

    `runs` (members, days) marks run days; `first_run` is -1 where a member has none.
    """

    days: tuple[DaySeen, ...]
    weight: Floats
    known_days: npt.NDArray[np.intp]
    first_run: npt.NDArray[np.intp]
    runs: Mask

    @property
    def fit_for_percent(self) -> bool:
        return self.weight.size >= FEWEST_MEMBERS

    @property
    def until(self) -> date:
        """The last day any member knows."""
        return self.days[-1].date


def look_ahead(
    models: Sequence[DayWeather],
    today: date,
    signs: Signs = USUAL_SIGNS,
    gathered_degree_hours: float = 0.0,
) -> Seen | None:
    """The days from today on of every model's (members, days), or None when no member knows today.

    `gathered_degree_hours` were gathered before each model's first day since the last hard freeze.
    Days of different models are matched by date.
    """
    parts = [part for model in models if (part := _Part(model, today)).known.any()]
    if not parts:
        return None
    size = max(int(part.known.max()) for part in parts)
    found = [part.runs_and_first(size, signs, gathered_degree_hours) for part in parts]
    known = np.concatenate([part.known for part in parts])
    first = np.concatenate([first for _, first in found])
    weight = [np.full(part.known.size, 1 / len(parts) / part.known.size) for part in parts]
    return Seen(
        days=tuple(_day(parts, today, at, signs) for at in range(size)),
        weight=np.concatenate(weight),
        known_days=np.minimum(known, signs.trusted_days),
        first_run=np.where(first < signs.trusted_days, first, NEVER),
        runs=np.concatenate([runs for runs, _ in found]),
    )


def gathered_since_hard_freeze(weather: DayWeather, before_degree_hours: float = 0.0) -> Floats:
    """Thaw degree-hours since each series' last hard freeze, (..., days), unknown days adding none.

    What was gathered before the first day counts until a hard freeze comes. Raises OutOfRange for
    less than 0 of it.
    """
    require_range("before_degree_hours", before_degree_hours, 0, 100_000)
    warmth = np.nan_to_num(weather.thaw_degree_hours)
    total = before_degree_hours + np.cumsum(warmth, axis=-1)
    eve = np.where(weather.minimum_c <= HARD_FREEZE_C, total - warmth, 0.0)
    gathered: Floats = total - np.maximum.accumulate(eve, axis=-1)
    return gathered


class _Part:
    """One model's members from today on, those without today left out."""

    def __init__(self, model: DayWeather, today: date) -> None:
        self.model = model
        self.start = (today - model.dates[0]).days if model.dates else 0
        minimum = np.atleast_2d(model.minimum_c)
        ahead = ~np.isnan(minimum[:, max(self.start, 0) :])
        known = np.cumprod(ahead, axis=-1, dtype=np.intp).sum(axis=-1)
        self.kept = known > 0 if self.start >= 0 else np.zeros(len(minimum), dtype=bool)
        self.known: npt.NDArray[np.intp] = known[self.kept]
        self.likelihood = self.ahead(run_probability(model))
        self.minimum, self.maximum = self.ahead(model.minimum_c), self.ahead(model.maximum_c)

    def ahead(self, values: Floats) -> Floats:
        return np.atleast_2d(values)[self.kept, max(self.start, 0) :]

    def runs_and_first(
        self, size: int, signs: Signs, gathered: float
    ) -> tuple[Mask, npt.NDArray[np.intp]]:
        """(members, size) run days, and the place of each member's first run or -1."""
        warmth = self.ahead(gathered_since_hard_freeze(self.model, gathered))
        days = np.arange(self.minimum.shape[1])
        runs = (self.likelihood >= HIGH_FROM) & (days < self.known[:, None])
        opened = runs & (warmth >= signs.first_run_degree_hours) & _begins_spell(runs)
        first = np.where(opened.any(axis=1), opened.argmax(axis=1), NEVER)
        padded = np.zeros((len(runs), size), dtype=bool)
        padded[:, : min(size, runs.shape[1])] = runs[:, :size]
        return padded, first


def _begins_spell(runs: Mask) -> Mask:
    """Whether the week from each day on holds at least three run days."""
    upto = np.cumsum(runs, axis=1)
    week_end = np.minimum(np.arange(runs.shape[1]) + SPELL_DAYS - 1, runs.shape[1] - 1)
    begins: Mask = upto[:, week_end] - upto + runs >= SPELL_RUN_DAYS
    return begins


def _day(parts: Sequence[_Part], today: date, at: int, signs: Signs) -> DaySeen:
    heard = [part for part in parts if (part.known > at).any()]

    def share(values: Sequence[Floats | Mask]) -> float:
        return float(np.mean([one.mean() for one in values]))

    low = [part.minimum[part.known > at, at] for part in heard]
    high = [part.maximum[part.known > at, at] for part in heard]
    run = [part.likelihood[part.known > at, at] for part in heard]
    known_run = [one[~np.isnan(one)] for one in run]
    stated = [one for one in known_run if one.size]
    both = [(a <= signs.freeze_c) & (b >= signs.thaw_c) for a, b in zip(low, high, strict=True)]
    return DaySeen(
        date=today + at * DAY,
        members=sum(one.size for one in low),
        thaw=share([one >= signs.thaw_c for one in high]),
        warm=share([one >= signs.warm_c for one in high]),
        freeze_thaw=share(both),
        run=share(stated) if stated else None,
    )

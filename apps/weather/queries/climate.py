"""What past winters of a woodlot come to: freeze-thaw by week, runs and warm spells by year."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta, tzinfo

import numpy as np
import numpy.typing as npt

from apps.domain.freeze_thaw import Limits, judge_extremes
from apps.domain.sap_run import DayWeather, InferredRun, run_probability
from apps.domain.sap_run.likelihood import HIGH_FROM
from apps.operation.queries import Constants
from apps.weather.queries.history import Winters, first_runs_of_days

DAYS_A_WEEK = 7
# 40 F for two days or more in a row: common practice, no source.
WARM_C, WARM_DAYS = 4.4, 2
# A spell after this finds the season open anyhow.
SPELLS_UNTIL_MONTH = 2


@dataclass(frozen=True)
class WeekOfWinters:
    """One week of the calendar over all winters: known days, and those that froze and thawed.

    Named by its first day in a winter without a leap day.
    """

    first: date
    known_days: int
    freeze_thaw_days: int

    @property
    def share(self) -> float | None:
        return self.freeze_thaw_days / self.known_days if self.known_days else None


@dataclass(frozen=True)
class WinterFigures:
    """One winter: what the weather would have let happen; days counted are of the known ones."""

    winter: int
    own: bool
    source: str
    first_run: InferredRun | None
    freeze_thaw_days: int
    likely_days: int
    warm_spells: int
    known_days: int
    days: int


@dataclass(frozen=True)
class Climate:
    """The winters of one woodlot, the newest first, and the weeks over all of them."""

    winters: tuple[WinterFigures, ...]
    weeks: tuple[WeekOfWinters, ...]

    @property
    def sources(self) -> list[str]:
        """Each named once, in the order of the winters."""
        return list(dict.fromkeys(row.source for row in self.winters))


def climate(winters: Winters, in_use: Constants, tz: tzinfo) -> Climate:
    """Raises DomainError when the owner's limits stand against each other."""
    limits = Limits(in_use.number("weather.freeze_c"), in_use.number("weather.thaw_c"))
    days = {winter: hours.days(tz) for winter, hours in winters.items()}
    runs = first_runs_of_days(days, {})
    hits = {winter: freeze_thaw_codes(one, limits) for winter, one in days.items()}
    figures = [
        WinterFigures(
            winter=winter,
            own=winters[winter].own,
            source=winters[winter].source,
            first_run=runs.get(winter),
            freeze_thaw_days=int((hits[winter] == 1).sum()),
            likely_days=int((run_probability(one) >= HIGH_FROM).sum()),
            warm_spells=_warm_spells(one),
            known_days=int((hits[winter] >= 0).sum()),
            days=len(one.dates),
        )
        for winter, one in sorted(days.items(), reverse=True)
    ]
    return Climate(tuple(figures), _weeks(list(days.values()), list(hits.values())))


def freeze_thaw_codes(days: DayWeather, limits: Limits) -> npt.NDArray[np.int8]:
    """1 yes, 0 no, -1 unknown."""
    codes = {"yes": 1, "no": 0, "unknown": -1}
    pairs = zip(days.minimum_c.tolist(), days.maximum_c.tolist(), strict=True)
    return np.array(
        [codes[judge_extremes(*pair, limits)] if pair[0] == pair[0] else -1 for pair in pairs],
        dtype=np.int8,
    )


def _warm_spells(days: DayWeather) -> int:
    """Spells begun in January or February; an unknown day ends one."""
    warm = days.maximum_c >= WARM_C
    long = warm.copy()
    for back in range(1, WARM_DAYS):
        long[back:] &= warm[:-back]
        long[:back] = False
    begins = long & ~np.concatenate(([False], long[:-1]))
    return sum(
        days.dates[place - WARM_DAYS + 1].month <= SPELLS_UNTIL_MONTH
        for place in np.flatnonzero(begins).tolist()
    )


def _weeks(
    days: Sequence[DayWeather], hits: Sequence[npt.NDArray[np.int8]]
) -> tuple[WeekOfWinters, ...]:
    """By seven days from 1 December, 29 February in the week it falls into."""
    known: dict[int, int] = {}
    yes: dict[int, int] = {}
    for one, verdicts in zip(days, hits, strict=True):
        for day, verdict in zip(one.dates, verdicts.tolist(), strict=True):
            week = day_of_winter(day) // DAYS_A_WEEK
            known[week] = known.get(week, 0) + (verdict >= 0)
            yes[week] = yes.get(week, 0) + (verdict == 1)
    return tuple(
        WeekOfWinters(
            date(2026, 12, 1) + timedelta(days=week * DAYS_A_WEEK), known[week], yes[week]
        )
        for week in sorted(known)
    )


def day_of_winter(day: date) -> int:
    """Days since the last 1 December, counted as if no year had a leap day."""
    start = date(day.year - (day.month < 12), 12, 1)
    # So that dates and weeks line up over the years; 29 February shares the place of the 28th.
    leap = day.month < 12 and day > date(day.year, 2, 28) and _leap(day.year)
    return (day - start).days - leap


def _leap(year: int) -> bool:
    return year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)

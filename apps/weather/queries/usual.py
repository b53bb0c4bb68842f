"""What past winters brought about the dates ahead, for where there is no forecast fit to show.

History and no forecast: it knows nothing of this winter. Each date is counted over all stored
winters with the three days either side of it, so that 25 winters give 175 days and not 25 (common
practice, no source). Days are placed as if no year had a leap day; unknown days are left out.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta, tzinfo

import numpy as np
import numpy.typing as npt

from apps.domain.errors import DomainError
from apps.domain.freeze_thaw import Limits
from apps.domain.sap_run import DayWeather, run_probability
from apps.domain.sap_run.likelihood import HIGH_FROM
from apps.operation.queries import Constants
from apps.weather.queries.climate import day_of_winter, freeze_thaw_codes
from apps.weather.queries.history import Winters, histories
from apps.woods.models import Woodlot

EITHER_SIDE_DAYS = 3
DAYS_AHEAD = 14


@dataclass(frozen=True)
class UsualDay:
    """One date over all winters: days known, and of these the ones of each kind.

    `run_known_days` is fewer where the days before, which a run hangs on, are unknown.
    """

    date: date
    known_days: int
    freeze_thaw_days: int
    run_known_days: int
    run_days: int
    lowest_c: float | None
    highest_c: float | None

    @property
    def freeze_thaw_share(self) -> float | None:
        return self.freeze_thaw_days / self.known_days if self.known_days else None

    @property
    def run_share(self) -> float | None:
        return self.run_days / self.run_known_days if self.run_known_days else None


@dataclass(frozen=True)
class Usual:
    """`winters` stored, by their spring; no `days` where none of them knows these dates."""

    woodlot: Woodlot
    winters: tuple[int, ...]
    sources: tuple[str, ...]
    days: tuple[UsualDay, ...]


def usual(
    woodlots: Sequence[Woodlot], in_use: Constants, tz: tzinfo, today: date
) -> dict[int, Usual]:
    """By the id of the woodlot; empty while the owner's limits stand against each other."""
    try:
        limits = Limits(in_use.number("weather.freeze_c"), in_use.number("weather.thaw_c"))
    except DomainError:
        # No day can be judged then, past ones no more than those to come.
        return {}
    lots = {lot.pk: lot for lot in woodlots}
    stored = histories(lots.values(), in_use) if lots else {}
    return {pk: _usual(lots[pk], winters, limits, tz, today) for pk, winters in stored.items()}


def _usual(woodlot: Woodlot, winters: Winters, limits: Limits, tz: tzinfo, today: date) -> Usual:
    parts = [_Part(one.days(tz), limits) for one in winters.values()]
    ahead = [today + place * timedelta(days=1) for place in range(DAYS_AHEAD)]
    days = [_day(on, parts) for on in ahead]
    return Usual(
        woodlot,
        winters=tuple(winters),
        sources=tuple(dict.fromkeys(one.source for one in winters.values())),
        days=tuple(days) if any(day.known_days for day in days) else (),
    )


class _Part:
    """One winter's local days by their place in the winter."""

    def __init__(self, days: DayWeather, limits: Limits) -> None:
        self.place = np.array([day_of_winter(day) for day in days.dates])
        self.freeze_thaw = freeze_thaw_codes(days, limits)
        self.run = run_probability(days)
        self.low_c, self.high_c = days.minimum_c, days.maximum_c

    def near(self, on: date) -> npt.NDArray[np.bool_]:
        near: npt.NDArray[np.bool_] = abs(self.place - day_of_winter(on)) <= EITHER_SIDE_DAYS
        return near


def _day(on: date, parts: Sequence[_Part]) -> UsualDay:
    near = [(part, part.near(on)) for part in parts]
    empty = [np.array([])]
    codes = np.concatenate(empty + [part.freeze_thaw[at] for part, at in near])
    run = np.concatenate(empty + [part.run[at] for part, at in near])
    return UsualDay(
        date=on,
        known_days=int((codes >= 0).sum()),
        freeze_thaw_days=int((codes == 1).sum()),
        run_known_days=int((~np.isnan(run)).sum()),
        run_days=int((run >= HIGH_FROM).sum()),
        lowest_c=_middle(np.concatenate(empty + [part.low_c[at] for part, at in near])),
        highest_c=_middle(np.concatenate(empty + [part.high_c[at] for part, at in near])),
    )


def _middle(values: npt.NDArray[np.float64]) -> float | None:
    known = values[~np.isnan(values)]
    return float(np.median(known)) if known.size else None

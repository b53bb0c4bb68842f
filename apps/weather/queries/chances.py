"""The chance that each local day freezes and thaws, from every model that gives members.

Each model weighs the same, however many members it has: a chance is the mean of the models'
shares, and a share is the members that meet the rule over those with every hour of the day
known. Under ten such members in all there is no percentage, and a single forecast never has one.
"""

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache
from zoneinfo import ZoneInfo

import numpy as np

from apps.domain.errors import DomainError
from apps.domain.freeze_thaw import (
    DailySummary,
    FreezeThawDay,
    LocalDay,
    judge_days,
    local_day_edges,
    member_shares,
    summarise_days,
)
from apps.domain.freeze_thaw import Limits as FreezeThawLimits
from apps.operation.queries import Constants
from apps.weather.models import ForecastRun
from apps.weather.queries.age import Staleness
from apps.weather.queries.days import DAYS_SHOWN
from apps.weather.queries.grid import possible_only
from apps.weather.queries.series import (
    Hours,
    StoredSeries,
    at_woodlot,
    best_series,
    newest_series,
    source_rank,
)
from apps.woods.models import Woodlot

FEWEST_MEMBERS = 10
# Today is the first day; the eighth and later ones are marked. Common practice, no source.
CERTAIN_DAYS = 7


@dataclass(frozen=True, eq=False)
class ModelMembers:
    """One model's members at one woodlot's height: C, (members, hours) from `start_at`, UTC.

    NaN is a missing hour. `native_step_hours` is how far apart the model itself makes its values;
    those between are interpolated.
    """

    provider: str
    product: str
    model: str
    start_at: datetime
    temps_c: Hours
    run: ForecastRun
    native_step_hours: int | None
    staleness: Staleness

    @property
    def gives_chances(self) -> bool:
        return len(self.temps_c) > 1


@dataclass(frozen=True)
class DayChance:
    """One local day of one woodlot.

    `probability` rests on `full` members of `models` models, of which `yes` froze and thawed;
    None where that is too few. `verdict` is what the single forecast says of the day, in words.
    Minimum and maximum are the middle (median) of the members, each model weighing the same, or
    the single forecast's; `lowest_c` and `highest_c` are the outermost of all members. `lead_days`
    is 0 for today.
    """

    date: date
    probability: float | None
    yes: int
    full: int
    models: int
    verdict: str
    minimum_c: float | None
    maximum_c: float | None
    lowest_c: float | None
    highest_c: float | None
    lead_days: int
    low_confidence: bool


def members(
    woodlots: Sequence[Woodlot], constants: Constants, now: datetime
) -> dict[int, list[ModelMembers]]:
    """The newest good members of each model that are young enough to go by, by woodlot id.

    Where no model has any, the single forecast stands alone as one member: it gives no chance.
    A woodlot with nothing to go by has an empty list.
    """
    found = newest_series(woodlots, now)
    lapse = constants.number("weather.lapse_c_per_m")
    return {
        woodlot.pk: _members_of(woodlot, found.get(woodlot.pk, []), lapse, now)
        for woodlot in woodlots
    }


def _members_of(
    woodlot: Woodlot, candidates: list[StoredSeries], lapse_c_per_m: float, now: datetime
) -> list[ModelMembers]:
    # The zone only words an age here.
    utc = ZoneInfo("UTC")
    young = [one for one in candidates if not one.staleness(now, utc).withheld]
    ensembles = [one for one in young if one.gives_chances]
    single = best_series(young, now, utc)
    chosen = ensembles or ([single] if single else [])
    made = []
    for series in sorted(chosen, key=lambda one: (source_rank(one.run), one.run.model)):
        try:
            temps_c = possible_only(at_woodlot(series, woodlot, lapse_c_per_m))
        except DomainError:
            # Heights that cannot be: the page of days says so; a chance must not rest on it.
            continue
        run = series.run
        made.append(
            ModelMembers(
                provider=run.provider,
                product=run.product,
                model=run.model,
                start_at=series.start_at,
                temps_c=temps_c,
                run=run,
                native_step_hours=run.native_step_hours,
                staleness=series.staleness(now, utc),
            )
        )
    return made


def day_chances(
    woodlots: Sequence[Woodlot], constants: Constants, tz: ZoneInfo, now: datetime
) -> dict[int, list[DayChance]]:
    """The days from today on of each woodlot, by id; an empty list with nothing to go by."""
    found = newest_series(woodlots, now)
    return {
        woodlot.pk: woodlot_chances(woodlot, found.get(woodlot.pk, []), constants, tz, now)
        for woodlot in woodlots
    }


def woodlot_chances(
    woodlot: Woodlot,
    candidates: list[StoredSeries],
    constants: Constants,
    tz: ZoneInfo,
    now: datetime,
) -> list[DayChance]:
    """The same for one woodlot whose series are already read."""
    lapse = constants.number("weather.lapse_c_per_m")
    try:
        limits = FreezeThawLimits(
            constants.number("weather.freeze_c"), constants.number("weather.thaw_c")
        )
    except DomainError:
        # Limits set against each other: the page of days says so.
        return []
    single: dict[date, FreezeThawDay] = {}
    # Hours spoilt in the store: the page of days says so too, and chances may still stand.
    with suppress(DomainError):
        single = _single_days(woodlot, candidates, lapse, limits, tz, now)
    judged = _judged(_members_of(woodlot, candidates, lapse, now), limits, tz)
    today = now.astimezone(tz).date()
    dates = sorted({*single, *(day for model in judged for day in model.places)})
    return [
        _chance(day, judged, single.get(day), (day - today).days)
        for day in dates
        if 0 <= (day - today).days < DAYS_SHOWN
    ]


def _single_days(
    woodlot: Woodlot,
    candidates: list[StoredSeries],
    lapse_c_per_m: float,
    limits: FreezeThawLimits,
    tz: ZoneInfo,
    now: datetime,
) -> dict[date, FreezeThawDay]:
    """What the one series to judge days by says: a forecast, else a control run."""
    best = best_series(candidates, now, tz)
    if best is None or best.staleness(now, tz).withheld:
        return {}
    temps_c = at_woodlot(best, woodlot, lapse_c_per_m)[0]
    days = judge_days(temps_c, best.start_at, tz, limits.freeze_c, limits.thaw_c)
    return {day.date: day for day in days}


def _judged(models: list[ModelMembers], limits: FreezeThawLimits, tz: ZoneInfo) -> list["_Judged"]:
    found = []
    for model in models:
        # Hours spoilt in the store cost their own model only.
        with suppress(DomainError):
            if model.gives_chances:
                found.append(_Judged(model, limits, tz))
    return found


@lru_cache(maxsize=32)
def _edges(start_at: datetime, hours: int, tz: ZoneInfo) -> tuple[LocalDay, ...]:
    """The same for every woodlot of a run, so reckoned once for a page of them."""
    return tuple(local_day_edges(start_at, hours, tz))


class _Judged:
    """One model's members, judged for every local day its hours touch."""

    def __init__(self, model: ModelMembers, limits: FreezeThawLimits, tz: ZoneInfo) -> None:
        days = _edges(model.start_at, model.temps_c.shape[1], tz)
        self.summary: DailySummary = summarise_days(model.temps_c, days)
        self.shares = member_shares(self.summary, limits)
        self.places = {share.date: place for place, share in enumerate(self.shares)}
        self.full = self.summary.known_hours == self.summary.full_hours

    def extremes(self, day: date) -> tuple[Hours, Hours]:
        """Minimum and maximum of each fully known member."""
        place = self.places[day]
        whole = self.full[:, place]
        return self.summary.minimum_c[whole, place], self.summary.maximum_c[whole, place]


def _chance(
    day: date, judged: list[_Judged], single: FreezeThawDay | None, lead_days: int
) -> DayChance:
    of_day = [model for model in judged if day in model.places]
    shares = [model.shares[model.places[day]] for model in of_day]
    counted = [(model, one) for model, one in zip(of_day, shares, strict=True) if one.full]
    full = sum(share.full for _, share in counted)
    enough = full >= FEWEST_MEMBERS
    lows, highs = [], []
    for model, _ in counted if enough else ():
        low, high = model.extremes(day)
        lows.append(low)
        highs.append(high)
    said = (single.minimum_c, single.maximum_c) if single else (None, None)
    minimum_c, maximum_c = (_middle(lows), _middle(highs)) if enough else said
    return DayChance(
        date=day,
        probability=_pooled([share.yes / share.full for _, share in counted]) if enough else None,
        yes=sum(share.yes for _, share in counted),
        full=full,
        models=len(counted),
        verdict=single.verdict if single else "unknown",
        minimum_c=minimum_c,
        maximum_c=maximum_c,
        lowest_c=float(min(low.min() for low in lows)) if enough else None,
        highest_c=float(max(high.max() for high in highs)) if enough else None,
        lead_days=lead_days,
        low_confidence=lead_days >= CERTAIN_DAYS,
    )


def _pooled(shares: list[float]) -> float:
    return sum(shares) / len(shares)


def _middle(groups: list[Hours]) -> float:
    """The median of all values, each group of members weighing the same."""
    values = np.concatenate(groups)
    weights = np.concatenate([np.full(len(group), 1 / len(group)) for group in groups])
    order = np.argsort(values)
    reached = np.cumsum(weights[order])
    return float(values[order][np.searchsorted(reached, reached[-1] / 2)])

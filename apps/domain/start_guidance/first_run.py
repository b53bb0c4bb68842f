"""When the first run may come: the members as far as they are trusted, then the past seasons.

Formula: a member with a first run in the days trusted puts its weight on that day. One without
spreads it evenly over the past first runs later than its last day; where there are past first runs
but none so late, it puts it on the day after (the safe side). The members' share m with a first run
in those days is first weighed with the share q of the past first runs still to come that came by
their end: p = sqrt(m q) / (sqrt(m q) + sqrt((1 - m)(1 - q))), each share with half a member or half
a season added either way; with no such member p is 0, without past seasons it is m. The chance
that every tap is in is the weight on days from the ready morning on; the share caught is the sum
over days of the weight times the share of taps in. Without members the past alone is spread.
Units: whole days, shares 0 to 1.
Validity: past first runs keep their place in the season. No smoothing and no interpolation: with
few seasons a chance moves in large steps. Where nothing is known beyond the forecast, the chance of
a morning beyond it is None.
Source: logarithmic opinion pool with equal weights, Genest and Zidek (1986), Statistical Science
1:114 (from memory); the rest is counting.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final, Literal

import numpy as np

from apps.domain.errors import require_range
from apps.domain.start_guidance.seen import Seen
from apps.domain.start_guidance.starts import PossibleStart
from apps.domain.tapping import days_from_december, seasons_missed
from apps.domain.tapping.pace import DAY

PastSource = Literal["recorded", "inferred"]
FEWEST_RECORDED = 3
# Sums of weights such as 8 x 0.1 must not fall short of 0.8.
WEIGHT_DECIMALS = 9
TINY: Final = 1e-12


@dataclass(frozen=True)
class Past:
    """First runs of past seasons, and whether they were recorded or inferred; never both."""

    first_runs: Mapping[int, date]
    source: PastSource

    def in_season(self, season: int) -> list[date]:
        """Each on the calendar of this season, earliest first."""
        december = date(season - 1, 12, 1)
        places = sorted(days_from_december(day) for day in self.first_runs.values())
        return [december + place * DAY for place in places]

    def missed(self, morning: date, season: int) -> tuple[int, ...]:
        """Seasons whose first run came before this morning; before 1 December there are none."""
        if morning < date(season - 1, 12, 1):
            return ()
        return tuple(seasons_missed(self.first_runs, morning, season))


@dataclass(frozen=True)
class Chance:
    """The chance of something by a morning, and how many members and past seasons it rests on.

    `percent` is None unless ten members or the past seasons can carry one: a single forecast has
    none. `weight` is the bare sum the recommendation goes by, None where nothing is known.
    """

    weight: float | None
    members: int
    seasons: int
    carries_percent: bool

    @property
    def percent(self) -> float | None:
        return self.weight if self.carries_percent else None


@dataclass(frozen=True)
class FirstRunDates:
    """Weights (summing to 1) by day; `unknown_from` is the first day after which weight is open."""

    weights: Mapping[date, float]
    unknown_weight: float
    unknown_from: date
    members: int
    seasons: int
    carries_percent: bool

    def all_in_by(self, morning: date) -> Chance:
        """The chance that the first run comes on this morning or later."""
        kept = sum(weight for day, weight in self.weights.items() if day >= morning)
        open_yet = self.unknown_weight > 0 and morning > self.unknown_from
        whole = None if open_yet else round(kept + self.unknown_weight, WEIGHT_DECIMALS)
        return Chance(whole, self.members, self.seasons, self.carries_percent)

    def share_caught(self, work: PossibleStart) -> float | None:
        """The share of taps expected to be in on the morning of the first run, None if not known.

        Where the first run may lie anywhere beyond the forecast it is known only for a start whose
        taps are all in by then.
        """
        if self.unknown_weight > 0 and work.ready_morning > self.unknown_from:
            return None
        caught = sum(weight * work.share_set(day) for day, weight in self.weights.items())
        return round(caught + self.unknown_weight, WEIGHT_DECIMALS)

    def day_reached(self, share: float) -> date | None:
        """The first day by which this share of the weight has come; None when it is not known."""
        require_range("share", share, 0, 1)
        total = 0.0
        for day in sorted(self.weights):
            total += self.weights[day]
            if round(total, WEIGHT_DECIMALS) >= share:
                return day
        return None


def first_run_dates(
    seen: Seen | None, past: Past | None, today: date, season: int
) -> FirstRunDates:
    """Members as far as they are trusted, weighed with the past seasons, then those alone."""
    runs = past.in_season(season) if past else []
    weights: dict[date, float] = {}
    open_after: list[tuple[date, float]] = []
    for first, known, weight in _weighed(seen, runs, today):
        if first is not None:
            _add(weights, today + first * DAY, weight)
            continue
        after = today + known * DAY
        to_come = [day for day in runs if day >= after] or ([after] if runs else [])
        for day in to_come:
            _add(weights, day, weight / len(to_come))
        if not to_come:
            open_after.append((after, weight))
    unknown = sum(weight for _, weight in open_after)
    unknown_from = min((day for day, _ in open_after), default=today)
    members = seen.weight.size if seen else 0
    carries = seen.fit_for_percent if seen else bool(runs)
    return FirstRunDates(weights, unknown, unknown_from, members, len(runs), carries)


def pooled(share: float, members: int, come: int, to_come: int) -> float:
    """The members' share with a first run by a day, weighed with `come` of `to_come` past ones.

    Raises OutOfRange for a share outside 0 to 1, or unless 0 <= come <= to_come.
    """
    require_range("share", share, 0, 1)
    require_range("come", come, 0, to_come)
    # Half a member and half a season either way: few of them must never be certain.
    stated = (share * members + 0.5) / (members + 1)
    before = (come + 0.5) / (to_come + 1)
    yes, no = math.sqrt(stated * before), math.sqrt((1 - stated) * (1 - before))
    return yes / (yes + no)


def _weighed(
    seen: Seen | None, runs: Sequence[date], today: date
) -> list[tuple[int | None, int, float]]:
    """(first run or None, known days, weight) of each member; without any, of the bare past."""
    if seen is None:
        return [(None, 0, 1.0)]
    ran = seen.first_run >= 0
    share, known = float(seen.weight[ran].sum()), int(seen.known_days.max())
    chance = share
    if share and runs:
        to_come = [day for day in runs if day >= today]
        come = sum(day < today + known * DAY for day in to_come)
        chance = pooled(min(share, 1.0), seen.weight.size, come, len(to_come))
    scale = np.where(ran, chance / max(share, TINY), (1 - chance) / max(1 - share, TINY))
    columns = zip(
        seen.first_run.tolist(),
        seen.known_days.tolist(),
        (seen.weight * scale).tolist(),
        strict=True,
    )
    rows = [(first if first >= 0 else None, days, weight) for first, days, weight in columns]
    # With every member running there is none left to carry what the past seasons hold against it.
    return rows + ([(None, known, 1 - chance)] if ran.all() else [])


def _add(weights: dict[date, float], day: date, weight: float) -> None:
    weights[day] = weights.get(day, 0.0) + weight

"""When the first run may come: the members as far as they know, then the past seasons.

Formula: a member with a first run in its forecast puts its weight on that day. One without spreads
it evenly over the past first runs later than its last known day; where there are past first runs
but none so late, it puts it on the day after (the safe side). The chance that every tap is in is
the weight on days from the ready morning on. Without members the past alone is spread, from today.
Units: whole days, shares 0 to 1.
Validity: past first runs keep their place in the season. No smoothing and no interpolation: with
few seasons a chance moves in large steps. Where nothing is known beyond the forecast, the chance of
a morning beyond it is None.
Source: counting.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Literal

from apps.domain.errors import require_range
from apps.domain.start_guidance.seen import Seen
from apps.domain.tapping import days_from_december, seasons_missed
from apps.domain.tapping.pace import DAY

PastSource = Literal["recorded", "inferred"]
FEWEST_RECORDED = 3
# Sums of weights such as 8 x 0.1 must not fall short of 0.8.
WEIGHT_DECIMALS = 9


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
    """Members as far as they know, then the past seasons."""
    later = past.in_season(season) if past else []
    weights: dict[date, float] = {}
    open_after: list[tuple[date, float]] = []
    for first, known, weight in _members(seen):
        if first is not None:
            _add(weights, today + first * DAY, weight)
            continue
        after = today + known * DAY
        to_come = [day for day in later if day >= after] or ([after] if later else [])
        for day in to_come:
            _add(weights, day, weight / len(to_come))
        if not to_come:
            open_after.append((after, weight))
    members = seen.weight.size if seen else 0
    carries = seen.fit_for_percent if seen else bool(later)
    unknown = sum(weight for _, weight in open_after)
    unknown_from = min((day for day, _ in open_after), default=today)
    return FirstRunDates(weights, unknown, unknown_from, members, len(later), carries)


def _members(seen: Seen | None) -> list[tuple[int | None, int, float]]:
    """(first run or None, known days, weight) of each member; without any, of the bare past."""
    if seen is None:
        return [(None, 0, 1.0)]
    columns = zip(
        seen.first_run.tolist(), seen.known_days.tolist(), seen.weight.tolist(), strict=True
    )
    return [(first if first >= 0 else None, known, weight) for first, known, weight in columns]


def _add(weights: dict[date, float], day: date, weight: float) -> None:
    weights[day] = weights.get(day, 0.0) + weight

"""Litres per tap and day, fitted to the operation's own sap, and how far off it has been.

Formula: sap per tap on a day is taken as rate x likelihood of a run. A woodlot's own rate is the
sap gathered over the sum of its likelihoods (the least-squares rate when the scatter grows with the
likelihood); the operation's is the same over all woodlots. Each woodlot's rate is drawn toward the
operation's: rate = B own + (1 - B) operation, B = t / (t + s / n), with n the woodlot's summed
likelihood, s the scatter within woodlots and t the spread between them (empirical Bayes, t by the
method of moments). The average day is the same with every likelihood taken as 1. Leave one season
out: each season is stated by a fit to the others alone; the rule with the smaller root mean square
miss is used. The interval, meant to hold 8 days in 10, comes from the misses of that measurement,
divided by the square root of the likelihood.
Units: litres per tap and day, likelihoods 0 to 1.
Validity: at least 2 seasons and 30 woodlot-days with sap known; under that nothing is offered. A
fit knows only winters like those it saw.
Source: DerSimonian and Laird (1986), Controlled Clinical Trials 7:177, for the spread between
groups; Efron and Morris (1973), J. American Statistical Association 68:117, for drawing toward the
whole (both from memory). The fewest records: common practice, no source.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from apps.domain.errors import require_range

Floats = npt.NDArray[np.floating[Any]]
Rule = Literal["likelihood", "average day"]

FEWEST_SEASONS, FEWEST_DAYS = 2, 30
# A day called all but impossible must not weigh without bound when sap came all the same.
LEAST_LIKELIHOOD = 0.02
INTERVAL_SHARE = 0.8
MOST_LITRES_PER_TAP = 100.0


@dataclass(frozen=True)
class DayYield:
    """One woodlot's day: its likelihood from the weather it had, and the sap gathered per tap."""

    woodlot: int
    season: int
    likelihood: float
    litres_per_tap: float

    def __post_init__(self) -> None:
        require_range("likelihood", self.likelihood, 0, 1)
        require_range("litres_per_tap", self.litres_per_tap, 0, MOST_LITRES_PER_TAP)


@dataclass(frozen=True)
class Lacking:
    """Too few records to fit: how many there are of how many needed."""

    seasons: int
    days: int
    seasons_needed: int = FEWEST_SEASONS
    days_needed: int = FEWEST_DAYS


@dataclass(frozen=True)
class Rate:
    """Litres per tap on a sure run day (or an average day), and how much of it is the woodlot's.

    `own_share` is B of the formula: 0 is the operation's rate alone, 1 the woodlot's.
    """

    litres_per_tap: float
    own_share: float
    days: int


@dataclass(frozen=True)
class Skill:
    """Root mean square misses, leave one season out, in litres per tap and day."""

    likelihood_miss: float
    average_day_miss: float
    days: int
    seasons: int

    @property
    def rule(self) -> Rule:
        """The rule with the smaller miss; the average day where ours is not better."""
        return "likelihood" if self.likelihood_miss < self.average_day_miss else "average day"


@dataclass(frozen=True)
class YieldFit:
    """Rates by woodlot and of the operation for the rule in use, the skill of both rules."""

    rule: Rule
    rates: Mapping[int, Rate]
    operation: Rate
    skill: Skill
    low_miss: float
    high_miss: float

    def expected(self, woodlot: int, likelihood: float) -> "Expected":
        """Litres per tap for a day; a woodlot without records gets the operation's rate.

        Raises OutOfRange for a likelihood outside 0 to 1.
        """
        require_range("likelihood", likelihood, 0, 1)
        weight = _weights(np.array([likelihood]), self.rule)[0]
        rate = self.rates.get(woodlot, self.operation)
        middle, spread = rate.litres_per_tap * float(weight), float(np.sqrt(weight))
        return Expected(
            litres_per_tap=middle,
            low=max(0.0, middle + self.low_miss * spread),
            high=max(middle, middle + self.high_miss * spread),
            rate=rate,
        )


@dataclass(frozen=True)
class Expected:
    """Litres per tap to expect on a day, with the interval meant to hold 8 in 10."""

    litres_per_tap: float
    low: float
    high: float
    rate: Rate


@dataclass(frozen=True)
class _Table:
    woodlot: npt.NDArray[np.int64]
    season: npt.NDArray[np.int64]
    likelihood: Floats
    litres: Floats

    def only(self, kept: npt.NDArray[np.bool_]) -> "_Table":
        return _Table(
            self.woodlot[kept], self.season[kept], self.likelihood[kept], self.litres[kept]
        )


def fit_yields(records: Sequence[DayYield]) -> YieldFit | Lacking:
    """Fit both rules, measure both leaving one season out, keep the better; or say what lacks."""
    seasons = len({row.season for row in records})
    if seasons < FEWEST_SEASONS or len(records) < FEWEST_DAYS:
        return Lacking(seasons, len(records))
    table = _Table(
        np.array([row.woodlot for row in records]),
        np.array([row.season for row in records]),
        np.array([row.likelihood for row in records]),
        np.array([row.litres_per_tap for row in records]),
    )
    ours, simple = _misses(table, "likelihood"), _misses(table, "average day")
    skill = Skill(_root_mean_square(ours), _root_mean_square(simple), len(records), seasons)
    misses = ours if skill.rule == "likelihood" else simple
    scaled = misses / np.sqrt(_weights(table.likelihood, skill.rule))
    low, high = np.quantile(scaled, [(1 - INTERVAL_SHARE) / 2, (1 + INTERVAL_SHARE) / 2])
    rates, operation = _rates(table, skill.rule)
    return YieldFit(skill.rule, rates, operation, skill, float(low), float(high))


def _misses(table: _Table, rule: Rule) -> Floats:
    """What came less what a fit to the other seasons would have stated, for every record."""
    missed = np.empty_like(table.litres)
    for season in np.unique(table.season):
        here = table.season == season
        rates, operation = _rates(table.only(~here), rule)
        rate = [rates.get(int(lot), operation).litres_per_tap for lot in table.woodlot[here]]
        stated = np.array(rate) * _weights(table.likelihood[here], rule)
        missed[here] = table.litres[here] - stated
    return missed


def _rates(table: _Table, rule: Rule) -> tuple[dict[int, Rate], Rate]:
    weights = _weights(table.likelihood, rule)
    lots, place = np.unique(table.woodlot, return_inverse=True)
    days = np.bincount(place)
    summed: Floats = np.bincount(place, weights).astype(np.float64)
    own = np.bincount(place, table.litres) / summed
    whole = float(table.litres.sum() / weights.sum())
    scatter = _scatter(table.litres, weights, own[place], lots.size)
    between = _between(own, summed, scatter)
    share = between / (between + scatter / summed)
    drawn = share * own + (1 - share) * whole
    rates = {
        int(lot): Rate(float(rate), float(part), int(count))
        for lot, rate, part, count in zip(lots, drawn, share, days, strict=True)
    }
    return rates, Rate(whole, 0.0, int(days.sum()))


def _scatter(litres: Floats, weights: Floats, rate: Floats, lots: int) -> float:
    spread = ((litres - rate * weights) ** 2 / weights).sum() / max(1, litres.size - lots)
    # Never quite nothing, or records without scatter would be divided by it.
    return max(float(spread), 1e-12)


def _between(own: Floats, summed: Floats, scatter: float) -> float:
    """The spread between woodlots beyond what their scatter explains, by moments."""
    weight = summed / scatter
    centre = (weight * own).sum() / weight.sum()
    excess = (weight * (own - centre) ** 2).sum() - (own.size - 1)
    size = weight.sum() - (weight**2).sum() / weight.sum()
    # One woodlot alone has no spread to others: its own rate is the operation's.
    return max(0.0, float(excess / size)) if own.size > 1 else 0.0


def _weights(likelihood: Floats, rule: Rule) -> Floats:
    if rule == "average day":
        return np.ones_like(likelihood)
    floored: Floats = np.maximum(likelihood, LEAST_LIKELIHOOD)
    return floored


def _root_mean_square(misses: Floats) -> float:
    return float(np.sqrt((misses**2).mean()))

"""How likely sap is to be gathered on a day, from the weather alone.

Formula: T = thaw degree-hours of the day and the day before; L = the lowest minimum of the day and
the two before it, no higher than 0 C.
p = freeze x thaw x logistic(b0 + b1 ln(1 + T) + b2 L), with two edges that are not fitted:
thaw = T / 12 up to 1 (without some 12 degree-hours, six hours at 2 C, nothing thaws) and freeze =
1 while the lowest minimum is at or under 0 C, falling to 0 at 2 C (without a freeze in three days
no run starts). Over an ensemble: the mean of p over a model's members, then the mean over models.
In words: low under one in three, high from two in three, medium between.
Units: C, degree-hours over 0 C, probabilities 0 to 1.
Validity: a day with any of its three days unknown has an unknown likelihood. The record fitted
counts a run as at least 5 gal (19 L) gathered from 50 buckets that day; tubing under vacuum runs
longer and in colder weather. It says nothing of how much.
Source: fitted to the open records of Whately, Massachusetts, 2013 and 2014 (R package macleish
0.3.10, CC0; daily extremes from Daymet, Thornton et al., ORNL DAAC), fixtures/open_data/sap; the
fit is done again by the tests. The edges and the limits of the words: common practice, no source.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

import numpy as np
import numpy.typing as npt

from apps.domain.errors import DomainError, require_range
from apps.domain.sap_run.day_weather import DayWeather
from apps.domain.sap_run.logistic import Logistic, fit_logistic

Floats = npt.NDArray[np.floating[Any]]
Word = Literal["low", "medium", "high"]

# Intercept, slope on ln(1 + T), slope on L: both years together, ridge 1.
WHATELY_2013_2014: Final = Logistic(0.0034, (0.5299, 0.2276))

MEDIUM_FROM, HIGH_FROM = 1 / 3, 2 / 3
FULL_THAW_DEGREE_HOURS = 12.0
FULL_FREEZE_C, NO_FREEZE_C = 0.0, 2.0
DAYS_BEFORE = 2
FEWEST_MEMBERS = 10
RIDGE = 1.0


@dataclass(frozen=True)
class Ensemble:
    """A day's likelihood over members: the mean, and how many members and models gave one.

    `probability` is None when no member is known; `percentage` also under ten members, where a
    share would pretend to more than one forecast can know.
    """

    probability: float | None
    members: int
    models: int

    @property
    def percentage(self) -> float | None:
        return self.probability if self.members >= FEWEST_MEMBERS else None


def warmth_and_cold(weather: DayWeather) -> tuple[Floats, Floats]:
    """Thaw degree-hours of two days and the lowest minimum of three, both (..., days).

    The first two days of a series lack the days before them and are NaN.
    """
    thaw = np.asarray(weather.thaw_degree_hours, dtype=np.float64)
    low = np.asarray(weather.minimum_c, dtype=np.float64)
    # minimum, not fmin: an unknown day before leaves the lowest unknown.
    lowest = np.minimum(np.minimum(low, _days_before(low, 1)), _days_before(low, 2))
    return thaw + _days_before(thaw, 1), lowest


def run_probability(weather: DayWeather, fitted: Logistic = WHATELY_2013_2014) -> Floats:
    """Likelihood of a run on each day, (..., days), NaN where one of its three days is unknown."""
    thaw, lowest = warmth_and_cold(weather)
    chance: Floats = edges(thaw, lowest) * fitted.probability(_features(thaw, lowest))
    return chance


def edges(thaw_degree_hours: Floats, lowest_c: Floats) -> Floats:
    """1 where it both froze and thawed, falling to 0 without a freeze or without a thaw."""
    thawed = np.clip(thaw_degree_hours / FULL_THAW_DEGREE_HOURS, 0, 1)
    frozen = np.clip((NO_FREEZE_C - lowest_c) / (NO_FREEZE_C - FULL_FREEZE_C), 0, 1)
    both: Floats = thawed * frozen
    return both


def fit_run_probability(
    weather: Sequence[DayWeather], runs: Sequence[npt.ArrayLike], ridge: float = RIDGE
) -> Logistic:
    """Fit the likelihood to seasons of single series; runs are 1, 0, or NaN for a day left out.

    Days without the two before them are left out too. Raises what fit_logistic raises.
    """
    features = np.concatenate([_features(*warmth_and_cold(season)) for season in weather])
    outcomes = np.concatenate([np.asarray(season, dtype=np.float64) for season in runs])
    if features.shape[0] != outcomes.size:
        raise DomainError(f"runs must have {features.shape[0]} days, not {outcomes.size}")
    known = ~np.isnan(outcomes) & ~np.isnan(features).any(axis=-1)
    return fit_logistic(features[known], outcomes[known], ridge)


def over_members(by_model: Sequence[Floats]) -> list[Ensemble]:
    """One Ensemble a day from the (members, days) likelihoods of each model, equal weight each.

    Raises DomainError for models that differ in days.
    """
    sizes = {model.shape[-1] for model in by_model}
    if len(sizes) > 1:
        raise DomainError(f"models must cover the same days, not {sorted(sizes)}")
    days = max(sizes, default=0)
    return [_ensemble([model[:, at] for model in by_model]) for at in range(days)]


def words(probability: float) -> Word:
    """low, medium or high. Raises OutOfRange outside 0 to 1."""
    require_range("probability", probability, 0, 1)
    if probability >= HIGH_FROM:
        return "high"
    return "medium" if probability >= MEDIUM_FROM else "low"


def _ensemble(day: Sequence[Floats]) -> Ensemble:
    known = [one[~np.isnan(one)] for one in day]
    heard = [one for one in known if one.size]
    if not heard:
        return Ensemble(None, 0, 0)
    mean = float(np.mean([one.mean() for one in heard]))
    return Ensemble(mean, sum(one.size for one in heard), len(heard))


def _features(thaw_degree_hours: Floats, lowest_c: Floats) -> Floats:
    return np.stack((np.log1p(thaw_degree_hours), np.minimum(lowest_c, 0.0)), axis=-1)


def _days_before(values: Floats, days: int) -> Floats:
    shifted = np.full_like(values, np.nan)
    shifted[..., days:] = values[..., : max(0, values.shape[-1] - days)]
    return shifted

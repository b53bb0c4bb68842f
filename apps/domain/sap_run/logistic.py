"""Logistic regression by Newton's method, with a ridge that keeps few records from overfitting.

Formula: p = 1 / (1 + exp(-(b0 + sum bi xi))). The coefficients maximise the log-likelihood less
ridge / 2 times the sum of squares of the slopes on features scaled to mean 0 and spread 1; the
intercept is not penalised. Newton: b <- b + H^-1 g, a hundred times, no step over 1.
Units: none; the coefficients returned are for the features in their own units.
Validity: both outcomes present, every feature varying, ridge over 0 (then a solution exists and
is unique).
Source: Hoerl and Kennard (1970), Technometrics 12:55, for the ridge; le Cessie and van
Houwelingen (1992), Applied Statistics 41:191, for its logistic form (both from memory).
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from apps.domain.errors import DomainError, require_range

Floats = npt.NDArray[np.floating[Any]]

# Ten usually settle it; a fixed number is the same on every machine.
STEPS = 100


@dataclass(frozen=True)
class Logistic:
    """An intercept and one slope for each feature."""

    intercept: float
    slopes: tuple[float, ...]

    def probability(self, features: Floats) -> Floats:
        """(..., features) to (...); NaN in any feature gives NaN."""
        return sigmoid(np.asarray(features) @ np.array(self.slopes) + self.intercept)


def sigmoid(score: Floats) -> Floats:
    """1 / (1 + exp(-score)), for scores of any size."""
    # Written by the half-angle, which cannot overflow.
    half: Floats = 0.5 * (1 + np.tanh(0.5 * np.asarray(score)))
    return half


def fit_logistic(features: Floats, outcomes: npt.ArrayLike, ridge: float = 1.0) -> Logistic:
    """Fit (days, features) to outcomes of 0 or 1.

    Raises DomainError when either outcome is missing, a value is unknown or a feature never
    varies; OutOfRange for a ridge outside 1e-6 to 1e6.
    """
    require_range("ridge", ridge, 1e-6, 1e6)
    values, hits = np.asarray(features, dtype=np.float64), np.asarray(outcomes, dtype=np.float64)
    _refuse(values, hits)
    centre, spread = values.mean(axis=0), values.std(axis=0)
    scaled = np.column_stack((np.ones(hits.size), (values - centre) / spread))
    found = _newton(scaled, hits, ridge)
    slopes = found[1:] / spread
    return Logistic(float(found[0] - slopes @ centre), tuple(slopes.tolist()))


def _newton(scaled: Floats, hits: Floats, ridge: float) -> Floats:
    penalty = ridge * np.eye(scaled.shape[1])
    penalty[0, 0] = 0
    found = np.zeros(scaled.shape[1])
    for _ in range(STEPS):
        chance = sigmoid(scaled @ found)
        slope = scaled.T @ (hits - chance) - penalty @ found
        curve = (scaled.T * (chance * (1 - chance))) @ scaled + penalty
        step = np.linalg.solve(curve, slope)
        # Far from the answer a Newton step can overshoot; a bounded one cannot run away.
        found = found + step / max(1.0, float(np.abs(step).max()))
    return found


def _refuse(values: Floats, hits: Floats) -> None:
    if values.ndim != 2 or values.shape[0] != hits.size:
        raise DomainError(f"features must be days by features, not {values.shape} for {hits.size}")
    if not np.isfinite(values).all() or not np.isin(hits, (0, 1)).all():
        raise DomainError("features must be known and outcomes 0 or 1 on every day fitted")
    if hits.min(initial=1) == hits.max(initial=0):
        raise DomainError("outcomes must hold both runs and days without one")
    if (values.std(axis=0) == 0).any():
        raise DomainError("every feature must vary over the days fitted")

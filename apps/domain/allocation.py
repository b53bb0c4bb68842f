"""Sharing a whole out so that the shares sum to it exactly.

Formula: largest remainder. Each party's quota is total x weight / sum of weights; each gets the
whole part, and the units left over go one each to the largest fractional parts, ties to the
party named first. A share's error, from independent errors e of the weights w with sum W, is
sqrt((1 - s)^2 e^2 + s^2 x (sum of the others' e^2)) / W with s = w / W.
Units: weights are any one unit, usually kg of sugar; totals are whole units, or an amount and the
step it is shown in, both Decimal.
Validity: weights finite, none below 0, at least one above 0. Quotas are exact fractions, not
floats, so no rounding decides who gets the last unit.
Source: Hamilton's method, as in Balinski and Young, Fair Representation (1982), ch. 2; propagation
of error by JCGM 100:2008 (GUM), 5.1.2, equation (10).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from apps.domain.errors import DomainError, require_range


@dataclass(frozen=True)
class Share:
    """One party's part of the whole, between 0 and 1, and its standard error."""

    fraction: float
    error: float


def largest_remainder(weights: Sequence[float], total_units: int) -> list[int]:
    """Whole units for each weight, in the same order, summing to total_units exactly.

    Raises OutOfRange for a weight or total below 0 or not finite, DomainError when no weight is
    above 0.
    """
    require_range("total_units", total_units, 0.0, math.inf)
    exact = _exact(weights)
    whole = sum(exact)
    quotas = [weight * total_units / whole for weight in exact]
    units = [math.floor(quota) for quota in quotas]
    # sorted() is stable, so equal remainders keep the order in which the parties were named.
    by_remainder = sorted(range(len(quotas)), key=lambda party: units[party] - quotas[party])
    for party in by_remainder[: total_units - sum(units)]:
        units[party] += 1
    return units


def allocate(amount: Decimal, step: Decimal, weights: Sequence[float]) -> list[Decimal]:
    """Parts of an amount, each a multiple of the step shown, summing to the amount exactly.

    Raises DomainError when the step is not above 0 or the amount is not a multiple of it.
    """
    if not step.is_finite() or step <= 0:
        raise DomainError(f"step must be above 0, not {step}")
    require_range("amount", float(amount), 0.0, math.inf)
    # As fractions: a remainder must be none, not nearly none.
    total_units, left_over = divmod(Fraction(amount), Fraction(step))
    if left_over:
        raise DomainError(f"amount must be a multiple of {step}, not {amount}")
    return [units * step for units in largest_remainder(weights, total_units)]


def shares(weights: Sequence[float], errors: Sequence[float]) -> list[Share]:
    """Each weight's part of the whole with the standard error that the weights' errors give it.

    Raises as largest_remainder does, and DomainError unless there is one error for each weight.
    """
    if len(weights) != len(errors):
        raise DomainError(f"{len(weights)} weights need as many errors, not {len(errors)}")
    whole = float(sum(_exact(weights)))
    require_range("errors", max(errors), 0.0, math.inf)
    require_range("errors", min(errors), 0.0, math.inf)
    variance = math.fsum(error * error for error in errors)
    return [
        Share(fraction, _share_error(fraction, error, variance) / whole)
        for fraction, error in zip([weight / whole for weight in weights], errors, strict=True)
    ]


def _share_error(fraction: float, error: float, variance: float) -> float:
    # An own error moves part and whole together and so counts for 1 - s, the others' for s.
    # Taking one square from their sum may leave a rounding under zero.
    others = max(variance - error * error, 0.0)
    return math.sqrt((1.0 - fraction) ** 2 * error * error + fraction * fraction * others)


def _exact(weights: Sequence[float]) -> list[Fraction]:
    for weight in weights:
        require_range("weights", weight, 0.0, math.inf)
    if not any(weights):
        raise DomainError("weights must hold at least one above 0")
    return [Fraction(weight) for weight in weights]

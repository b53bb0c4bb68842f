"""Errors raised by the season arithmetic, and the range check that raises them.

Formula: none; a value is accepted when it is finite and low <= value <= high, limits included.
Units: those of the quantity checked, named in the quantity's own name.
Validity: any real number or numpy array. NaN and infinity are refused, because an unknown reading
must be handled as unknown by the caller and never reach a formula.
Source: none needed.
"""

import math

import numpy as np
import numpy.typing as npt

Quantity = float | npt.NDArray[np.float64]


class DomainError(ValueError):
    """Something asked of the season arithmetic has no meaningful answer."""


class OutOfRange(DomainError):
    """A value lies outside the range in which its formula holds."""

    def __init__(self, name: str, value: float, low: float, high: float) -> None:
        super().__init__(f"{name} must be {_wording(low, high)}, not {value:.10g}")
        self.name = name
        self.value = value
        self.low = low
        self.high = high


def require_range(name: str, value: Quantity, low: float, high: float) -> None:
    """Refuse a number, or the first number of an array, outside low..high or not finite.

    Raises OutOfRange naming the offending value and the range. An empty array passes.
    """
    numbers = np.atleast_1d(np.asarray(value, dtype=np.float64)).ravel()
    # Comparisons with NaN are false, so asking for "inside" refuses NaN where asking for
    # "outside" would let it through.
    inside = np.isfinite(numbers) & (numbers >= low) & (numbers <= high)
    if not inside.all():
        raise OutOfRange(name, float(numbers[~inside][0]), low, high)


def _wording(low: float, high: float) -> str:
    if math.isinf(low) and math.isinf(high):
        return "a finite number"
    if math.isinf(high):
        return f"at least {low:g}"
    if math.isinf(low):
        return f"at most {high:g}"
    return f"between {low:g} and {high:g}"

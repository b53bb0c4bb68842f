"""What speaks for staying open and what for stopping: nights, warmth, sugar, a day's worth.

Formula: a freeze night is a local day whose minimum is at or under the freeze limit, compared at
0.01 C. The nights left are counted in each member over the days that every model reaches; the
quantiles are taken over members, each model with the same weight. Warmth since the last freeze is
the sum of degrees over 0 C of the hours after the last one at or under the limit. The sugar trend
is the least-squares line through daily means, slope b = Sxy / Sxx, with the interval
b +- t s / sqrt(Sxx), s^2 = residual sum of squares / (n - 2). One more day is worth
sap x syrup per sap x price - cost, for the low, the middle and the high of what sap may come.
Units: C, degree-hours over 0 C, Brix and days, litres, money in the operation's own currency.
Validity: hours -90 to 60 C, NaN missing; an unknown hour adds no warmth and is counted. Sap 0.5 to
40 Brix. A slope needs five days of sugar: common practice, no source. Days in a row are not
independent, so the interval of the slope is rather too narrow.
Source: least squares and its interval are in any text, NIST/SEMATECH e-Handbook of Statistical
Methods, section 4.1.4.1; the quantile of t inverts Abramowitz and Stegun (1964) 26.7.3 and 26.7.4;
syrup from sap is that of `sugar`.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from apps.domain.errors import DomainError, require_range
from apps.domain.leases import to_cents
from apps.domain.sugar import JONES_LINES, predicted_syrup_litres, sap_per_syrup_mass_balance

Floats = npt.NDArray[np.floating[Any]]

FEWEST_SUGAR_DAYS = 5
USUAL_SHARE = 0.95
QUANTILES: Final = (0.1, 0.5, 0.9)
MOST_SAP_LITRES = 1e7


@dataclass(frozen=True)
class NightsLeft:
    """Freeze nights in the forecast: the counts eight members in ten lie between, and the middle.

    `chances` (days,) is the share of members that freeze, models weighted alike, NaN where no
    model knows; `days` are those counted over, `members` those that know them all.
    """

    low: int
    middle: int
    high: int
    days: int
    members: int
    chances: Floats


def nights_left(minimum_c: Sequence[Floats], freeze_c: float) -> NightsLeft | None:
    """Count over the (members, days) minima of each model, NaN unknown, from the same first day.

    None when the models share no day that any of their members knows in full. Raises OutOfRange
    for a limit outside -40 to 40 C, DomainError for models that are not (members, days).
    """
    require_range("freeze_c", freeze_c, -40, 40)
    if any(np.ndim(model) != 2 for model in minimum_c):
        raise DomainError("minimum_c must hold members by days for each model")
    reach = min((_reach(model) for model in minimum_c), default=0)
    if not reach:
        return None
    counts, weights = [], []
    for model in minimum_c:
        # A member with a gap would count as one that did not freeze there.
        whole = model[:, :reach][~np.isnan(model[:, :reach]).any(axis=1)]
        counts.append(_froze(whole, freeze_c).sum(axis=1))
        weights.append(np.full(whole.shape[0], 1 / whole.shape[0]))
    low, middle, high = weighted_quantiles(
        np.concatenate(counts).astype(np.float64), np.concatenate(weights), QUANTILES
    )
    chances = _chances(minimum_c, freeze_c)
    members = sum(count.size for count in counts)
    return NightsLeft(round(low), round(middle), round(high), reach, members, chances)


def weighted_quantiles(values: Floats, weights: Floats, shares: Sequence[float]) -> list[float]:
    """The least value at or under which each share of the weight lies; no value in between.

    NaN values are left out, and all of them unknown gives NaN. Raises DomainError for unequal
    sizes, OutOfRange for a share outside 0 to 1.
    """
    if values.shape != weights.shape:
        raise DomainError(f"weights must be {values.shape}, not {weights.shape}")
    require_range("shares", np.asarray(shares, dtype=np.float64), 0, 1)
    known = ~np.isnan(values)
    if not known.any():
        return [math.nan] * len(shares)
    order = np.argsort(values[known], kind="stable")
    ranked, total = values[known][order], np.cumsum(weights[known][order])
    # A hair under the share: sums of thirds and tenths do not meet it to the last bit.
    places = np.searchsorted(total, np.asarray(shares) * total[-1] * (1 - 1e-12))
    return [float(value) for value in ranked[np.minimum(places, ranked.size - 1)]]


@dataclass(frozen=True)
class Warmth:
    """What came after the last freeze; `froze` is False when the record holds none at all.

    Then the sums are over the whole record, and so a lower bound, as they are with hours unknown.
    """

    froze: bool
    hours: int
    unknown_hours: int
    thaw_degree_hours: float

    @property
    def at_least(self) -> bool:
        return not self.froze or self.unknown_hours > 0


def warmth_since_freeze(temps_c: Floats, freeze_c: float) -> Warmth | None:
    """Of one series of hours, oldest first; None without a known hour.

    Raises OutOfRange for a known hour outside -90 to 60 C, DomainError for another shape.
    """
    if np.ndim(temps_c) != 1:
        raise DomainError(f"temps_c must be one series of hours, not {np.ndim(temps_c)} axes")
    known = ~np.isnan(temps_c)
    if not known.any():
        return None
    require_range("temps_c", np.asarray(temps_c[known], dtype=np.float64), -90, 60)
    frozen = np.flatnonzero(_froze(temps_c, freeze_c))
    after = temps_c[frozen[-1] + 1 :] if frozen.size else temps_c
    return Warmth(
        froze=bool(frozen.size),
        hours=int(after.size),
        unknown_hours=int(np.isnan(after).sum()),
        thaw_degree_hours=float(np.nansum(np.maximum(after, 0))),
    )


@dataclass(frozen=True)
class SugarTrend:
    """Brix a day, with the interval meant to hold the slope 95 times in 100."""

    slope: float
    low: float
    high: float
    days: int

    @property
    def words(self) -> str:
        """Falling or rising only where the whole interval lies on one side of level."""
        if self.high < 0:
            return "falling"
        return "rising" if self.low > 0 else "no clear trend"


def sugar_trend(day_numbers: npt.ArrayLike, brix: npt.ArrayLike) -> SugarTrend | None:
    """The line through one sugar reading a day; None with under five days or all on one day.

    Raises DomainError for unequal lengths, OutOfRange for sugar outside 0.5 to 40 Brix.
    """
    # Centred on the mean day, so that large day numbers cost no precision.
    days = np.asarray(day_numbers, dtype=np.float64)
    sugar = np.asarray(brix, dtype=np.float64)
    if days.shape != sugar.shape or days.ndim != 1:
        raise DomainError(f"brix must have {days.size} days, not {sugar.size}")
    require_range("brix", sugar, 0.5, 40)
    if np.unique(days).size < FEWEST_SUGAR_DAYS:
        return None
    centred = days - days.mean()
    spread = float((centred**2).sum())
    slope = float((centred * sugar).sum()) / spread
    left_over = sugar - sugar.mean() - slope * centred
    error = math.sqrt(float((left_over**2).sum()) / (days.size - 2) / spread)
    reach = student_t(USUAL_SHARE, days.size - 2) * error
    return SugarTrend(slope, slope - reach, slope + reach, int(days.size))


def student_t(share: float, degrees: int) -> float:
    """The t that a share of the distribution lies within, both sides, for whole degrees of freedom.

    Raises OutOfRange for a share outside 0.5 to 0.999 or degrees outside 1 to 10,000.
    """
    require_range("share", share, 0.5, 0.999)
    require_range("degrees", degrees, 1, 10_000)
    # 1000 lies beyond any quantile allowed: one degree at 0.999 is 637.
    low, high = 0.0, 1000.0
    for _ in range(80):
        middle = (low + high) / 2
        low, high = (middle, high) if _within(middle, degrees) < share else (low, middle)
    return (low + high) / 2


@dataclass(frozen=True)
class Span:
    """What is expected as a range. Raises DomainError unless low <= middle <= high."""

    low: float
    middle: float
    high: float

    def __post_init__(self) -> None:
        if not self.low <= self.middle <= self.high:
            raise DomainError(f"a span must rise, not {self.low:g}, {self.middle:g}, {self.high:g}")


@dataclass(frozen=True)
class DayWorth:
    """Money left over after the day's cost, and the syrup behind it; low, middle and high.

    `break_even_litres` is the sap, at the middle sugar, whose syrup just pays the day.
    """

    low: Decimal
    middle: Decimal
    high: Decimal
    syrup_litres: Span
    break_even_litres: float

    @property
    def words(self) -> str:
        if self.low >= 0:
            return "pays over the whole range"
        return "costs over the whole range" if self.high <= 0 else "may go either way"


def day_worth(
    sap_litres: Span,
    brix: Span,
    *,
    price_per_litre: Decimal,
    day_cost: Decimal,
    syrup_brix: float = 66.0,
) -> DayWorth:
    """One more day: the low of the sap with the low of the sugar, and so up.

    Raises OutOfRange for sap outside 0 to 10,000,000 L, sugar outside 0.5 to 40 Brix, a price not
    over 0 or a cost under 0.
    """
    for value in (sap_litres.low, sap_litres.high):
        require_range("sap_litres", value, 0, MOST_SAP_LITRES)
    for value in (brix.low, brix.high):
        require_range("brix", value, 0.5, 40)
    require_range("price_per_litre", float(price_per_litre), 0.01, 10_000)
    require_range("day_cost", float(day_cost), 0, 1e7)
    made = Span(
        *(
            _syrup_litres(sap, sugar, syrup_brix)
            for sap, sugar in (
                (sap_litres.low, brix.low),
                (sap_litres.middle, brix.middle),
                (sap_litres.high, brix.high),
            )
        )
    )
    per_litre = _syrup_litres(1.0, brix.middle, syrup_brix)
    low, middle, high = (
        to_cents(Decimal(str(litres)) * price_per_litre - day_cost)
        for litres in (made.low, made.middle, made.high)
    )
    return DayWorth(low, middle, high, made, float(day_cost / price_per_litre) / per_litre)


def _syrup_litres(sap_litres: float, brix: float, syrup_brix: float) -> float:
    """By the rule `sugar` takes for such sap; mass balance where the density has no Jones line."""
    if any(line.syrup_brix == syrup_brix for line in JONES_LINES):
        return predicted_syrup_litres(sap_litres, brix, syrup_brix).litres
    return sap_litres / sap_per_syrup_mass_balance(brix, syrup_brix)


def _froze(temps_c: Floats, freeze_c: float) -> npt.NDArray[np.bool_]:
    # At 0.01 C, as freeze-thaw days are judged; NaN compares false.
    cold: npt.NDArray[np.bool_] = np.round(temps_c * 100) <= round(freeze_c * 100)
    return cold


def _reach(model: Floats) -> int:
    """Days from the first on that at least one member knows without a gap."""
    known = np.logical_and.accumulate(~np.isnan(model), axis=1).any(axis=0)
    return int(known.sum())


def _chances(minimum_c: Sequence[Floats], freeze_c: float) -> Floats:
    days = max(model.shape[1] for model in minimum_c)
    shares = np.full((len(minimum_c), days), np.nan)
    for place, model in enumerate(minimum_c):
        known = (~np.isnan(model)).sum(axis=0)
        cold = _froze(model, freeze_c).sum(axis=0)
        shares[place, : model.shape[1]] = np.where(known, cold / np.maximum(known, 1), np.nan)
    heard = ~np.isnan(shares)
    mean: Floats = np.nansum(shares, axis=0) / np.maximum(heard.sum(axis=0), 1)
    return np.where(heard.any(axis=0), mean, np.nan)


def _within(value: float, degrees: int) -> float:
    """Share of the t distribution within -value and value."""
    angle = math.atan(value / math.sqrt(degrees))
    sine, cosine = math.sin(angle), math.cos(angle)
    even = degrees % 2 == 0
    term = total = 1.0 if even else cosine
    for step in range(1 if even else 2, degrees - 2, 2):
        term *= cosine**2 * step / (step + 1)
        total += term
    if even:
        return sine * total
    return 2 / math.pi * (angle + (sine * total if degrees > 1 else 0.0))

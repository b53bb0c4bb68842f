"""Amounts as whole steps of the unit shown, so that what a page adds up adds up exactly."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from apps.domain.allocation import largest_remainder
from apps.operation import display


@dataclass(frozen=True)
class Steps:
    """One kind of volume on a page: its unit and how finely it is shown."""

    unit_system: str
    decimals: int

    @property
    def unit(self) -> str:
        return display.unit_for("volume", self.unit_system).label

    def count(self, litres: float) -> int:
        """Litres as whole steps, such as hundredths of a gallon."""
        # Converted first and rounded once, as the page does with every other volume.
        shown = display.unit_for("volume", self.unit_system).show(litres)
        return round(float(shown) * 10.0**self.decimals)

    def amount(self, steps: int) -> Decimal:
        # Decimals, because sums of shown figures have to be exact to the last digit.
        return Decimal(steps).scaleb(-self.decimals)

    def shown(self, litres: float) -> Decimal:
        return self.amount(self.count(litres))

    def split(self, whole_litres: float, weights: Sequence[float]) -> list[Decimal]:
        """Parts of a whole by their weights, summing to the whole as it is shown."""
        parts = largest_remainder(weights, self.count(whole_litres))
        return [self.amount(part) for part in parts]


def per_tap(amount: Decimal, taps: int | None, decimals: int) -> Decimal | None:
    """The figure shown over the taps shown; None where taps are unknown or none."""
    # No taps is no yield of 0 but a yield nobody can name.
    if not taps:
        return None
    return (amount / taps).quantize(Decimal(1).scaleb(-decimals), ROUND_HALF_UP)


def percent_shares(amounts: Sequence[Decimal]) -> list[Decimal | None]:
    """Tenths of a percent that sum to 100.0; None each when there is nothing to share."""
    # With nothing drawn there is nothing to have a share of.
    if not any(amounts):
        return [None] * len(amounts)
    return [Decimal(part).scaleb(-1) for part in largest_remainder(list(map(float, amounts)), 1000)]

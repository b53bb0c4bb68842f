"""Syrup to expect from sap, at the one density by which a season's books are compared.

Formula: each receipt by its own Brix x, v / (87.1 / x - 0.32) at 66.0 Brix for sap under 5 Brix,
mass balance for concentrate; the other figure is kept beside it. Where the density set has no
published line of that rule, mass balance alone. Syrup drawn at another density is restated by its
sugar: litres x rho(b) b / (rho(B) B).
Units: litres, Brix.
Validity: as apps.domain.sugar.
Source: as apps.domain.sugar (revised Jones rule, UVM Proctor).
"""

from collections.abc import Iterable
from dataclasses import dataclass

from apps.domain import sugar

# Floats compare exactly here: the setting is one of these densities as typed, or another.
JONES_BRIX = frozenset(line.syrup_brix for line in sugar.JONES_LINES)


@dataclass(frozen=True)
class Equivalent:
    """Syrup that some sap should make; `other_litres` is None where only one rule applies."""

    litres: float
    other_litres: float | None

    def __add__(self, more: "Equivalent") -> "Equivalent":
        # One part that only one rule applies to leaves the other rule without a sum.
        other = None
        if self.other_litres is not None and more.other_litres is not None:
            other = self.other_litres + more.other_litres
        return Equivalent(self.litres + more.litres, other)


NOTHING = Equivalent(0.0, 0.0)


def equivalent(volume_litres: float, sap_brix: float | None, syrup_brix: float) -> Equivalent:
    """Nothing is promised by sap of unknown sugar: whoever sums must say how much that was."""
    if sap_brix is None:
        return NOTHING
    if syrup_brix in JONES_BRIX:
        expected = sugar.predicted_syrup_litres(volume_litres, sap_brix, syrup_brix)
        return Equivalent(expected.litres, expected.other_litres)
    return Equivalent(volume_litres / sugar.sap_per_syrup_mass_balance(sap_brix, syrup_brix), None)


def total(parts: Iterable[Equivalent]) -> Equivalent:
    return sum(parts, NOTHING)


def restated_litres(syrup_litres: float, drawn_brix: float, syrup_brix: float) -> float:
    """The same sugar as syrup of another density."""
    return sugar.sugar_mass_kg(syrup_litres, drawn_brix) / sugar.sugar_mass_kg(1.0, syrup_brix)


def describe(syrup_brix: float) -> str:
    """Which ratio is in use, for the page."""
    if syrup_brix not in JONES_BRIX:
        return f"mass balance at {syrup_brix:.1f} Brix; the Jones rule has no published line there"
    line = sugar.jones_line(syrup_brix)
    return (
        f"revised Jones rule, {line.numerator}/x - {sugar.JONES_OFFSET}, at {syrup_brix:.1f} Brix "
        f"({line.status}), for sap under {sugar.CONCENTRATE_BRIX:.0f} Brix; mass balance above"
    )

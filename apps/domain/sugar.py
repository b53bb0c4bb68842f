"""Sugar in sap and syrup: density, sugar mass, and sap needed per syrup.

Formula: density rho(w, t) = rho_water(t) + sum over k of T^k times a polynomial in w, with
w = Brix / 100 and T = (t - 20) / 100. Sugar mass m = V rho w. Sap per syrup, by volume:
exact B rho(B) / (x rho(x)); revised Jones rule N / x - 0.32, N belonging to the syrup's Brix.
Units: Brix is % sugar by mass; kg/m3; C; litres at the temperature given, 20 C unless said.
Validity: 0-70 Brix and 0-80 C as stated for the polynomial; Span.EXTENDED carries it to 100 C for
the hot test, where it agrees with a published hydrometer chart to 0.21 Brix. Maple sugar is taken
as sucrose. The Jones rule is for sap, 0.5 Brix up to the syrup's own Brix.
Source: coefficients as printed in two unrelated public codes, one citing Llano (2005); that they
are ICUMSA SPS-4 is from memory. The rule: Jones (UVM, 1933, 1946), revised by Perkins and
Isselhardt (UVM Proctor) to 87.1 at 66.0 and 88.2 at 66.9 Brix. 87.7 at 66.5 is derived by the
rule's own algebra, N = Brix x 11 / 8.34 (syrup 11 and water 8.34 lb a gallon), not published.
Syrup weighed in air: UVM Extension, Sap Pricing module (Farrell, Perkins).
"""

from dataclasses import dataclass
from enum import Enum
from itertools import zip_longest
from typing import Literal

import numpy as np

from apps.domain.errors import DomainError, Quantity, require_range
from apps.domain.units import KG_PER_POUND, LITRES_PER_US_GALLON, Number

MAXIMUM_BRIX = 70.0
REFERENCE_C = 20.0
JONES_OFFSET = 0.32
# At and above this the liquid is concentrate, which the rule of thumb was not made for.
CONCENTRATE_BRIX = 5.0
# Sap per syrup grows without end as the sugar goes; under this the scale was misread.
LOWEST_SAP_BRIX = 0.5
# The conventional air and weights that scales are adjusted with (OIML D 28), from memory.
AIR_KG_M3 = 1.2
BRASS_KG_M3 = 8000.0

# Row k multiplies T^k; the columns are the powers w^1, w^2, ... of the sugar fraction.
_DENSITY_COEFFICIENTS: tuple[tuple[float, ...], ...] = (
    (385.1761, 135.3705, 40.9299, -3.9643, 13.4853, -17.2890),
    (-46.2720, -7.1720, 1.1597, 5.1126, 17.5254),
    (59.7712, 7.2491, 12.3630, -35.4791),
    (-47.2207, -21.6977, 27.6301),
    (18.3184, 12.3081),
)
_WATER_NUMERATOR = (
    999.83952,
    16.952577,
    -7.9905127e-3,
    -46.241757e-6,
    105.84601e-9,
    -281.03006e-12,
)
_WATER_DENOMINATOR = (1.0, 16.887236e-3)


class Span(Enum):
    """How warm a solution may be: as the polynomial states, or carried on to boiling."""

    STATED = 80.0
    EXTENDED = 100.0


@dataclass(frozen=True)
class Composition:
    """What a solution is made of. The two mass fractions sum to one."""

    sugar_mass_fraction: float
    water_mass_fraction: float
    sugar_kg_per_litre: float
    water_kg_per_litre: float
    # Litres of pure water, at the same temperature, in a litre of the solution.
    water_volume_fraction: float


@dataclass(frozen=True)
class JonesLine:
    """One line of the revised Jones rule and whether its constant was published."""

    syrup_brix: float
    numerator: float
    status: Literal["published", "derived"]


@dataclass(frozen=True)
class Prediction:
    """Syrup expected from a volume, by the method trusted for its Brix, the other beside it."""

    litres: float
    method: Literal["jones", "mass balance"]
    other_litres: float


@dataclass(frozen=True)
class SyrupWeight:
    """What a litre of syrup weighs on a scale, and where the figure comes from."""

    kg_per_litre: float
    basis: Literal["published", "computed"]


JONES_LINES = (
    JonesLine(66.0, 87.1, "published"),
    JonesLine(66.5, 87.7, "derived"),
    JonesLine(66.9, 88.2, "published"),
)
_SCALE_BRIX = (66.0, 66.5, 66.9)
_SCALE_POUNDS_PER_US_GALLON = (11.027, 11.053, 11.073)


def density_kg_m3(
    brix: Number, temperature_c: float = REFERENCE_C, *, span: Span = Span.STATED
) -> Number:
    """Density of a sucrose solution: a float for a float, an array for an array of Brix.

    Raises OutOfRange outside 0-70 Brix or 0 C to the span's limit.
    """
    require_range("brix", brix, 0.0, MAXIMUM_BRIX)
    require_range("temperature_c", temperature_c, 0.0, span.value)
    return _density(brix, temperature_c)


def brix_from_density(
    density: float, temperature_c: float = REFERENCE_C, *, span: Span = Span.STATED
) -> float:
    """Brix of a solution of known density in kg/m3: the inverse of density_kg_m3.

    Raises OutOfRange for a density no solution of 0-70 Brix has at that temperature.
    """
    low, high = 0.0, MAXIMUM_BRIX
    lightest = density_kg_m3(low, temperature_c, span=span)
    require_range("density", density, lightest, _density(high, temperature_c))
    # Density rises with Brix throughout, so halving 60 times leaves under 1e-16 Brix.
    for _ in range(60):
        middle = (low + high) / 2.0
        if _density(middle, temperature_c) < density:
            low = middle
        else:
            high = middle
    return (low + high) / 2.0


def specific_gravity(brix: Number) -> Number:
    """Specific gravity 20/20 C: density over that of water, both at 20 C."""
    return density_kg_m3(brix) / density_kg_m3(0.0)


def baume(brix: Number) -> Number:
    """Degrees Baume, modulus 145, from the specific gravity 20/20 C."""
    # By 20/20 C, as the density is; a hydrometer marked by 60/60 F shows 0.1 more at 66.9.
    return 145.0 - 145.0 / specific_gravity(brix)


def composition(brix: float, temperature_c: float = REFERENCE_C) -> Composition:
    """Mass and volume fractions of sugar and water in a solution."""
    kg_per_litre = density_kg_m3(brix, temperature_c) / 1000.0
    water_kg_per_litre = kg_per_litre * (1.0 - brix / 100.0)
    return Composition(
        sugar_mass_fraction=brix / 100.0,
        water_mass_fraction=1.0 - brix / 100.0,
        sugar_kg_per_litre=kg_per_litre * brix / 100.0,
        water_kg_per_litre=water_kg_per_litre,
        water_volume_fraction=water_kg_per_litre * 1000.0 / density_kg_m3(0.0, temperature_c),
    )


def sugar_mass_kg(
    volume_litres: Number, brix: Number, temperature_c: float = REFERENCE_C
) -> Number:
    """Sugar in a volume measured at the temperature given; floats, or arrays of one shape."""
    require_range("volume_litres", volume_litres, 0.0, np.inf)
    return volume_litres / 1000.0 * density_kg_m3(brix, temperature_c) * brix / 100.0


def sap_per_syrup_mass_balance(sap_brix: Number, syrup_brix: float) -> Number:
    """Volumes of sap to one of syrup, both at 20 C, every gram of sugar kept.

    Raises OutOfRange unless 0.5 <= sap_brix <= syrup_brix <= 70.
    """
    _require_sap(sap_brix, syrup_brix)
    return density_kg_m3(syrup_brix) * syrup_brix / (density_kg_m3(sap_brix) * sap_brix)


def jones_line(syrup_brix: float) -> JonesLine:
    """The revised Jones rule for syrup of 66.0, 66.5 (derived) or 66.9 Brix.

    Raises DomainError for any other density: the rule is not published there.
    """
    # Matched exactly: between its printed densities the rule says nothing, and a guess would look
    # as if it had been published.
    for line in JONES_LINES:
        if line.syrup_brix == syrup_brix:
            return line
    known = ", ".join(str(line.syrup_brix) for line in JONES_LINES)
    raise DomainError(f"syrup_brix of the Jones rule must be one of {known}, not {syrup_brix:g}")


def sap_per_syrup_jones(sap_brix: Number, syrup_brix: float = 66.0) -> Number:
    """Volumes of sap to one of syrup by the revised Jones rule of thumb.

    0.4 % under the mass balance at 66.0 Brix and 0.9 % at 66.9, as it rounds syrup to 11 lb a
    gallon. Raises DomainError for a syrup density without a rule, OutOfRange for the sap.
    """
    line = jones_line(syrup_brix)
    _require_sap(sap_brix, syrup_brix)
    return line.numerator / sap_brix - JONES_OFFSET


def predicted_syrup_litres(
    volume_litres: float, sap_brix: float, syrup_brix: float = 66.0
) -> Prediction:
    """Syrup expected from sap or concentrate, nothing lost.

    By the Jones rule, which producers compare with, under 5 Brix; by mass balance at or above.
    """
    require_range("volume_litres", volume_litres, 0.0, np.inf)
    jones = volume_litres / sap_per_syrup_jones(sap_brix, syrup_brix)
    balance = volume_litres / sap_per_syrup_mass_balance(sap_brix, syrup_brix)
    # Both are worked every time, so that whoever knows one figure sees what the other says.
    if sap_brix < CONCENTRATE_BRIX:
        return Prediction(litres=jones, method="jones", other_litres=balance)
    return Prediction(litres=balance, method="mass balance", other_litres=jones)


def syrup_weight_in_air(brix: float) -> SyrupWeight:
    """What a litre of syrup at 20 C shows on a scale, buoyed by the air it displaces.

    The published trade figures, interpolated, from 66.0 to 66.9 Brix; computed from the density
    and the buoyancy of air elsewhere, which lies 0.03 % above the published ones.
    """
    # Drums are bought and sold by the published weights, so they go before our own.
    if _SCALE_BRIX[0] <= brix <= _SCALE_BRIX[-1]:
        pounds = float(np.interp(brix, _SCALE_BRIX, _SCALE_POUNDS_PER_US_GALLON))
        return SyrupWeight(pounds * KG_PER_POUND / LITRES_PER_US_GALLON, "published")
    buoyed = (density_kg_m3(brix) - AIR_KG_M3) / (1.0 - AIR_KG_M3 / BRASS_KG_M3)
    return SyrupWeight(buoyed / 1000.0, "computed")


def _require_sap(sap_brix: Quantity, syrup_brix: float) -> None:
    require_range("syrup_brix", syrup_brix, LOWEST_SAP_BRIX, MAXIMUM_BRIX)
    require_range("sap_brix", sap_brix, LOWEST_SAP_BRIX, syrup_brix)


def _density(brix: Number, temperature_c: float) -> Number:
    warmth = (temperature_c - REFERENCE_C) / 100.0
    water = _polynomial(temperature_c, _WATER_NUMERATOR) / _polynomial(
        temperature_c, _WATER_DENOMINATOR
    )
    # Each power of the sugar fraction gathers its own polynomial in warmth.
    by_power: list[float] = [
        _polynomial(warmth, column) for column in zip_longest(*_DENSITY_COEFFICIENTS, fillvalue=0.0)
    ]
    return _polynomial(brix / 100.0, (water, *by_power))


def _polynomial(variable: Number, coefficients: tuple[float, ...]) -> Number:
    """Sum of coefficient times power, the constant first, by Horner's scheme."""
    total = variable * 0.0
    for coefficient in reversed(coefficients):
        total = total * variable + coefficient
    return total

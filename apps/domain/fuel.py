"""Fuel a boil burns, for oil, wood, gas and electricity.

Formula: units of fuel = heat that must reach the pan / (heat in a unit x efficiency).
Units: MJ; oil and propane by the litre, wood by the stacked cubic metre, natural gas by the cubic
metre, electricity by the kWh.
Validity: efficiency 0.05-1, the share of the fuel's heat that reaches the pan; a firm's claim that
needs more than 1 contradicts itself. Heat recovered from steam lowers the heat, not the share.
Source: kWh exact. Heat in oil, propane and natural gas: usual US figures (138,500 and 91,500 BTU a
gallon, 1,037 BTU a cubic foot), from memory. Wood, 20 million BTU a full cord: common practice,
no source; it is what OSU Extension's 22 gallons of syrup a cord and 40-60 % efficiency imply.
"""

from dataclasses import dataclass
from typing import Literal

from apps.domain.errors import DomainError, require_range
from apps.domain.units import LITRES_PER_US_GALLON, METRES_PER_FOOT, megajoules_from_btu

CUBIC_METRES_PER_CORD = 128.0 * METRES_PER_FOOT**3
# Even an open fire brings more than this to a pan: a lower figure is a slip of the unit.
LOWEST_EFFICIENCY = 0.05


@dataclass(frozen=True)
class Fuel:
    """A fuel, the unit it is bought in, the heat in that unit and how surely that is known."""

    name: str
    unit: str
    megajoules_per_unit: float
    status: Literal["exact", "from memory", "common practice, no source"]


# Each in the unit it is bought in, so that a dipstick or a bill is typed as it stands.
FUELS = {
    fuel.name: fuel
    for fuel in (
        Fuel(
            "fuel oil",
            "litre",
            megajoules_from_btu(138_500.0) / LITRES_PER_US_GALLON,
            "from memory",
        ),
        Fuel(
            "wood",
            "stacked cubic metre",
            # 22 gallons of syrup a cord at 400,000 BTU each are 44 % of this, inside the 40 to 60 %
            # given for wood, as they would not be of 30 million.
            megajoules_from_btu(20e6) / CUBIC_METRES_PER_CORD,
            "common practice, no source",
        ),
        Fuel(
            "propane",
            "litre",
            megajoules_from_btu(91_500.0) / LITRES_PER_US_GALLON,
            "from memory",
        ),
        Fuel(
            "natural gas",
            "cubic metre",
            megajoules_from_btu(1_037.0) / METRES_PER_FOOT**3,
            "from memory",
        ),
        Fuel("electricity", "kWh", 3.6, "exact"),
    )
}


def fuel(name: str) -> Fuel:
    """The fuel of that name. Raises DomainError for one not on file."""
    if name not in FUELS:
        raise DomainError(f"fuel must be one of {', '.join(FUELS)}, not {name}")
    return FUELS[name]


def fuel_units(heat_mj: float, burnt: Fuel, efficiency: float) -> float:
    """Units of a fuel that bring a heat to the pan."""
    require_range("heat_mj", heat_mj, 0.0, float("inf"))
    require_range("efficiency", efficiency, LOWEST_EFFICIENCY, 1.0)
    return heat_mj / (burnt.megajoules_per_unit * efficiency)


def efficiency_from_use(heat_mj: float, burnt: Fuel, units_burnt: float) -> float:
    """The share of a fuel's heat that reached the pan, from what was burnt.

    Raises OutOfRange when the figures need less than 5 % or more than all of the fuel's heat:
    one of them is then wrong.
    """
    require_range("units_burnt", units_burnt, 1e-9, float("inf"))
    efficiency = heat_mj / (burnt.megajoules_per_unit * units_burnt)
    require_range("efficiency", efficiency, LOWEST_EFFICIENCY, 1.0)
    return efficiency

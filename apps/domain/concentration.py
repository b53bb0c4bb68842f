"""Taking water out of a solution or adding something to it, to reach a wanted Brix.

Formula: sugar mass is kept. Concentrate volume = V rho(x) x / (rho(y) y); water removed = the
mass that is missing. To reach Brix z by adding a liquid of Brix y to a mass m of Brix x, add the
mass m (z - x) / (y - z). The rule of thumb, concentrate = V x / y, is given beside.
Units: litres at 20 C, Brix in % by mass, kg.
Validity: 0-70 Brix, as sugar.density_kg_m3. The water taken out is taken as free of sugar: true
of steam, and of a sound reverse osmosis membrane to better than the Brix can be read.
Source: conservation of mass; the rule as printed by UVM Extension (Maple Minute) and producers.
"""

import math
from dataclasses import dataclass

from apps.domain.errors import require_range
from apps.domain.sugar import LOWEST_SAP_BRIX, MAXIMUM_BRIX, density_kg_m3


@dataclass(frozen=True)
class Concentration:
    """What taking water out leaves, by mass balance, with the rule of thumb's volume beside."""

    concentrate_litres: float
    water_kg: float
    water_litres: float
    rule_concentrate_litres: float

    @property
    def water_share_of_feed(self) -> float:
        """Litres of water to a litre of water and concentrate together; the rule says 1 - x / y."""
        return self.water_litres / (self.water_litres + self.concentrate_litres)


@dataclass(frozen=True)
class Addition:
    """What to add to reach the wanted Brix, and what there is then."""

    added_litres: float
    product_litres: float


def concentrate(volume_litres: float, brix: float, target_brix: float) -> Concentration:
    """Take water out of a volume until it reaches the target, by membrane or by boiling.

    Raises OutOfRange unless 0.5 <= brix <= target_brix <= 70.
    """
    require_range("volume_litres", volume_litres, 0.0, math.inf)
    require_range("target_brix", target_brix, LOWEST_SAP_BRIX, MAXIMUM_BRIX)
    require_range("brix", brix, LOWEST_SAP_BRIX, target_brix)
    mass_kg = volume_litres / 1000.0 * density_kg_m3(brix)
    # The quotient first: it is exactly 1 at the target, so no negative water is ever removed.
    left_kg = mass_kg * (brix / target_brix)
    return Concentration(
        concentrate_litres=1000.0 * left_kg / density_kg_m3(target_brix),
        water_kg=mass_kg - left_kg,
        water_litres=1000.0 * (mass_kg - left_kg) / density_kg_m3(0.0),
        rule_concentrate_litres=volume_litres * brix / target_brix,
    )


def brix_after_removing(volume_litres: float, brix: float, water_litres: float) -> float:
    """Brix once a known volume of water is gone: what a permeate meter says of the concentrate.

    Raises OutOfRange when more water is taken than leaves a solution of 70 Brix.
    """
    most = concentrate(volume_litres, brix, MAXIMUM_BRIX).water_litres
    require_range("water_litres", water_litres, 0.0, most)
    mass_kg = volume_litres / 1000.0 * density_kg_m3(brix)
    # An empty tank keeps the Brix it was said to have; there is no mass to divide by.
    if mass_kg == 0.0:
        return brix
    left_kg = mass_kg - water_litres / 1000.0 * density_kg_m3(0.0)
    # The most water that may be taken was itself rounded, and may leave a hair over 70.
    return min(brix * mass_kg / left_kg, MAXIMUM_BRIX)


def add_to_reach(
    volume_litres: float, brix: float, added_brix: float, target_brix: float
) -> Addition:
    """How much of a liquid of added_brix brings a volume to the target; water is 0 Brix.

    Raises OutOfRange unless the target lies between the two, and off the added one.
    """
    require_range("volume_litres", volume_litres, 0.0, math.inf)
    require_range("brix", brix, 0.0, MAXIMUM_BRIX)
    require_range("added_brix", added_brix, 0.0, MAXIMUM_BRIX)
    # Whatever is at hand, even more of the same, none of it is needed.
    if target_brix == brix:
        return Addition(added_litres=0.0, product_litres=volume_litres)
    # At the added liquid's own Brix no finite amount is enough.
    nearest = math.nextafter(added_brix, brix)
    require_range("target_brix", target_brix, min(brix, nearest), max(brix, nearest))
    mass_kg = volume_litres / 1000.0 * density_kg_m3(brix)
    added_kg = mass_kg * (target_brix - brix) / (added_brix - target_brix)
    return Addition(
        added_litres=1000.0 * added_kg / density_kg_m3(added_brix),
        product_litres=1000.0 * (mass_kg + added_kg) / density_kg_m3(target_brix),
    )

"""What several portions of sap, concentrate or syrup become when poured together.

Formula: mass is kept, of sugar and of water. Blend Brix = sum(v rho x) / sum(v rho); blend volume
= sum(v rho) / rho(blend Brix), which for sap is the sum of the volumes to a few parts in a
million and for syrup into water up to 0.4 % less, because the two pack closer. Errors are carried
to first order: each portion's volume and Brix errors are taken as independent standard errors.
Units: litres at 20 C, Brix in % by mass, kg.
Validity: 0-70 Brix, as sugar.density_kg_m3; Brix errors small against the Brix they belong to.
Source: conservation of mass; propagation of error by JCGM 100:2008 (GUM), 5.1.2, equation (10).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from apps.domain.errors import DomainError, require_range
from apps.domain.sugar import MAXIMUM_BRIX, density_kg_m3, sugar_mass_kg

# A central difference over this many Brix gives the density's slope to ten figures.
_SLOPE_STEP_BRIX = 1e-3


@dataclass(frozen=True)
class Portion:
    """One measured volume, with the standard errors of its measurement (0 where not known)."""

    volume_litres: float
    brix: float
    volume_error_litres: float = 0.0
    brix_error: float = 0.0

    def __post_init__(self) -> None:
        require_range("volume_litres", self.volume_litres, 0.0, math.inf)
        require_range("brix", self.brix, 0.0, MAXIMUM_BRIX)
        require_range("volume_error_litres", self.volume_error_litres, 0.0, math.inf)
        require_range("brix_error", self.brix_error, 0.0, MAXIMUM_BRIX)

    @property
    def sugar_kg(self) -> float:
        """Sugar in the portion."""
        return sugar_mass_kg(self.volume_litres, self.brix)

    @property
    def mass_kg(self) -> float:
        """Sugar and water together."""
        return self.volume_litres / 1000.0 * density_kg_m3(self.brix)

    @property
    def sugar_error_kg(self) -> float:
        """Standard error of the sugar, from those of volume and Brix."""
        density, slope = density_kg_m3(self.brix), _density_slope(self.brix)
        by_volume = density * self.brix / 100.0 / 1000.0
        by_brix = self.volume_litres / 1000.0 * (density + self.brix * slope) / 100.0
        return math.hypot(by_volume * self.volume_error_litres, by_brix * self.brix_error)


@dataclass(frozen=True)
class Blend:
    """What the portions became: sugar_mass_kg(volume_litres, brix) is sugar_kg again."""

    volume_litres: float
    brix: float
    sugar_kg: float
    brix_error: float
    sugar_error_kg: float


def blend(portions: Sequence[Portion]) -> Blend:
    """Pour the portions together, every gram of sugar and water kept.

    Raises DomainError when there is nothing to blend.
    """
    # Exact sums, so that a season of loads still closes to the last grams.
    mass_kg = math.fsum(portion.mass_kg for portion in portions)
    if mass_kg <= 0.0:
        raise DomainError("a blend needs at least one portion with a volume above 0")
    sugar_kg = math.fsum(portion.sugar_kg for portion in portions)
    # Rounding may push a blend of equals a hair past the richest portion, even past 70 Brix.
    brix = min(100.0 * sugar_kg / mass_kg, max(portion.brix for portion in portions))
    return Blend(
        volume_litres=1000.0 * mass_kg / density_kg_m3(brix),
        brix=brix,
        sugar_kg=sugar_kg,
        brix_error=math.hypot(*_brix_errors(portions, brix, mass_kg)),
        sugar_error_kg=math.hypot(*(portion.sugar_error_kg for portion in portions)),
    )


def _brix_errors(portions: Sequence[Portion], blend_brix: float, mass_kg: float) -> list[float]:
    """Each measurement's part in the error of the blend's Brix."""
    # Taken as independent: one hydrometer that is off by the same everywhere errs more than this.
    errors = []
    for portion in portions:
        density, slope = density_kg_m3(portion.brix), _density_slope(portion.brix)
        excess = portion.brix - blend_brix
        by_volume = density * excess / mass_kg / 1000.0
        by_brix = portion.volume_litres * (density + excess * slope) / mass_kg / 1000.0
        errors += [by_volume * portion.volume_error_litres, by_brix * portion.brix_error]
    return errors


def _density_slope(brix: float) -> float:
    """Change of density in kg/m3 per Brix, taken inside 0-70 at both ends."""
    low = max(brix - _SLOPE_STEP_BRIX, 0.0)
    high = min(brix + _SLOPE_STEP_BRIX, MAXIMUM_BRIX)
    return (density_kg_m3(high) - density_kg_m3(low)) / (high - low)

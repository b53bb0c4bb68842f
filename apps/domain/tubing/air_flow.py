"""Air a mainline lets through from its far end to the pump, and its split between lines.

Formula: isothermal flow of air, G^2 R T (f L / D + 2 ln(p1 / p2)) = p1^2 - p2^2, between the far
end at p1 and a pump that takes a fixed volume at p2; friction f by Churchill's equation. Sap in
the pipe narrows the airway: its area and hydraulic diameter 4 A / P are those of the part above
the sap, the surface counted as wall. Several lines at one pump share its air by area.
Units: inner diameter in mm, length in m, air in m3/h at the pressure of the line's far end (as a
pump is rated at its own vacuum), vacuum in kPa.
Validity: smooth pipe of 5 to 300 mm at 0 C, air only at the far end. Published line-loss figures
lie between an empty and a half-full pipe; the fill of 0.4 was set by two of them (1 in at 1,000 ft
and 2 in at 1,500 ft, within 15 %) and understates short lines: half the air after 200 ft of 1 in
is published, a third computed. Take it as a guide, and a gauge at the far end as the answer.
Source: Churchill, Chemical Engineering (1977), and the isothermal pipe equation, both as in the
fluids library (Bell). Worked examples: Ober, OSU Extension (2013); Childs, Maple News.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from apps.domain.boiling import STANDARD_KPA, ZERO_CELSIUS_K
from apps.domain.errors import DomainError, require_range
from apps.domain.units import kpa_from_inhg
from apps.domain.vacuum import GAS_CONSTANT_J_KG_K

# Air of 0 C: lines stand in melting woods, and 10 C either way moves the answer under 2 %.
AIR_K, AIR_VISCOSITY_PA_S = ZERO_CELSIUS_K, 1.716e-5
RT: Final = GAS_CONSTANT_J_KG_K * AIR_K
LINE_END_VACUUM_KPA: Final = kpa_from_inhg(15.0)
USUAL_SAP_FILL = 0.4
SECONDS_PER_HOUR = 3600
# Each halving gains a binary digit; sixty reach the precision of a float.
HALVINGS = 60


@dataclass(frozen=True, slots=True)
class AirAtDistance:
    """Air arriving from the far end, its share of the pump's, and the vacuum at the pump."""

    air_m3_h: float
    share: float
    pump_vacuum_kpa: float


def air_at_distance(
    inner_diameter_mm: float,
    length_m: float,
    pump_m3_h: float,
    line_end_vacuum_kpa: float = LINE_END_VACUUM_KPA,
    sap_fill: float = USUAL_SAP_FILL,
    outside_kpa: float = STANDARD_KPA,
) -> AirAtDistance:
    """What is left of a pump's air at the far end of a line held at line_end_vacuum_kpa.

    Raises OutOfRange outside 5 to 300 mm, 0.1 to 20,000 m, 0.1 to 10,000 m3/h, a fill of 0 to
    0.95 or a vacuum that leaves under 1 kPa of air.
    """
    require_range("inner_diameter_mm", inner_diameter_mm, 5, 300)
    require_range("length_m", length_m, 0.1, 20_000)
    require_range("pump_m3_h", pump_m3_h, 0.1, 10_000)
    require_range("sap_fill", sap_fill, 0, 0.95)
    require_range("outside_kpa", outside_kpa, 45, 110)
    require_range("line_end_vacuum_kpa", line_end_vacuum_kpa, 0, outside_kpa - 1)
    area_m2, hydraulic_m = _airway(inner_diameter_mm / 1000, sap_fill)
    # Air leaves a pipe no faster than sqrt(RT), the limit of isothermal flow.
    speed = min(pump_m3_h / SECONDS_PER_HOUR / area_m2, math.sqrt(RT))
    far_pa = (outside_kpa - line_end_vacuum_kpa) * 1000
    pump_pa = _pressure_at_pump(far_pa, speed, hydraulic_m, length_m)
    air = speed * area_m2 * SECONDS_PER_HOUR * pump_pa / far_pa
    return AirAtDistance(air, air / pump_m3_h, outside_kpa - pump_pa / 1000)


def darcy_friction(reynolds: float) -> float:
    """Darcy friction factor of a smooth pipe, laminar to turbulent; OutOfRange over 1e8."""
    require_range("reynolds", reynolds, 1e-6, 1e8)
    turbulent = (2.457 * math.log((reynolds / 7) ** 0.9)) ** 16
    transition = (37530 / reynolds) ** 16
    friction: float = 8 * ((8 / reynolds) ** 12 + (turbulent + transition) ** -1.5) ** (1 / 12)
    return friction


def share_air_by_area(pump_m3_h: float, inner_diameters_mm: Sequence[float]) -> tuple[float, ...]:
    """Each line's part of the pump's air, by the area of its pipe, in the order given.

    Raises DomainError without a line, OutOfRange for a diameter outside 5 to 300 mm.
    """
    require_range("pump_m3_h", pump_m3_h, 0, 10_000)
    if not inner_diameters_mm:
        raise DomainError("inner_diameters_mm must hold at least one line, and holds none")
    for diameter in inner_diameters_mm:
        require_range("inner_diameters_mm", diameter, 5, 300)
    # By area, as the published example has it; friction would give the wide ones more still.
    whole = math.fsum(diameter**2 for diameter in inner_diameters_mm)
    return tuple(pump_m3_h * diameter**2 / whole for diameter in inner_diameters_mm)


def _airway(diameter_m: float, sap_fill: float) -> tuple[float, float]:
    """Area in m2 and hydraulic diameter in m of the pipe above the sap."""
    angle = 2 * math.acos(1 - 2 * sap_fill)
    area = math.pi * diameter_m**2 / 4 - diameter_m**2 * (angle - math.sin(angle)) / 8
    # Air drags on the sap as on the wall, which moves far slower than it does.
    wall, surface = diameter_m * (math.pi - angle / 2), diameter_m * math.sin(angle / 2)
    return area, 4 * area / (wall + surface)


def _pressure_at_pump(far_pa: float, speed: float, hydraulic_m: float, length_m: float) -> float:
    """The pressure at which the pump's intake and the pipe's friction agree."""
    low, high = 0.0, far_pa
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        flux = speed * middle / RT
        friction = darcy_friction(flux * hydraulic_m / AIR_VISCOSITY_PA_S)
        losses = friction * length_m / hydraulic_m + 2 * math.log(far_pa / middle)
        if flux**2 * RT * losses > far_pa**2 - middle**2:
            high = middle
        else:
            low = middle
    return (low + high) / 2

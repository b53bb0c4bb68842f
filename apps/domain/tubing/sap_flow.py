"""Sap a mainline carries by diameter and slope, and the taps that makes.

Formula: Manning, Q = A R^(2/3) S^(1/2) / n in a pipe filled to a share of its depth: with the
angle t = 2 acos(1 - 2 fill), A = d^2 (t - sin t) / 8, wetted perimeter d t / 2. Taps = flow / the
peak flow of a tap.
Units: inner diameter in mm, slope in percent, flow in litres an hour.
Validity: steady flow downhill in a straight, smooth pipe, n 0.010, 5 to 300 mm. Computed, not
published: real lines sag, freeze and carry air. A producer's own table, with its source, takes
its place; it is read at the same diameter and the nearest flatter slope, never beyond.
Source: Manning's equation, Chow, Open-Channel Hydraulics (1959), from memory. Filled at most half
at good flow: a leveling article. Peak flow of 0.2 gallons a tap and hour: from memory, weak.
"""

import math
from dataclasses import dataclass
from typing import Final, Literal

from apps.domain.errors import DomainError, require_range
from apps.domain.units import litres_from_us_gallons

Basis = Literal["producer's table", "computed, not published"]

SMOOTH_PLASTIC = 0.010
HALF_FULL = 0.5
PEAK_LITRES_PER_TAP_HOUR: Final = litres_from_us_gallons(0.2)
LITRES_PER_M3, SECONDS_PER_HOUR = 1000, 3600
SAME_DIAMETER_MM = 0.05
# A slope worked out from heights must still reach the row it stands for.
DECIMALS = 6


@dataclass(frozen=True, slots=True)
class CapacityRow:
    """Taps a mainline may carry at this inner diameter and slope."""

    inner_diameter_mm: float
    slope_percent: float
    taps: int

    def __post_init__(self) -> None:
        require_range("inner_diameter_mm", self.inner_diameter_mm, 5, 300)
        require_range("slope_percent", self.slope_percent, 0, 100)
        require_range("taps", self.taps, 1, 1_000_000)


@dataclass(frozen=True, slots=True)
class CapacityTable:
    """A table the producer entered; raises DomainError without a source."""

    source: str
    rows: tuple[CapacityRow, ...]

    def __post_init__(self) -> None:
        if not self.source.strip():
            raise DomainError("source of a capacity table must be named, and is blank")


@dataclass(frozen=True, slots=True)
class MainlineCapacity:
    """Taps a mainline carries, how that is known, and the flow where it was computed."""

    taps: int
    basis: Basis
    source: str
    litres_per_hour: float | None


def sap_flow_litres_per_hour(
    inner_diameter_mm: float,
    slope_percent: float,
    fill: float = HALF_FULL,
    roughness: float = SMOOTH_PLASTIC,
) -> float:
    """Flow of a pipe running at this share of its depth.

    Raises OutOfRange outside 5 to 300 mm, 0 to 100 %, a fill of 0 to 1 or n of 0.005 to 0.05.
    """
    require_range("inner_diameter_mm", inner_diameter_mm, 5, 300)
    require_range("slope_percent", slope_percent, 0, 100)
    require_range("fill", fill, 0, 1)
    require_range("roughness", roughness, 0.005, 0.05)
    # An empty pipe has no wetted wall to divide by.
    if fill == 0:
        return 0.0
    diameter_m = inner_diameter_mm / 1000
    angle = 2 * math.acos(1 - 2 * fill)
    area_m2 = diameter_m**2 * (angle - math.sin(angle)) / 8
    hydraulic_radius_m = area_m2 / (diameter_m * angle / 2)
    m3_s: float = area_m2 * hydraulic_radius_m ** (2 / 3) * (slope_percent / 100) ** 0.5 / roughness
    return m3_s * LITRES_PER_M3 * SECONDS_PER_HOUR


def mainline_capacity(
    inner_diameter_mm: float,
    slope_percent: float,
    table: CapacityTable | None = None,
    peak_litres_per_tap_hour: float = PEAK_LITRES_PER_TAP_HOUR,
) -> MainlineCapacity:
    """Taps a mainline carries: by the producer's table where it reaches, else computed.

    Raises what sap_flow_litres_per_hour raises, OutOfRange for a peak outside 0.05 to 20 litres.
    """
    require_range("peak_litres_per_tap_hour", peak_litres_per_tap_hour, 0.05, 20)
    # Before the table is asked, so that an impossible pipe is refused whichever answers.
    litres = sap_flow_litres_per_hour(inner_diameter_mm, slope_percent)
    row = _row(table, inner_diameter_mm, slope_percent)
    if table is not None and row is not None:
        return MainlineCapacity(row.taps, "producer's table", table.source, None)
    # Down, as one tap over is too many, but not for the last digit of a conversion.
    taps = math.floor(round(litres / peak_litres_per_tap_hour, DECIMALS))
    return MainlineCapacity(taps, "computed, not published", "Manning, pipe half full", litres)


def _row(
    table: CapacityTable | None, inner_diameter_mm: float, slope_percent: float
) -> CapacityRow | None:
    """The row of this diameter with the steepest slope that is not over the line's."""
    flatter = [
        row
        for row in (table.rows if table else ())
        if abs(row.inner_diameter_mm - inner_diameter_mm) <= SAME_DIAMETER_MM
        and round(row.slope_percent - slope_percent, DECIMALS) <= 0
    ]
    # Flatter is safe: a steeper line carries at least what the flatter row allows.
    return max(flatter, key=lambda row: row.slope_percent, default=None)

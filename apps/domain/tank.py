"""Sap and syrup tanks: litres from a dipstick, the dip from litres, and the hours to overflow.

Formula: a tank on its side holds its wetted end area x its length. With radius R and depth h a
circle's wetted area is R^2 acos((R - h) / R) - (R - h) sqrt(2 R h - h^2). An oval with flat sides
is two half circles joined by a rectangle, standing when higher than wide and lying otherwise. A
producer's own dip table is interpolated between its points and never extrapolated.
Hours to full = (usable share x full - now) / inflow; inflow at or under zero never fills.
Units: millimetres, litres, hours, litres per hour.
Validity: level tanks with flat ends; measure inside the shell. 231 cubic inches make a US gallon
exactly, so a litre is a cubic decimetre here and inches convert through 25.4 mm without rounding.
The usable share of 97 % is common practice, no source.
Source: E. W. Weisstein, MathWorld, "Circular Segment", eq. 18 (after W. H. Beyer, CRC Standard
Mathematical Tables, 1987); NIST Handbook 44, Appendix C (gallon of 231 cubic inches).
"""

import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np
import numpy.typing as npt

from apps.domain.errors import DomainError, require_range

MM3_PER_LITRE = 1e6
# Longer than any tank on the road; a figure past it was typed in the wrong unit.
LARGEST_MM = 100_000.0
# Each halving gains a bit; 100 of them pass the precision of any tank height held in a double.
HALVINGS = 100


class BadDipTable(DomainError):
    """A dip table that does not rise, or has fewer than two points."""


class Tank(Protocol):
    """What every tank can say, whatever its shape."""

    @property
    def full_litres(self) -> float:
        """Litres when filled to the top."""

    def volume_litres(self, depth_mm: float) -> float:
        """Litres at a depth."""

    def depth_mm(self, volume_litres: float) -> float:
        """Depth at a volume, the inverse of volume_litres."""


@dataclass(frozen=True)
class VerticalCylinder:
    """A round tank standing on its end. Raises OutOfRange for a side under 1 mm."""

    diameter_mm: float
    height_mm: float

    def __post_init__(self) -> None:
        _require_sides(diameter_mm=self.diameter_mm, height_mm=self.height_mm)

    @property
    def full_litres(self) -> float:
        """Litres when filled to the top."""
        return self.volume_litres(self.height_mm)

    def volume_litres(self, depth_mm: float) -> float:
        """Litres at a depth; OutOfRange outside 0..height_mm."""
        require_range("depth_mm", depth_mm, 0.0, self.height_mm)
        return math.pi * self.diameter_mm**2 / 4 * depth_mm / MM3_PER_LITRE

    def depth_mm(self, volume_litres: float) -> float:
        """Depth at a volume; OutOfRange outside 0..full_litres."""
        require_range("volume_litres", volume_litres, 0.0, self.full_litres)
        return self.height_mm * (volume_litres / self.full_litres)


@dataclass(frozen=True)
class Box:
    """A tank with four upright sides. Raises OutOfRange for a side under 1 mm."""

    width_mm: float
    length_mm: float
    height_mm: float

    def __post_init__(self) -> None:
        _require_sides(width_mm=self.width_mm, length_mm=self.length_mm, height_mm=self.height_mm)

    @property
    def full_litres(self) -> float:
        """Litres when filled to the top."""
        return self.volume_litres(self.height_mm)

    def volume_litres(self, depth_mm: float) -> float:
        """Litres at a depth; OutOfRange outside 0..height_mm."""
        require_range("depth_mm", depth_mm, 0.0, self.height_mm)
        return self.width_mm * self.length_mm * depth_mm / MM3_PER_LITRE

    def depth_mm(self, volume_litres: float) -> float:
        """Depth at a volume; OutOfRange outside 0..full_litres."""
        require_range("volume_litres", volume_litres, 0.0, self.full_litres)
        return self.height_mm * (volume_litres / self.full_litres)


@dataclass(frozen=True)
class FlatOval:
    """An oval with flat sides (two half circles and a rectangle) and flat ends, on its side.

    Higher than wide, the half circles are its floor and roof; wider than high, its two sides.
    Raises OutOfRange for a side under 1 mm.
    """

    width_mm: float
    height_mm: float
    length_mm: float

    def __post_init__(self) -> None:
        _require_sides(width_mm=self.width_mm, height_mm=self.height_mm, length_mm=self.length_mm)

    @property
    def full_litres(self) -> float:
        """Litres when filled to the top."""
        return self.volume_litres(self.height_mm)

    def volume_litres(self, depth_mm: float) -> float:
        """Litres at a depth; OutOfRange outside 0..height_mm."""
        require_range("depth_mm", depth_mm, 0.0, self.height_mm)
        return self._wetted_mm2(depth_mm) * self.length_mm / MM3_PER_LITRE

    def depth_mm(self, volume_litres: float) -> float:
        """Depth at a volume; OutOfRange outside 0..full_litres."""
        require_range("volume_litres", volume_litres, 0.0, self.full_litres)
        return _depth_by_halving(self.volume_litres, self.height_mm, volume_litres)

    def _wetted_mm2(self, depth_mm: float) -> float:
        radius_mm = min(self.width_mm, self.height_mm) / 2
        straight_mm = abs(self.width_mm - self.height_mm)
        if self.width_mm > self.height_mm:
            return segment_area_mm2(radius_mm, depth_mm) + straight_mm * depth_mm
        # The part of the depth spent between the upright sides is a plain rectangle; what is
        # left of it wets the floor circle, then the roof circle, as if they touched.
        between_mm = min(max(depth_mm - radius_mm, 0.0), straight_mm)
        # Rounding must not push the rest of a brim-full dip past the circle's own height.
        round_mm = min(depth_mm - between_mm, 2 * radius_mm)
        return segment_area_mm2(radius_mm, round_mm) + self.width_mm * between_mm


@dataclass(frozen=True)
class HorizontalCylinder:
    """A round tank lying on its side, with flat ends. Raises OutOfRange for a side under 1 mm."""

    diameter_mm: float
    length_mm: float

    def __post_init__(self) -> None:
        _require_sides(diameter_mm=self.diameter_mm, length_mm=self.length_mm)

    @property
    def full_litres(self) -> float:
        """Litres when filled to the top."""
        return self.volume_litres(self.diameter_mm)

    def volume_litres(self, depth_mm: float) -> float:
        """Litres at a depth; OutOfRange outside 0..diameter_mm."""
        require_range("depth_mm", depth_mm, 0.0, self.diameter_mm)
        area_mm2 = segment_area_mm2(self.diameter_mm / 2, depth_mm)
        return area_mm2 * self.length_mm / MM3_PER_LITRE

    def depth_mm(self, volume_litres: float) -> float:
        """Depth at a volume; OutOfRange outside 0..full_litres."""
        require_range("volume_litres", volume_litres, 0.0, self.full_litres)
        return _depth_by_halving(self.volume_litres, self.diameter_mm, volume_litres)


@dataclass(frozen=True)
class DipTable:
    """A producer's own table of (depth_mm, litres) points, both strictly rising.

    Between points it is interpolated in a straight line; outside them it says nothing and raises
    OutOfRange. Raises BadDipTable for fewer than two points or a table that does not rise.
    """

    points: tuple[tuple[float, float], ...]

    def __post_init__(self) -> None:
        require_range("points", np.asarray(self.points, dtype=np.float64), 0.0, math.inf)
        if len(self.points) < 2:
            raise BadDipTable(f"a dip table needs at least two points, not {len(self.points)}")
        # Level stretches would leave the dip for a volume undecided.
        for (low_mm, less), (high_mm, more) in itertools.pairwise(self.points):
            if high_mm <= low_mm or more <= less:
                raise BadDipTable(
                    "each depth and volume must be above the one before, not "
                    f"({high_mm:g}, {more:g}) after ({low_mm:g}, {less:g})"
                )

    @property
    def full_litres(self) -> float:
        """Litres at the table's last point."""
        return self.points[-1][1]

    def volume_litres(self, depth_mm: float) -> float:
        """Litres at a depth; OutOfRange outside the table's own depths."""
        depths_mm, litres = zip(*self.points, strict=True)
        require_range("depth_mm", depth_mm, depths_mm[0], depths_mm[-1])
        return float(np.interp(depth_mm, depths_mm, litres))

    def depth_mm(self, volume_litres: float) -> float:
        """Depth at a volume; OutOfRange outside the table's own volumes."""
        depths_mm, litres = zip(*self.points, strict=True)
        require_range("volume_litres", volume_litres, litres[0], litres[-1])
        return float(np.interp(volume_litres, litres, depths_mm))


@dataclass(frozen=True)
class OverflowForecast:
    """When a tank reaches its usable volume under a given inflow curve.

    hours is None when it does not within covered_hours, which ends where the curve does or at
    its first unknown (NaN) step: beyond that nothing is promised. highest_litres is the most
    the tank holds within the time looked at.
    """

    hours: float | None
    covered_hours: float
    highest_litres: float


def segment_area_mm2(radius_mm: float, depth_mm: float) -> float:
    """Wetted area of a circle of radius_mm filled to depth_mm; OutOfRange outside 0..diameter."""
    require_range("radius_mm", radius_mm, 0.0, LARGEST_MM)
    require_range("depth_mm", depth_mm, 0.0, 2 * radius_mm)
    above_mm = radius_mm - depth_mm
    # The angle from its tangent keeps its digits for a film of sap, where the cosine loses half.
    half_chord_mm = math.sqrt(depth_mm * (2 * radius_mm - depth_mm))
    return radius_mm**2 * math.atan2(half_chord_mm, above_mm) - above_mm * half_chord_mm


def hours_to_full(
    full_litres: float,
    now_litres: float,
    inflow_litres_per_hour: float,
    usable_share: float = 0.97,
) -> float | None:
    """Hours until usable_share of the tank is full at a steady inflow; None when it never fills.

    0.0 when it is already there, even if nothing flows in. Raises OutOfRange for a tank of no
    size, a volume outside 0..full_litres, a share outside 0..1 or an inflow that is not finite.
    """
    _require_contents(full_litres, now_litres, usable_share)
    require_range("inflow_litres_per_hour", inflow_litres_per_hour, -math.inf, math.inf)
    # Asked before the inflow: a tank past its usable share is full even while it drains.
    room_litres = usable_share * full_litres - now_litres
    if room_litres <= 0:
        return 0.0
    if inflow_litres_per_hour <= 0:
        return None
    return room_litres / inflow_litres_per_hour


def hours_to_overflow(
    full_litres: float,
    now_litres: float,
    inflow_litres_per_hour: npt.NDArray[np.float64],
    usable_share: float = 0.97,
    step_hours: float = 1.0,
) -> OverflowForecast:
    """Follow a stepped inflow curve, shape (steps,), until the usable volume is reached.

    A step under zero draws the tank down, never under empty. NaN marks an unknown step and ends
    the forecast there. Raises OutOfRange as hours_to_full does, or for a step of no length.
    """
    _require_contents(full_litres, now_litres, usable_share)
    require_range("step_hours", step_hours, 1e-6, 1000.0)
    usable_litres = usable_share * full_litres
    if now_litres >= usable_litres:
        return OverflowForecast(0.0, 0.0, now_litres)
    litres = highest_litres = now_litres
    covered_hours = 0.0
    for rate in map(float, inflow_litres_per_hour):
        # An unknown hour could be the one that fills it, so nothing is said beyond.
        if math.isnan(rate):
            break
        hours = hours_to_full(full_litres, litres, rate, usable_share)
        if hours is not None and hours <= step_hours:
            reached_hours = covered_hours + hours
            return OverflowForecast(reached_hours, reached_hours, usable_litres)
        # Pumped out faster than it fills, a tank stops at empty and owes nothing.
        litres = max(litres + rate * step_hours, 0.0)
        highest_litres = max(highest_litres, litres)
        covered_hours += step_hours
    return OverflowForecast(None, covered_hours, highest_litres)


def _require_contents(full_litres: float, now_litres: float, usable_share: float) -> None:
    require_range("full_litres", full_litres, 1e-6, math.inf)
    require_range("now_litres", now_litres, 0.0, full_litres)
    require_range("usable_share", usable_share, 0.0, 1.0)


def _require_sides(**sides_mm: float) -> None:
    for name, side_mm in sides_mm.items():
        require_range(name, side_mm, 1.0, LARGEST_MM)


def _depth_by_halving(
    volume_at: Callable[[float], float], height_mm: float, volume_litres: float
) -> float:
    # Halving cannot overshoot the tank as Newton's rule does near the flat top and bottom,
    # where the surface narrows to nothing.
    low_mm, high_mm = 0.0, height_mm
    for _ in range(HALVINGS):
        middle_mm = (low_mm + high_mm) / 2
        if volume_at(middle_mm) < volume_litres:
            low_mm = middle_mm
        else:
            high_mm = middle_mm
    return high_mm

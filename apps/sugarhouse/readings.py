"""Litres of sap from the readings of a tank, a meter or a dump counter.

Formula: tank, V(end) - V(start) by its shape; meter, end - start; dump counter, (end - start) x
litres per dump. An instrument that passed its largest figure has rolled over: end - start + its
span. A reading shared with another source counts by its stated share.
Units: mm of depth, litres, counts; litres out.
Validity: at most one roll-over between two readings, which nobody can tell from the figures.
Source: the litres of one dump are calibrated by the operation against a tank of known shape.
"""

from dataclasses import dataclass

from apps.domain.errors import DomainError, require_range
from apps.domain.tank import Tank


class ReadingsDoNotRise(DomainError):
    """The end reading is not above the start, and no roll-over explains it."""


@dataclass(frozen=True)
class Readings:
    """Two readings of one instrument, in its own unit, and where it rolls over if it did."""

    start: float
    end: float
    rolls_over_at: float | None = None

    @property
    def passed(self) -> float:
        """How far the instrument went; ReadingsDoNotRise when it cannot have."""
        require_range("start reading", self.start, 0.0, 1e12)
        require_range("end reading", self.end, 0.0, 1e12)
        if self.end > self.start:
            return self.end - self.start
        # Standing still is no full turn: nobody hauls that much between two looks.
        if self.rolls_over_at is None or self.end == self.start:
            raise ReadingsDoNotRise(
                f"end reading must be above the start {self.start:g}, not {self.end:g}"
            )
        # A start beyond the largest figure was read off another instrument.
        require_range("start reading", self.start, 0.0, self.rolls_over_at)
        return self.rolls_over_at - self.start + self.end


def tank_rise_litres(tank: Tank, readings: Readings) -> float:
    """Litres that came into a tank between two depths in mm."""
    # A tank's depth does not roll over: a fall is sap that left, and no rise at all.
    if readings.end <= readings.start:
        raise ReadingsDoNotRise(
            f"end depth must be above the start {readings.start:g} mm, not {readings.end:g} mm"
        )
    return tank.volume_litres(readings.end) - tank.volume_litres(readings.start)


def meter_litres(readings: Readings) -> float:
    """Litres that passed a meter, its readings being litres."""
    return readings.passed


def dump_litres(readings: Readings, litres_per_count: float) -> float:
    """Litres that a releaser's dumps add up to."""
    require_range("litres_per_count", litres_per_count, 0.01, 10_000.0)
    return readings.passed * litres_per_count

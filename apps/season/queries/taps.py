"""Taps to divide a yield by: those counted as set, planned ones only where none were counted."""

from dataclasses import dataclass

from apps.tapping.queries import taps_set_by_woodlot
from apps.woods.queries import planned_taps_by_woodlot


@dataclass(frozen=True)
class Taps:
    """One woodlot's taps and where the number comes from; None where nobody knows."""

    count: int | None
    basis: str
    lines_uncounted: int = 0


UNKNOWN = Taps(None, "unknown")


def taps_by_woodlot(season: int) -> dict[int, Taps]:
    found = {
        woodlot: Taps(total.taps, "planned", total.lines_uncounted)
        for woodlot, total in planned_taps_by_woodlot(season).items()
        # Nothing planned is no divisor, and lines without a count are no plan of 0.
        if total.taps > 0
    }
    counted = {
        woodlot: Taps(taps, "counted")
        for woodlot, taps in taps_set_by_woodlot(season).items()
        if taps > 0
    }
    # What was set beats what was planned, woodlot by woodlot.
    return found | counted

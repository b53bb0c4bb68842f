"""Which woodlot to tap first: the one that runs earliest, and of those the quickest to tap.

Formula: woodlots ordered by the day by which half of the first run's chance has come there, those
whose day is not known last; days at most one apart count as the same, and then the higher pace in
taps per pair-hour goes first, then the name.
Units: dates, taps per pair-hour.
Validity: one woodlot's day is compared with the earliest of its group, so a chain of days does not
stretch a group. Access, snow bridges and who is where are for the crew to judge.
Source: common practice, no source.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from apps.domain.errors import require_range

SAME_DAYS = 1


@dataclass(frozen=True, slots=True)
class WoodlotRun:
    """A woodlot, its likely first run (None when not known), its pace and the work left."""

    name: str
    first_run: date | None
    pace: float
    pair_hours: float

    def __post_init__(self) -> None:
        require_range("pace", self.pace, 1, 1000)
        require_range("pair_hours", self.pair_hours, 0, 1_000_000)


def woodlot_order(woodlots: Iterable[WoodlotRun]) -> tuple[WoodlotRun, ...]:
    """The order to tap them in."""
    groups: list[list[WoodlotRun]] = []
    opened = date.min
    for lot in sorted(woodlots, key=lambda lot: lot.first_run or date.max):
        first_run = lot.first_run or date.max
        if groups and (first_run - opened).days <= SAME_DAYS:
            groups[-1].append(lot)
        else:
            groups.append([lot])
            opened = first_run
    return tuple(lot for group in groups for lot in sorted(group, key=_quickest))


def _quickest(lot: WoodlotRun) -> tuple[float, str]:
    return -lot.pace, lot.name

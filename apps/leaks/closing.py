"""Which fix closes which leak, told from the checks of one line alone.

Every leak left opens one leak. A later fix with a place closes the open leaks at that place and
those whose place nobody noted; a fix without a place closes every leak open on the line by then,
since nothing says which were meant. The page after saving names what was closed and offers to
leave any of them open again. A tight or frozen line closes nothing.
"""

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True)
class Seen:
    """One standing check as the story of its line needs it; `place_drops` None is not noted."""

    check_id: int
    state: str
    place_drops: int | None


def closers(seen_in_order: Iterable[Seen]) -> dict[int, int | None]:
    """Each check that left a leak, with the check that closed it, or None while it is open."""
    closed_by: dict[int, int | None] = {}
    still_open: dict[int, int | None] = {}
    for seen in seen_in_order:
        if seen.state == "leak_left":
            closed_by[seen.check_id] = None
            still_open[seen.check_id] = seen.place_drops
        elif seen.state == "leak_fixed":
            for opener in [key for key, place in still_open.items() if _same(place, seen)]:
                closed_by[opener] = seen.check_id
                del still_open[opener]
    return closed_by


def _same(place_drops: int | None, fix: Seen) -> bool:
    # An unnoted place may be any place. Left open by doubt, fixed leaks would pile up in the list;
    # the page after saving offers each one closed so to be opened again.
    return place_drops is None or fix.place_drops is None or place_drops == fix.place_drops

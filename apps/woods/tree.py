"""The tree of lines and its exact roll-ups, over plain rows.

A line's own taps may be unknown; an unknown is counted as such and never added as nought.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TypeVar

House = TypeVar("House")


@dataclass(frozen=True)
class TapsTotal:
    """Planned taps of some lines: the sum over those counted, and how many were not."""

    # The empty total adds nothing to any other, so that sum() may start from it.
    taps: int = 0
    lines_counted: int = 0
    lines_uncounted: int = 0

    def __add__(self, other: "TapsTotal") -> "TapsTotal":
        return TapsTotal(
            self.taps + other.taps,
            self.lines_counted + other.lines_counted,
            self.lines_uncounted + other.lines_uncounted,
        )

    @property
    def lines(self) -> int:
        return self.lines_counted + self.lines_uncounted

    @property
    def known(self) -> bool:
        """Whether any line was counted at all; if none was, the total is unknown, not nought."""
        return self.lines_counted > 0

    @property
    def complete(self) -> bool:
        return self.known and self.lines_uncounted == 0


def own_total(planned_taps: int | None) -> TapsTotal:
    """One line by itself."""
    return TapsTotal(0, 0, 1) if planned_taps is None else TapsTotal(planned_taps, 1, 0)


@dataclass(frozen=True)
class Stem:
    """One line as the tree needs it."""

    line_id: int
    parent_id: int | None
    pump_house_id: int | None
    planned_taps: int | None


@dataclass(frozen=True)
class Branch:
    """One line in its place: how deep, which pump house it drains to, and all beneath it."""

    line_id: int
    depth: int
    pump_house_id: int | None
    own: TapsTotal
    total: TapsTotal


def grow(stems: Sequence[Stem]) -> list[Branch]:
    """Every line once, each before its branches, siblings in the order given."""
    order = _walk(stems)
    totals = {stem.line_id: own_total(stem.planned_taps) for stem, _, _ in order}
    # Backwards, every branch comes before the line it runs into.
    for stem, depth, _ in reversed(order):
        if depth and stem.parent_id is not None:
            totals[stem.parent_id] += totals[stem.line_id]
    return [
        Branch(stem.line_id, depth, pump_house, own_total(stem.planned_taps), totals[stem.line_id])
        for stem, depth, pump_house in order
    ]


def _walk(stems: Sequence[Stem]) -> list[tuple[Stem, int, int | None]]:
    """Depth first, without recursion, so that no chain of lines is too long."""
    here = {stem.line_id for stem in stems}
    branches: defaultdict[int | None, list[Stem]] = defaultdict(list)
    for stem in stems:
        # A list cut to one woodlot may lack a parent: its branches stand as roots, not nowhere.
        branches[stem.parent_id if stem.parent_id in here else None].append(stem)
    seen: set[int] = set()
    order: list[tuple[Stem, int, int | None]] = []
    # Lines caught in a ring reach no root: starting from each in turn still shows them, once.
    for start in (*branches[None], *stems):
        waiting: list[tuple[Stem, int, int | None]] = [(start, 0, None)]
        while waiting:
            stem, depth, inherited = waiting.pop()
            if stem.line_id in seen:
                continue
            seen.add(stem.line_id)
            # A line without a pump house of its own drains to that of the line it runs into.
            pump_house = stem.pump_house_id or inherited
            order.append((stem, depth, pump_house))
            # Last in, first out: turned round, siblings come out in the order given.
            below = reversed(branches[stem.line_id])
            waiting.extend((branch, depth + 1, pump_house) for branch in below)
    return order


def totals_by_house(owned: Iterable[tuple[House, TapsTotal]]) -> dict[House, TapsTotal]:
    """Add up lines by the pump house each drains to; None stands for those without one.

    Give each line's own taps and not those with branches: a branch may drain to another house.
    """
    totals: defaultdict[House, TapsTotal] = defaultdict(TapsTotal)
    for house, own in owned:
        totals[house] += own
    return dict(totals)

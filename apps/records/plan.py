"""What a sheet of lines would do to the records, worked out before anything is written."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from hashlib import sha256

from apps.domain.line_path import Path
from apps.records.payload import FIELDS, Fault, LineRow, Place, Sheet
from apps.woods.limits import too_far_away

Identity = tuple[str, str]
IDENTITY = ("woodlot", "label")


class Effect(StrEnum):
    NEW = "new"
    CHANGED = "changed"
    # Kept apart from changed, so that a sheet sent back as it came says it will do nothing.
    SAME = "same"


@dataclass(frozen=True)
class Known:
    """The records as they stand: each woodlot's pump houses, and its lines by label."""

    pump_houses: Mapping[str, frozenset[str]] = field(default_factory=dict)
    lines: Mapping[Identity, LineRow] = field(default_factory=dict)
    places: Mapping[str, Place] = field(default_factory=dict)


@dataclass(frozen=True)
class Change:
    """One field of one line, before and after, in SI."""

    field: str
    before: str | int | float | Path | None
    after: str | int | float | Path | None


@dataclass(frozen=True)
class Entry:
    """One row of the sheet and what it would do."""

    row: int
    line: LineRow
    effect: Effect
    changes: tuple[Change, ...]

    def change(self, field: str) -> Change | None:
        return next((change for change in self.changes if change.field == field), None)


@dataclass(frozen=True)
class NewWoodlot:
    """A woodlot that the sheet starts, with the pump houses its lines name."""

    name: str
    place: Place
    pump_houses: tuple[str, ...]


@dataclass(frozen=True)
class Plan:
    """All that a sheet would do; with any fault it may do nothing."""

    season: int
    entries: tuple[Entry, ...]
    faults: tuple[Fault, ...]
    untouched: int
    woodlots: tuple[NewWoodlot, ...] = ()
    notices: tuple[str, ...] = ()
    counts: str = "row"

    def count(self, effect: Effect) -> int:
        return sum(entry.effect is effect for entry in self.entries)

    @property
    def digest(self) -> str:
        """Stands for what was shown, so that only what was shown gets written."""
        # The entries hold every value before and after: what changes on either side changes it.
        shown = repr((self.season, self.woodlots, self.entries))
        return sha256(shown.encode()).hexdigest()


def make_plan(sheet: Sheet, known: Known, season: int) -> Plan:
    """Compare a sheet with the records; `season` is where planned taps go."""
    # All of them at once: who mends a sheet wants the whole list, not the next refusal.
    faults = [
        *sheet.faults,
        *_misplaced(sheet, known),
        *_far_away(sheet, known),
        *_rings(sheet, known),
    ]
    entries = tuple(
        _entry(number, row, known.lines.get(row.identity), sheet)
        for number, row in sheet.rows.items()
    )
    named = {row.identity for row in sheet.rows.values()}
    lots = {row.woodlot for row in sheet.rows.values()}
    # Only in woodlots the sheet speaks of: a sheet of one woodlot leaves nothing out elsewhere.
    untouched = sum(lot in lots and (lot, label) not in named for lot, label in known.lines)
    in_order = tuple(sorted(faults, key=lambda fault: (fault.row, fault.column)))
    return Plan(
        season,
        entries,
        in_order,
        untouched,
        woodlots=_new_woodlots(sheet, known),
        notices=sheet.notices,
        counts=sheet.counts,
    )


def _new_woodlots(sheet: Sheet, known: Known) -> tuple[NewWoodlot, ...]:
    """Woodlots not on record whose place is told, with all the pump houses named there."""
    houses: dict[str, set[str]] = {
        name: set() for name in sheet.places if name not in known.pump_houses
    }
    for row in sheet.rows.values():
        if row.woodlot in houses and row.pump_house:
            houses[row.woodlot].add(row.pump_house)
    return tuple(
        NewWoodlot(name, sheet.places[name], tuple(sorted(names)))
        for name, names in sorted(houses.items())
    )


def _entry(number: int, row: LineRow, before: LineRow | None, sheet: Sheet) -> Entry:
    told = sheet.told_of(number) | (sheet.told_if_new if before is None else frozenset())
    changes = tuple(
        Change(name, getattr(before, name, None), getattr(row, name))
        for name in FIELDS
        if name not in IDENTITY
        # A column that is missing says nothing; one that is empty says "none".
        and name in told
        and not _alike(getattr(before, name, None), getattr(row, name))
    )
    if before is None:
        return Entry(number, row, Effect.NEW, changes)
    return Entry(number, row, Effect.CHANGED if changes else Effect.SAME, changes)


def _alike(before: object, after: object) -> bool:
    # A sheet holds ten figures; what differs beyond them is rounding and not a change.
    if isinstance(before, float) and isinstance(after, float):
        return math.isclose(before, after, rel_tol=1e-9)
    return before == after


def _misplaced(sheet: Sheet, known: Known) -> list[Fault]:
    faults: list[Fault] = []
    first: dict[Identity, int] = {}
    # A parent may stand on record, above in the sheet or below in it.
    named = {*known.lines, *(row.identity for row in sheet.rows.values())}
    for number, row in sheet.rows.items():
        earlier = first.setdefault(row.identity, number)
        if earlier != number:
            reason = f"line {row.label} is in {sheet.counts} {earlier} already"
            faults.append(Fault(number, "label", reason))
        if row.identity not in known.lines and not row.kind and "kind" in sheet.told_if_new:
            reason = f"{row.label} is a new line: choose what kind new lines are"
            faults.append(Fault(number, "kind", reason))
        faults += _no_ground(number, row, sheet, known)
        if row.parent and (row.woodlot, row.parent) not in named:
            reason = f"no line {row.parent} in {row.woodlot}, here or in the records"
            faults.append(Fault(number, "parent", reason))
    return faults


def _no_ground(number: int, row: LineRow, sheet: Sheet, known: Known) -> list[Fault]:
    houses = known.pump_houses.get(row.woodlot)
    if houses is None:
        # A woodlot whose place is told will be started, with the pump houses its lines name.
        told = row.woodlot in sheet.places
        reason = f"there is no woodlot called {row.woodlot}"
        return [] if told else [Fault(number, "woodlot", reason)]
    # In a woodlot on record a new name is more likely a slip than a second pump house.
    if row.pump_house and row.pump_house not in houses:
        reason = f"{row.woodlot} has no pump house called {row.pump_house}"
        return [Fault(number, "pump house", reason)]
    return []


def _far_away(sheet: Sheet, known: Known) -> list[Fault]:
    """Paths that cannot be in their woodlot, most often because latitude was put first."""
    faults = []
    for number, row in sheet.rows.items():
        place = known.places.get(row.woodlot) or sheet.places.get(row.woodlot)
        if row.geometry and place:
            reason = too_far_away(row.geometry, place.longitude, place.latitude)
            faults += [Fault(number, "geometry", reason)] if reason else []
    return faults


def _rings(sheet: Sheet, known: Known) -> list[Fault]:
    """Name each row whose line, followed towards the pump, comes back to itself."""
    told: dict[Identity, str | None] = {}
    for number, row in sheet.rows.items():
        if "parent" in sheet.told_of(number) or row.identity not in known.lines:
            # Of a label given twice the first row counts: the second is refused anyway.
            told.setdefault(row.identity, row.parent)
    # Together, since a ring may close partly through the sheet and partly on record.
    flow = {identity: line.parent for identity, line in known.lines.items()} | told
    ring_of: dict[Identity, list[str]] = {}
    settled: set[Identity] = set()
    for woodlot, label in flow:
        ring = _follow(woodlot, label, flow, settled)
        ring_of.update({(woodlot, member): ring for member in ring})
    return [
        Fault(number, "parent", f"makes a ring: {' → '.join([*members, members[0]])}")
        for number, row in sheet.rows.items()
        # A ring on record that the sheet does not touch is none of its rows' fault.
        if (members := ring_of.get(row.identity)) and row.parent == flow[row.identity]
    ]


def _follow(
    woodlot: str, label: str, flow: Mapping[Identity, str | None], settled: set[Identity]
) -> list[str]:
    """The ring that following the flow from one line runs into, if not met before."""
    path: list[str] = []
    on_path: set[str] = set()
    here: str | None = label
    while here and here not in on_path and (woodlot, here) not in settled:
        path.append(here)
        on_path.add(here)
        here = flow.get((woodlot, here))
    # Each line is walked over once, however many lines run into it.
    settled.update((woodlot, passed) for passed in path)
    return path[path.index(here) :] if here in on_path and here else []

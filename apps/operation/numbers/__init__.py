"""Every formula in use, in words, with an example worked by the arithmetic itself."""

from dataclasses import dataclass

from apps.operation.numbers import (
    boiling,
    freeze_thaw,
    leaks,
    mixing,
    money,
    paths,
    phone_clock,
    run_plan,
    sap_run,
    season_end,
    start_guidance,
    sugar,
    tank,
    tapping,
    testing,
    tubing,
    units,
    vacuum,
)
from apps.operation.numbers.entry import Area, Basis, Entry, Worked

# In the order of the year: weather, tapping, lines, sap, boiling, syrup, money; units last.
AREAS: tuple[Area, ...] = (
    freeze_thaw.AREA,
    sap_run.AREA,
    sap_run.SCORES,
    tapping.AREA,
    start_guidance.AREA,
    vacuum.AREA,
    leaks.RANKING,
    leaks.VALVES,
    leaks.WALKING,
    paths.AREA,
    phone_clock.AREA,
    tubing.AREA,
    tank.AREA,
    sugar.AREA,
    mixing.BLEND,
    mixing.CONCENTRATION,
    run_plan.AREA,
    boiling.BOILING,
    boiling.FUEL,
    testing.INSTRUMENTS,
    testing.GRADE,
    mixing.ALLOCATION,
    season_end.AREA,
    money.TRACE,
    money.LEASES,
    money.REPLACEMENT,
    units.AREA,
)


@dataclass(frozen=True)
class WorkedEntry:
    """A formula and its example, worked just now."""

    entry: Entry
    worked: Worked


@dataclass(frozen=True)
class WorkedArea:
    """An area of the page with all its formulas."""

    area: Area
    rows: tuple[WorkedEntry, ...]


def worked_areas() -> list[WorkedArea]:
    """Every formula with its example, by area in the order of the page."""
    return [
        WorkedArea(area, tuple(WorkedEntry(entry, entry.example()) for entry in area.entries))
        for area in AREAS
    ]


def how_surely() -> list[tuple[Basis, int]]:
    """How many of the formulas are known in each way."""
    known = [entry.basis for area in AREAS for entry in area.entries]
    return [(basis, known.count(basis)) for basis in Basis]

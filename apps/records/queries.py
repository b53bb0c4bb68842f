"""The lines as they stand, and what a file of lines would do to them."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import QuerySet

from apps.domain.line_path import Path, length_m
from apps.operation import display
from apps.operation.models import CrewMember
from apps.records import payload
from apps.records.models import HandedIn
from apps.records.payload import LineRow, Place, TrackChoice
from apps.records.plan import Change, Effect, Known, Plan, make_plan
from apps.woods.models import Line, PumpHouse, Woodlot
from apps.woods.queries import label_order, planned_taps_by_line

# How many rows a preview shows of each sort; the counts above them are always whole.
SHOWN = 200
QUANTITY = {
    "length_m": "length",
    "fall_m": "length",
    "diameter_mm": "diameter",
    "walk_minutes": "minutes",
}
WORDS = {
    "pump_house": "pump house",
    "planned_taps": "planned taps",
    "length_m": "length",
    "fall_m": "fall",
    "diameter_mm": "diameter",
    "walk_minutes": "walk",
    "installed_season": "installed",
    "drops_installed_season": "drops installed",
    "geometry": "path",
}
# These say a place, so that an empty one is "none"; an empty number is "unknown".
PLACES = {"pump_house", "parent"}
# The forms lines are exported in; the last holds one woodlot, where a label names one line.
FORMS = ("csv", "geojson", "gpx")


def line_rows(season: int, woodlot: Woodlot | None = None) -> list[LineRow]:
    """Every line of every woodlot or of one, parents and branches mixed, in label order."""
    planned = planned_taps_by_line(season, woodlot)
    # Of a parent the label alone: its own path would be read from the database once a branch.
    lines = Line.objects.select_related("woodlot", "pump_house", "parent").defer("parent__geometry")
    if woodlot is not None:
        lines = lines.filter(woodlot=woodlot)
    rows = [_row(line, planned.get(line.pk)) for line in lines]
    # The label itself last: l9 and L9 are two lines, and each export must be the same file.
    return sorted(rows, key=lambda row: (row.woodlot, label_order(row.label), row.label))


def _row(line: Line, planned_taps: int | None) -> LineRow:
    return LineRow(
        woodlot=line.woodlot.name,
        label=line.label,
        kind=line.kind,
        pump_house=line.pump_house.name if line.pump_house else None,
        parent=line.parent.label if line.parent else None,
        planned_taps=planned_taps,
        length_m=line.length_m,
        fall_m=line.fall_m,
        diameter_mm=line.diameter_mm,
        walk_minutes=line.walk_minutes,
        installed_season=line.installed_season,
        drops_installed_season=line.drops_installed_season,
        geometry=tuple(tuple(point) for point in line.geometry) if line.geometry else None,
    )


def known_lines(season: int) -> Known:
    # Bare woodlots too, or a first import into one would call it unknown.
    places = _places(Woodlot.objects.all())
    houses: dict[str, set[str]] = {name: set() for name in places}
    for woodlot, name in PumpHouse.objects.values_list("woodlot__name", "name"):
        houses[woodlot].add(name)
    return Known(
        pump_houses={woodlot: frozenset(names) for woodlot, names in houses.items()},
        lines={row.identity: row for row in line_rows(season)},
        places=places,
    )


def _places(woodlots: Iterable[Woodlot]) -> dict[str, Place]:
    return {lot.name: Place(lot.latitude, lot.longitude, lot.elevation_m) for lot in woodlots}


def plan_lines(text: str, season: int, tracks: TrackChoice | None = None) -> Plan:
    """What a file would do; `season` takes its planned taps unless the file names one.

    Raises payload.NotASheet.
    """
    # The file's own season goes before the one at hand.
    sheet = payload.read(text, tracks or TrackChoice())
    chosen = sheet.season or season
    return make_plan(sheet, known_lines(chosen), chosen)


def handed_in(pk: int, by: CrewMember) -> str:
    """The text of a file handed in earlier, by the one who did; empty when it is gone."""
    texts = HandedIn.objects.filter(pk=pk, by=by).values_list("text", flat=True)
    return texts.first() or ""


def woodlots() -> QuerySet[Woodlot]:
    return Woodlot.objects.order_by("name")


def export_lines(
    season: int, unit_system: str, form: str = "csv", woodlot: Woodlot | None = None
) -> str:
    """All lines, or those of one woodlot, in one of the FORMS."""
    rows = line_rows(season, woodlot)
    if form == "gpx":
        return payload.write_tracks(rows, woodlot.name if woodlot else "")
    places = _places([woodlot] if woodlot else woodlots())
    if form == "geojson":
        return payload.write_features(rows, season, places)
    return payload.write_lines(rows, season, unit_system, places)


def headings(season: int, unit_system: str) -> list[str]:
    return payload.headings(season, unit_system)


@dataclass(frozen=True)
class Shown:
    """One row of the preview in words."""

    row: int
    line: LineRow
    effect: str
    changes: tuple[str, ...]


def preview(plan: Plan, unit_system: str) -> dict[str, object]:
    """A plan as its page shows it: its faults, or what it would set, and whole counts."""
    # Hundreds of unchanged rows would hide the three that matter; they are counted instead.
    effective = [entry for entry in plan.entries if entry.effect is not Effect.SAME]
    # With a fault nothing will be written, so nothing is listed as if it would.
    alive = [] if plan.faults else effective
    return {
        "plan": plan,
        "faults": plan.faults[:SHOWN],
        "faults_more": max(0, len(plan.faults) - SHOWN),
        "counts": [(effect.value, plan.count(effect)) for effect in Effect],
        "rows": [
            Shown(
                row=entry.row,
                line=entry.line,
                effect=entry.effect.value,
                changes=tuple(_change(one, entry.effect, unit_system) for one in entry.changes),
            )
            for entry in alive[:SHOWN]
        ],
        "rows_more": max(0, len(alive) - SHOWN),
        "nothing_to_do": not effective and not plan.woodlots,
    }


def _change(change: Change, effect: Effect, unit_system: str) -> str:
    name = WORDS.get(change.field, change.field)
    after = _value(change.field, change.after, unit_system)
    if effect is Effect.NEW:
        return f"{name} {after}"
    return f"{name} {_value(change.field, change.before, unit_system)} → {after}"


def _value(field: str, value: str | int | float | Path | None, unit_system: str) -> str:
    if value is None:
        return "none" if field in PLACES else display.UNKNOWN
    if isinstance(value, tuple):
        long = display.shown(length_m(value), "length", unit_system)
        return f"{len(value):,} points, {long} on the map"
    if field in QUANTITY and not isinstance(value, str):
        return display.shown(value, QUANTITY[field], unit_system)
    if field == "kind":
        return payload.KIND_WORDS[str(value)]
    return str(value)

"""Write a file of lines: all of it or none."""

from collections.abc import Iterable
from datetime import datetime, timedelta

from django.db import transaction

from apps.operation.models import CrewMember
from apps.records import queries
from apps.records.models import HandedIn
from apps.records.payload import TrackChoice
from apps.records.plan import Effect, Entry, Identity, NewWoodlot, Plan
from apps.woods.models import Line, PumpHouse, TapCount, Woodlot

PLAIN_FIELDS = (
    "kind",
    "length_m",
    "fall_m",
    "diameter_mm",
    "walk_minutes",
    "installed_season",
    "drops_installed_season",
    "geometry",
)
KEPT_FOR = timedelta(days=1)


class ImportRefused(Exception):
    """The sheet may not be written as asked; `plan` is what it would do now."""

    def __init__(self, message: str, plan: Plan) -> None:
        super().__init__(message)
        self.plan = plan


@transaction.atomic
def keep_handed_in(*, text: str, by: CrewMember, at: datetime) -> HandedIn:
    """Keep a file until it is written; what others left lying for a day goes."""
    HandedIn.objects.filter(at__lt=at - KEPT_FOR).delete()
    return HandedIn.objects.create(text=text, by=by, at=at)


@transaction.atomic
def import_lines(*, text: str, season: int, digest: str, tracks: TrackChoice | None = None) -> Plan:
    """Write a file if it is well and does exactly what the preview with this digest showed."""
    # Every woodlot is held still: what is checked here is what is true while it is written.
    # Always in one order, or two imports at once could each wait for what the other holds.
    list(Woodlot.objects.select_for_update().order_by("pk"))
    plan = queries.plan_lines(text, season, tracks)
    # Planned again and not taken from the preview: the records may have moved since.
    if plan.faults:
        raise ImportRefused("Nothing was written: some rows need mending first.", plan)
    # Nobody agrees to what was never shown to them.
    if plan.digest != digest:
        raise ImportRefused(
            "Nothing was written: the sheet or the records have changed since the last look. "
            "Look again.",
            plan,
        )
    _start(plan.woodlots)
    entries = [entry for entry in plan.entries if entry.effect is not Effect.SAME]
    _write(entries, plan.season)
    return plan


def _start(woodlots: Iterable[NewWoodlot]) -> None:
    """Begin the woodlots that are not on record yet, bare but for their pump houses."""
    rows = [
        Woodlot(
            name=one.name,
            latitude=one.place.latitude,
            longitude=one.place.longitude,
            elevation_m=one.place.elevation_m,
        )
        for one in woodlots
    ]
    started = {row.name: row for row in Woodlot.objects.bulk_create(rows)}
    PumpHouse.objects.bulk_create(
        PumpHouse(woodlot=started[one.name], name=name)
        for one in woodlots
        for name in one.pump_houses
    )


def _write(entries: list[Entry], season: int) -> None:
    rows = _rows(entries)
    _upsert(list(rows.values()), [*PLAIN_FIELDS, "pump_house"])
    # Parents second: only now does every line that may be one exist.
    ids = {
        (woodlot, label): pk
        for pk, woodlot, label in Line.objects.values_list("pk", "woodlot__name", "label")
    }
    moved = []
    for entry in entries:
        if (change := entry.change("parent")) is not None:
            row = rows[entry.line.identity]
            row.parent_id = ids[entry.line.woodlot, str(change.after)] if change.after else None
            moved.append(row)
    # Only those moved: a parent on record that the sheet does not tell of stays.
    _upsert(moved, ["parent"])
    _write_taps(entries, ids, season)


def _rows(entries: list[Entry]) -> dict[Identity, Line]:
    """Each line as it shall be, all but its parent."""
    woodlots = dict(Woodlot.objects.values_list("name", "pk"))
    houses = {
        (woodlot, name): pk
        for pk, woodlot, name in PumpHouse.objects.values_list("pk", "woodlot__name", "name")
    }
    # All lines at once: thousands of rows must not mean thousands of questions.
    kept = {
        (line.woodlot.name, line.label): line for line in Line.objects.select_related("woodlot")
    }
    rows = {}
    for entry in entries:
        woodlot, label = entry.line.identity
        row = kept.get(entry.line.identity) or Line(woodlot_id=woodlots[woodlot], label=label)
        for change in entry.changes:
            if change.field in PLAIN_FIELDS:
                setattr(row, change.field, change.after)
            elif change.field == "pump_house":
                row.pump_house_id = houses[woodlot, str(change.after)] if change.after else None
        rows[entry.line.identity] = row
    return rows


def _upsert(rows: list[Line], fields: list[str]) -> None:
    """Insert or change rows by woodlot and label; thousands in a second or two."""
    for row in rows:
        # Found again by its label: a number of its own would be a second thing to collide on.
        row.pk = None
    Line.objects.bulk_create(
        rows, update_conflicts=True, unique_fields=["woodlot", "label"], update_fields=fields
    )


def _write_taps(entries: list[Entry], ids: dict[Identity, int], season: int) -> None:
    told = {
        ids[entry.line.identity]: entry.line.planned_taps
        for entry in entries
        if entry.change("planned_taps") is not None
    }
    # An emptied cell takes the count away: no row is how "not counted" is written.
    uncounted = [pk for pk, taps in told.items() if taps is None]
    TapCount.objects.filter(season=season, line_id__in=uncounted).delete()
    # A line may have been counted this season already: that count is replaced, never doubled.
    TapCount.objects.bulk_create(
        [
            TapCount(line_id=pk, season=season, planned_taps=taps)
            for pk, taps in told.items()
            if taps is not None
        ],
        update_conflicts=True,
        unique_fields=["line", "season"],
        update_fields=["planned_taps"],
    )

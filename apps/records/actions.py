"""Write a sheet of lines: all of it or none."""

from django.db import transaction

from apps.records import queries
from apps.records.plan import Effect, Entry, Identity, Plan
from apps.woods.models import Line, PumpHouse, TapCount, Woodlot

PLAIN_FIELDS = (
    "kind",
    "length_m",
    "fall_m",
    "diameter_mm",
    "walk_minutes",
    "installed_season",
    "drops_installed_season",
)


class ImportRefused(Exception):
    """The sheet may not be written as asked; `plan` is what it would do now."""

    def __init__(self, message: str, plan: Plan) -> None:
        super().__init__(message)
        self.plan = plan


@transaction.atomic
def import_lines(*, text: str, season: int, digest: str) -> Plan:
    """Write a sheet if it is well and does exactly what the preview with this digest showed."""
    # Every woodlot is held still: what is checked here is what is true while it is written.
    list(Woodlot.objects.select_for_update().order_by("pk"))
    plan = queries.plan_lines(text, season)
    if plan.faults:
        raise ImportRefused("Nothing was written: some rows need mending first.", plan)
    if plan.digest != digest:
        raise ImportRefused(
            "Nothing was written: the sheet or the records have changed since the last look. "
            "Look again.",
            plan,
        )
    entries = [entry for entry in plan.entries if entry.effect is not Effect.SAME]
    _write(entries, plan.season)
    return plan


def _write(entries: list[Entry], season: int) -> None:
    woodlots = dict(Woodlot.objects.values_list("name", "pk"))
    new = [entry for entry in entries if entry.effect is Effect.NEW]
    Line.objects.bulk_create(
        [
            Line(woodlot_id=woodlots[entry.line.woodlot], label=entry.line.label, kind="main")
            for entry in new
        ]
    )
    lines = {
        (line.woodlot.name, line.label): line for line in Line.objects.select_related("woodlot")
    }
    _write_fields(entries, lines)
    _write_taps(entries, lines, season)


def _write_fields(entries: list[Entry], lines: dict[Identity, Line]) -> None:
    """Set what changed; parents last among them, since every line exists by now."""
    houses = {
        (woodlot, name): pk
        for pk, woodlot, name in PumpHouse.objects.values_list("pk", "woodlot__name", "name")
    }
    for entry in entries:
        woodlot = entry.line.woodlot
        line = lines[entry.line.identity]
        for change in entry.changes:
            if change.field in PLAIN_FIELDS:
                setattr(line, change.field, change.after)
            elif change.field == "parent":
                line.parent = lines[woodlot, str(change.after)] if change.after else None
            elif change.field == "pump_house":
                line.pump_house_id = houses[woodlot, str(change.after)] if change.after else None
    changed = [lines[entry.line.identity] for entry in entries]
    Line.objects.bulk_update(changed, [*PLAIN_FIELDS, "parent", "pump_house"], batch_size=500)


def _write_taps(entries: list[Entry], lines: dict[Identity, Line], season: int) -> None:
    told = {
        lines[entry.line.identity].pk: entry.line.planned_taps
        for entry in entries
        if any(change.field == "planned_taps" for change in entry.changes)
    }
    uncounted = [pk for pk, taps in told.items() if taps is None]
    TapCount.objects.filter(season=season, line_id__in=uncounted).delete()
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

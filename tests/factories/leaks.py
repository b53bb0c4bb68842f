"""Leak checks and gauge readings for tests."""

from datetime import datetime, timedelta
from uuid import uuid4

from apps.leaks import actions
from apps.leaks.models import Clearing, GaugeReading, LeakCheck, Obstruction, PartUsed, Photo
from apps.operation.models import CrewMember
from apps.woods.models import Woodlot
from tests.factories import operation as people
from tests.factories import woods


def hours_ago(hours: float) -> datetime:
    return people.FIXED_NOW - timedelta(hours=hours)


def somebody() -> CrewMember:
    return CrewMember.objects.first() or people.crew("marek")


def check(line, state="tight", *, hours=1.0, **fields) -> LeakCheck:
    """Recorded as the app records it, so that leaks open and close with it."""
    given = {
        "uuid": uuid4(),
        "line": line,
        "state": state,
        "observed_at": hours_ago(hours),
        "received_at": hours_ago(hours),
        "crew": fields.pop("crew", None) or somebody(),
    }
    return actions.record_check(**given | fields).check


def bare_check(line, state="tight", **fields) -> LeakCheck:
    """A row alone, past every action: for constraints."""
    defaults = {
        "uuid": uuid4(),
        "observed_at": hours_ago(1),
        "received_at": hours_ago(1),
        "crew": somebody(),
    }
    return LeakCheck.objects.create(line=line, state=state, **defaults | fields)


def reading(pump_house, vacuum_kpa=85.0, *, hours=1.0, **fields) -> GaugeReading:
    return GaugeReading.objects.create(
        pump_house=pump_house, vacuum_kpa=vacuum_kpa, read_at=hours_ago(hours), **fields
    )


def obstruction(line, work="hands", *, hours=1.0, **fields) -> Obstruction:
    """A row alone, as a phone would have sent it at once."""
    defaults = {"uuid": uuid4(), "seen_at": hours_ago(hours), "received_at": hours_ago(hours)}
    fields.setdefault("crew", somebody())
    return Obstruction.objects.create(line=line, work=work, **defaults | fields)


def clearing(obstruction, *, hours=0.5, **fields) -> Clearing:
    defaults = {"uuid": uuid4(), "cleared_at": hours_ago(hours), "received_at": hours_ago(hours)}
    fields.setdefault("crew", somebody())
    return Clearing.objects.create(obstruction=obstruction, **defaults | fields)


def part_used(check, part="tee", count=1) -> PartUsed:
    return PartUsed.objects.create(leak_check=check, part=part, count=count)


def photo(**fields) -> Photo:
    """A row without its file: of a check or an obstruction, as given."""
    uuid = fields.pop("uuid", None) or uuid4()
    defaults = {
        "sha256": "ab" * 32,
        "size_bytes": 205_000,
        "width_px": 1600,
        "height_px": 1200,
        "kind": "jpeg",
        "file_name": f"{uuid}.jpg",
        "received_at": hours_ago(0),
    }
    return Photo.objects.create(uuid=uuid, **defaults | fields)


def a_line(label="1", **fields):
    woodlot = fields.pop("woodlot", None) or Woodlot.objects.first() or woods.woodlot()
    return woods.line(woodlot, label, **fields)

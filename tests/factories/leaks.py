"""Leak checks and gauge readings for tests."""

from datetime import datetime, timedelta
from uuid import uuid4

from apps.leaks import actions
from apps.leaks.models import GaugeReading, LeakCheck
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


def a_line(label="1", **fields):
    woodlot = fields.pop("woodlot", None) or Woodlot.objects.first() or woods.woodlot()
    return woods.line(woodlot, label, **fields)

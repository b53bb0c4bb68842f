"""Woodlots, pump houses and lines for tests."""

from datetime import date
from decimal import Decimal
from uuid import uuid4

from apps.woods.models import Landowner, Lease, Line, Note, PumpHouse, TapCount, Woodlot
from tests.factories.operation import FIXED_NOW


def landowner(name="Beech Hill Trust", **fields) -> Landowner:
    return Landowner.objects.create(name=name, **fields)


def woodlot(name="Tamarack Hollow", **fields) -> Woodlot:
    defaults = {"latitude": 43.9, "longitude": -75.3, "elevation_m": 400.0}
    return Woodlot.objects.create(name=name, **defaults | fields)


def pump_house(woodlot, name="Lower pump house", **fields) -> PumpHouse:
    return PumpHouse.objects.create(woodlot=woodlot, name=name, **fields)


def line(woodlot, label="1", *, kind="main", planned_taps=None, season=2026, **fields) -> Line:
    row = Line.objects.create(woodlot=woodlot, label=label, kind=kind, **fields)
    if planned_taps is not None:
        TapCount.objects.create(line=row, season=season, planned_taps=planned_taps)
    return row


def note(crew, text="Bear on the ridge", **fields) -> Note:
    defaults = {"uuid": uuid4(), "noted_at": FIXED_NOW, "received_at": FIXED_NOW}
    return Note.objects.create(crew=crew, text=text, **defaults | fields)


def lease(woodlot, **fields) -> Lease:
    defaults = {
        "rule": "fixed",
        "rate_per_tap": Decimal("0.80"),
        "starts_on": date(2022, 5, 1),
        "ends_on": date(2027, 4, 30),
    }
    if "landowner" not in fields:
        defaults["landowner"] = landowner()
    return Lease.objects.create(woodlot=woodlot, **defaults | fields)


def many_lines(woodlot, count, *, season=2026, planned_taps=5) -> list[Line]:
    """Laterals on one mainline, all counted but the mainline."""
    main = line(woodlot, "M1")
    rows = Line.objects.bulk_create(
        Line(woodlot=woodlot, label=f"L{n}", kind="lateral", parent=main) for n in range(count)
    )
    TapCount.objects.bulk_create(
        TapCount(line=row, season=season, planned_taps=planned_taps) for row in rows
    )
    return [main, *rows]

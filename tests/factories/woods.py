"""Woodlots, pump houses and lines for tests."""

from apps.woods.models import Landowner, Line, PumpHouse, TapCount, Woodlot


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

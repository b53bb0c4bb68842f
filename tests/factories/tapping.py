"""First runs, tallies, crew plans and snow for tests."""

from datetime import date
from uuid import uuid4

from apps.tapping.models import CrewPlan, FirstRun, SnowDepth, TapPull, TapTally
from tests.factories.operation import FIXED_NOW


def first_run(date_, *, season=None, woodlot=None) -> FirstRun:
    return FirstRun.objects.create(season=season or date_.year, date=date_, woodlot=woodlot)


def tally(line, crew, taps_set=100, **fields) -> TapTally:
    defaults = {
        "uuid": uuid4(),
        "season": 2026,
        "tallied_on": date(2026, 2, 20),
        "received_at": FIXED_NOW,
    }
    return TapTally.objects.create(line=line, crew=crew, taps_set=taps_set, **defaults | fields)


def pull(line, crew, taps_pulled=100, **fields) -> TapPull:
    defaults = {
        "uuid": uuid4(),
        "season": 2026,
        "pulled_on": date(2026, 4, 20),
        "received_at": FIXED_NOW,
        "taps_pulled": taps_pulled,
    }
    return TapPull.objects.create(line=line, crew=crew, **defaults | fields)


def crew_plan(**fields) -> CrewPlan:
    defaults = {
        "season": 2026,
        "pairs": 2,
        "hours_per_day": 6,
        "lost_days": 2,
        "rest_day": "sunday",
        "accept_missing": 2,
    }
    return CrewPlan.objects.create(**defaults | fields)


def snow_depth(woodlot, depth_m=0.2, **fields) -> SnowDepth:
    defaults = {"season": 2026, "seen_on": date(2026, 2, 1)}
    return SnowDepth.objects.create(woodlot=woodlot, depth_m=depth_m, **defaults | fields)

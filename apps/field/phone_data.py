"""What a phone takes into the woods: lines in walking order, what to choose from, who is who."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.utils import timezone

from apps.domain.tapping import season_of
from apps.field.queries import woodlot_slugs
from apps.leaks import queries as leaks
from apps.leaks.models import MOST_DROPS, VACUUM_HIGH_KPA, Cause, LeakCheck, Obstruction, Part
from apps.leaks.standing import LineStanding
from apps.leaks.walk import ranking_terms
from apps.operation.display import unit_for
from apps.operation.models import CrewMember, Operation
from apps.operation.queries import constants
from apps.sugarhouse.models import Tank
from apps.woods.models import PumpHouse, Woodlot

FORMAT = 1
# About a metre: more digits would cross the air for nothing.
DEGREE_PLACES = 5
# What one press of a stepper is worth, in the unit shown: US, then metric.
STEPS = {"vacuum": (0.5, 1.0), "depth": (0.25, 0.5)}

Row = list[Any]


@dataclass(frozen=True)
class Asked:
    """Who asks, where and when; `now` in UTC, the operation's zone being active."""

    operation: Operation
    person: CrewMember
    now: datetime

    @property
    def season(self) -> int:
        return season_of(timezone.localtime(self.now).date())


def milliseconds(moment: datetime) -> int:
    return round(moment.timestamp() * 1000)


def person_row(person: CrewMember) -> dict[str, object]:
    return {"id": person.pk, "name": person.shown_name, "owner": person.is_owner}


def for_the_woods(asked: Asked) -> dict[str, object]:
    """All of it, in the same number of queries however many lines there are."""
    in_use = constants()
    standings = leaks.ranked_lines(season=asked.season, now=asked.now, constants=in_use)
    houses = list(PumpHouse.objects.order_by("woodlot__name", "name"))
    # After what stands in them: a woodlot that somebody adds meanwhile is then in the list.
    woodlots = list(Woodlot.objects.order_by("name").values_list("pk", "name"))
    lots = {pk: at for at, (pk, _) in enumerate(woodlots)}
    slugs = woodlot_slugs()
    return {
        "format": FORMAT,
        "server_now": milliseconds(asked.now),
        "as_of": milliseconds(asked.now),
        "zone": asked.operation.time_zone,
        "operation": asked.operation.name,
        "person": person_row(asked.person),
        "units": _units(asked.operation.unit_system),
        "usual_kpa": ranking_terms(in_use).target_kpa,
        "season": asked.season,
        "drops_most": MOST_DROPS,
        "states": LeakCheck.State.choices,
        "causes": Cause.choices,
        "parts": Part.choices,
        "works": Obstruction.Work.choices,
        "woodlots": [[pk, name, slugs[pk]] for pk, name in woodlots],
        "tanks": [[*row] for row in Tank.objects.order_by("name").values_list("pk", "name")],
        "pump_houses": [[row.pk, row.name, lots[row.woodlot_id]] for row in houses],
        "lines": _lines(standings, lots),
        "people": [[row.pk, row.shown_name] for row in CrewMember.objects.order_by("pk")],
        "obstructions": _obstructions(asked.now),
    }


def _units(unit_system: str) -> dict[str, dict[str, object]]:
    most = {"vacuum": VACUUM_HIGH_KPA, "depth": None}
    shown = {}
    for quantity, (us, metric) in STEPS.items():
        unit = unit_for(quantity, unit_system)
        shown[quantity] = {
            "unit": unit.label,
            # All of these are plain multiples, without a zero of their own.
            "per_si": float(unit.show(1.0)),
            "step": us if unit_system == "us" else metric,
            "places": unit.decimals,
            "high_si": most[quantity],
        }
    return shown


def _lines(standings: Iterable[LineStanding], lots: dict[int, int]) -> list[Row]:
    where = leaks.line_positions()
    return [_line(row, lots, where.get(row.line.pk)) for row in standings]


def _line(row: LineStanding, lots: dict[int, int], place: tuple[float, float] | None) -> Row:
    told = [
        row.line.pk,
        lots[row.line.woodlot_id],
        row.line.label,
        row.taps.taps if row.taps.known else None,
        row.latest.state if row.latest else "",
        row.days_since_walked,
        *(round(degrees, DEGREE_PLACES) for degrees in place or ()),
    ]
    # What is unknown at the end need not be said, some thousand times over a weak signal.
    while told[-1] is None:
        told.pop()
    return told


def _obstructions(now: datetime) -> list[Row]:
    today = timezone.localtime(now).date()
    rows = Obstruction.objects.still_open().order_by("seen_at", "pk")
    return [
        [str(row.uuid), row.line_id, row.work, row.note, _days(row.seen_at, today)] for row in rows
    ]


def _days(seen_at: datetime, today: date) -> int:
    return (today - timezone.localtime(seen_at).date()).days


def same_day(lines: Iterable[int], person: CrewMember, now: datetime) -> list[dict[str, object]]:
    """What others saw today on these lines, newest last: shown beside, never merged."""
    start = timezone.localtime(now).replace(hour=0, minute=0, second=0, microsecond=0)
    checks = (
        LeakCheck.objects.standing()
        .filter(line__in=list(lines), observed_at__gte=start)
        .exclude(crew=person)
        .select_related("crew")
        .order_by("observed_at", "pk")
    )
    return [
        {
            "line": check.line_id,
            "who": check.crew.shown_name,
            "at": milliseconds(check.observed_at),
            "state": check.state,
        }
        for check in checks
    ]

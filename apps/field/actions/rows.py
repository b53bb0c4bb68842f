"""Each kind of record to the action that writes its row; what may go wrong in plain words."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, TypeVar
from uuid import UUID

from django.db.models import Model, QuerySet
from django.utils import timezone

from apps.domain.errors import DomainError
from apps.field import payload
from apps.field.actions.errors import Refused
from apps.leaks import actions as leaks
from apps.leaks.models import (
    Cause,
    Clearing,
    GaugeReading,
    LeakCheck,
    Obstruction,
    Part,
    Position,
)
from apps.operation.models import CrewMember
from apps.sugarhouse import actions as sugarhouse
from apps.sugarhouse.models import Dip, Tank
from apps.tapping import actions as tapping
from apps.tapping.models import TapPull, TapTally
from apps.woods import actions as woods
from apps.woods.models import Line, Note, PumpHouse, Woodlot

GONE = "is no longer on the list. Load the list again and save it on another one."
Row = TypeVar("Row", bound=Model)


@dataclass(frozen=True)
class Seen:
    """A record with who saw it, when in truth, and when it reached us."""

    uuid: UUID
    place: payload.Place | None
    crew: CrewMember
    at: datetime
    received_at: datetime

    @property
    def position(self) -> Position | None:
        if self.place is None:
            return None
        return Position(self.place.latitude, self.place.longitude, self.place.accuracy_m)

    @property
    def day(self) -> date:
        """The day in the woods, by the operation's zone, which the middleware has activated."""
        return timezone.localtime(self.at).date()


def _only(rows: QuerySet[Row], field: str, refusal: str, **known: object) -> Row:
    row = rows.filter(**known).first()
    if row is None:
        raise Refused(field, refusal)
    return row


def _line(pk: int) -> Line:
    return _only(Line.objects.all(), "line", f"That line {GONE}", pk=pk)


def _unused(rows: QuerySet[Any], seen: Seen) -> None:
    # A row that did not come from a phone has no receipt to be told by.
    if rows.filter(uuid=seen.uuid).exists():
        raise Refused("uuid", "Its identifier belongs to another record here: save it again.")


def _one_of(choices: list[str], field: str, code: str) -> str:
    if code not in choices:
        raise Refused(field, f"“{code}” is not known to this server: have the server updated.")
    return code


def keep_check(seen: Seen, body: payload.Check) -> None:
    _unused(LeakCheck.objects.all(), seen)
    state = _one_of(LeakCheck.State.values, "state", body.state)
    if body.cause and state not in (LeakCheck.State.LEAK_FIXED, LeakCheck.State.LEAK_LEFT):
        raise Refused("cause", "A cause goes with a leak, fixed or left.")
    leaks.record_check(
        uuid=seen.uuid,
        line=_line(body.line),
        state=state,
        observed_at=seen.at,
        received_at=seen.received_at,
        crew=seen.crew,
        vacuum_before_kpa=body.before_kpa,
        vacuum_after_kpa=body.after_kpa,
        place_drops=body.drops,
        cause=_one_of(Cause.values, "cause", body.cause) if body.cause else "",
        note=body.note,
        position=seen.position,
        parts={_one_of(Part.values, "parts", part): count for part, count in body.parts},
    )


def keep_after(seen: Seen, body: payload.After) -> None:
    check = _only(
        LeakCheck.objects.all(), "of", "The check it belongs to never arrived.", uuid=body.of
    )
    try:
        leaks.add_reading_after(check=check, vacuum_after_kpa=body.after_kpa)
    except leaks.ReadingAlreadySet as refusal:
        raise Refused("after_kpa", f"{refusal} Note it on a check of its own.") from refusal


def keep_tally(seen: Seen, body: payload.Tally) -> None:
    _unused(TapTally.objects.all(), seen)
    if not (body.taps or body.drops or body.finishes):
        raise Refused("taps", "It says nothing: count at least one tap, or finish the line.")
    tapping.record_tally(
        uuid=seen.uuid,
        line=_line(body.line),
        tallied_on=seen.day,
        crew=seen.crew,
        now=seen.received_at,
        taps_set=body.taps,
        drops_renewed=body.drops,
        finishes_line=body.finishes,
        note=body.note,
    )


def keep_pull(seen: Seen, body: payload.Pull) -> None:
    _unused(TapPull.objects.all(), seen)
    if not (body.taps or body.finishes):
        raise Refused("taps", "It says nothing: count at least one tap, or finish the line.")
    tapping.record_pull(
        uuid=seen.uuid,
        line=_line(body.line),
        pulled_on=seen.day,
        crew=seen.crew,
        received_at=seen.received_at,
        taps_pulled=body.taps,
        finishes_line=body.finishes,
        note=body.note,
    )


def keep_dip(seen: Seen, body: payload.Dip) -> None:
    _unused(Dip.objects.all(), seen)
    tank = _only(Tank.objects.all(), "tank", f"That tank {GONE}", pk=body.tank)
    try:
        sugarhouse.record_dip(
            uuid=seen.uuid, tank=tank, at=seen.at, depth_mm=body.depth_mm, crew=seen.crew
        )
    except DomainError as refusal:
        raise Refused(
            "depth_mm", "The tank is not that deep: read it again, or have its measures corrected."
        ) from refusal
    except sugarhouse.DipTaken as refusal:
        raise Refused("at", "The tank has another dip at that very moment: dip again.") from refusal


def keep_gauge(seen: Seen, body: payload.Gauge) -> None:
    _unused(GaugeReading.objects.all(), seen)
    house = _only(
        PumpHouse.objects.all(), "pump_house", f"That pump house {GONE}", pk=body.pump_house
    )
    taken = "The gauge has another reading at that very moment: read it again."
    try:
        reading = leaks.record_gauge_reading(
            uuid=seen.uuid,
            pump_house=house,
            read_at=seen.at,
            vacuum_kpa=body.vacuum_kpa,
            crew=seen.crew,
            note=body.note,
        )
    except leaks.AnotherReading as refusal:
        raise Refused("at", taken) from refusal
    if reading.uuid != seen.uuid:
        # Somebody else's, equal to the digit: a receipt for it would claim a row not its own.
        raise Refused("at", taken)


def keep_obstruction(seen: Seen, body: payload.Obstruction) -> None:
    _unused(Obstruction.objects.all(), seen)
    leaks.record_obstruction(
        uuid=seen.uuid,
        line=_line(body.line),
        work=_one_of(Obstruction.Work.values, "work", body.work),
        seen_at=seen.at,
        received_at=seen.received_at,
        crew=seen.crew,
        place_drops=body.drops,
        note=body.note,
        position=seen.position,
    )


def keep_clear(seen: Seen, body: payload.Clear) -> None:
    _unused(Clearing.objects.all(), seen)
    leaks.clear_obstruction(
        uuid=seen.uuid,
        obstruction=_only(
            Obstruction.objects.all(), "of", "That obstruction never arrived.", uuid=body.of
        ),
        cleared_at=seen.at,
        received_at=seen.received_at,
        crew=seen.crew,
    )


def keep_note(seen: Seen, body: payload.Note) -> None:
    _unused(Note.objects.all(), seen)
    woodlot = None
    # A line has its woodlot already.
    if body.woodlot is not None and body.line is None:
        woodlot = _only(Woodlot.objects.all(), "woodlot", f"That woodlot {GONE}", pk=body.woodlot)
    woods.record_note(
        uuid=seen.uuid,
        text=body.text,
        noted_at=seen.at,
        received_at=seen.received_at,
        crew=seen.crew,
        woodlot=woodlot,
        line=None if body.line is None else _line(body.line),
    )

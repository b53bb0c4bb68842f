"""What lies across a line, and that it is gone."""

from datetime import datetime
from uuid import UUID

from apps.leaks.actions.errors import NotYours, SentBefore
from apps.leaks.models import Clearing, Obstruction, Position, position_columns
from apps.operation.models import CrewMember
from apps.woods.models import Line


def record_obstruction(
    *,
    uuid: UUID,
    line: Line,
    work: str,
    seen_at: datetime,
    received_at: datetime,
    crew: CrewMember,
    place_drops: int | None = None,
    note: str = "",
    position: Position | None = None,
) -> Obstruction:
    """Write one obstruction once, however often it is sent; SentBefore for another's identifier."""
    row, is_new = Obstruction.objects.get_or_create(
        uuid=uuid,
        defaults={
            "line": line,
            "work": work,
            "seen_at": seen_at,
            "received_at": received_at,
            "crew": crew,
            "place_drops": place_drops,
            "note": note,
            **position_columns(position),
        },
    )
    if not is_new and (row.line_id, row.work) != (line.pk, work):
        raise SentBefore(row)
    return row


def void_obstruction(*, obstruction: Obstruction, by: CrewMember, at: datetime) -> None:
    """Take an obstruction back: its row stays and is listed nowhere as open; twice is once."""
    if obstruction.crew_id != by.pk and not by.is_owner:
        raise NotYours("Only the one who recorded an obstruction, or an owner, can take it back.")
    Obstruction.objects.standing().filter(pk=obstruction.pk).update(voided_at=at, voided_by=by)


def clear_obstruction(
    *,
    uuid: UUID,
    obstruction: Obstruction,
    cleared_at: datetime,
    received_at: datetime,
    crew: CrewMember,
) -> Clearing:
    """Write down that it is gone, once; of two people who both say so each word is kept."""
    row, is_new = Clearing.objects.get_or_create(
        uuid=uuid,
        defaults={
            "obstruction": obstruction,
            "cleared_at": cleared_at,
            "received_at": received_at,
            "crew": crew,
        },
    )
    if not is_new and row.obstruction_id != obstruction.pk:
        raise SentBefore(row)
    return row


def void_clearing(*, clearing: Clearing, by: CrewMember, at: datetime) -> None:
    """It is not gone after all: open again, unless somebody else's word still stands."""
    if clearing.crew_id != by.pk and not by.is_owner:
        raise NotYours("Only the one who said it is cleared, or an owner, can take that back.")
    Clearing.objects.standing().filter(pk=clearing.pk).update(voided_at=at, voided_by=by)

"""Writing checks down, and the leaks that follow from them."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db import transaction

from apps.leaks.actions.errors import NotYours, ReadingAlreadySet, SentBefore
from apps.leaks.closing import Seen, closers
from apps.leaks.models import Leak, LeakCheck, PartUsed, Position, position_columns
from apps.operation.models import CrewMember
from apps.woods.models import Line


@dataclass(frozen=True)
class Recorded:
    """The check as it stands, and whether this call wrote it or had it already."""

    check: LeakCheck
    is_new: bool


@transaction.atomic
def record_check(
    *,
    uuid: UUID,
    line: Line,
    state: str,
    observed_at: datetime,
    received_at: datetime,
    crew: CrewMember,
    vacuum_before_kpa: float | None = None,
    vacuum_after_kpa: float | None = None,
    place_drops: int | None = None,
    cause: str = "",
    note: str = "",
    position: Position | None = None,
    parts: Mapping[str, int] | None = None,
) -> Recorded:
    """Write one check once, however often it is sent, and settle the leaks of its line.

    `observed_at` is when it was seen, by a clock that is right; `parts` counts what was used by
    the codes of `Part`.

    A leak left opens one leak. A leak fixed closes the leaks open on the line when it was seen:
    all of them when it names no place, else those at its place or with no place noted. A tight
    line leaves an open leak open, because nobody said it was fixed; a frozen one changes nothing.
    A check that arrives late settles as if it had arrived in time.
    """
    _lock(line.pk)
    # The unique identifier decides between two sends at once, not the look before the write.
    check, is_new = LeakCheck.objects.get_or_create(
        uuid=uuid,
        defaults={
            "line": line,
            "state": state,
            "observed_at": observed_at,
            "received_at": received_at,
            "crew": crew,
            "vacuum_before_kpa": vacuum_before_kpa,
            "vacuum_after_kpa": vacuum_after_kpa,
            "place_drops": place_drops,
            "cause": cause,
            "note": note,
            **position_columns(position),
        },
    )
    if is_new:
        # With the check or not at all: a resend finds both, and counts no part twice.
        PartUsed.objects.bulk_create(
            PartUsed(leak_check=check, part=part, count=count)
            for part, count in (parts or {}).items()
        )
        _settle(line.pk)
    # Line and state are what was seen; a note typed anew on a resend is no other sighting.
    elif (check.line_id, check.state) != (line.pk, state):
        # Never let a second sighting pass for a resend of the first.
        raise SentBefore(check)
    return Recorded(check, is_new)


@transaction.atomic
def void_check(*, check: LeakCheck, by: CrewMember, at: datetime) -> None:
    """Take a check back: its row and any leak row stay, neither counts; done twice it is once."""
    if check.crew_id != by.pk and not by.is_owner:
        raise NotYours("Only the one who recorded a check, or an owner, can take it back.")
    _lock(check.line_id)
    # Asked again in the update itself: of two touches at once one takes it back, and stays named.
    changed = LeakCheck.objects.standing().filter(pk=check.pk)
    if changed.update(voided=True, voided_at=at, voided_by=by):
        _settle(check.line_id)


def add_reading_after(*, check: LeakCheck, vacuum_after_kpa: float) -> None:
    """Fill in the reading taken after a fix, once."""
    # In one statement, so that two phones cannot both find it empty.
    waiting = LeakCheck.objects.standing().filter(pk=check.pk, vacuum_after_kpa__isnull=True)
    if not waiting.update(vacuum_after_kpa=vacuum_after_kpa):
        raise ReadingAlreadySet("This check has its reading already, or was taken back.")


def take_back_reading_after(*, check: LeakCheck, vacuum_after_kpa: float) -> None:
    """Take a reading added after a fix off its check again, while it is still that one."""
    # The record of who sent it and when is the sender's; this row only says what counts.
    same = LeakCheck.objects.filter(pk=check.pk, vacuum_after_kpa=vacuum_after_kpa)
    if not same.update(vacuum_after_kpa=None):
        raise ReadingAlreadySet("This check has another reading, or none.")


def _lock(line_id: int) -> None:
    # Two checks of one line settle one after the other; SQLite has locked at BEGIN already.
    Line.objects.select_for_update().get(pk=line_id)


def _settle(line_id: int) -> None:
    """Make the line's leak rows say what its standing checks say."""
    standing = {check.pk: check for check in LeakCheck.objects.filter(line=line_id).in_story()}
    # Told anew from all that stands: a late check or one taken back needs no case of its own.
    story = closers(Seen(c.pk, c.state, c.place_drops) for c in standing.values())
    known = {leak.opened_by_id: leak for leak in Leak.objects.filter(line=line_id)}
    # A leak row once made is never deleted; its check taken back takes it out of every list.
    for opener_id in story.keys() - known.keys():
        opener = standing[opener_id]
        known[opener_id] = Leak.objects.create(
            line_id=line_id, opened_by=opener, cause=opener.cause, opened_at=opener.observed_at
        )
    for opener_id, leak in known.items():
        closer_id = story.get(opener_id)
        # Rows whose opener was taken back fall out of the story: closed by nobody, open nowhere.
        if leak.closed_by_id != closer_id:
            leak.closed_by = standing[closer_id] if closer_id else None
            leak.closed_at = leak.closed_by.observed_at if leak.closed_by else None
            leak.save(update_fields=["closed_by", "closed_at"])

"""Writing down what was seen, and taking it back."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db import transaction

from apps.leaks.closing import Seen, closers
from apps.leaks.models import GaugeReading, Leak, LeakCheck
from apps.operation.models import CrewMember
from apps.woods.models import Line, PumpHouse


class NotYours(Exception):
    """Only the one who recorded a check or a reading, or an owner, may take it back."""


class SentBefore(Exception):
    """The identifier belongs to a check of another line or state; nothing was written."""

    def __init__(self, check: LeakCheck) -> None:
        super().__init__(f"Already recorded as {check}.")
        self.check = check


class ReadingAlreadySet(Exception):
    """A check has its reading after the work already; it is not overwritten."""


class AnotherReading(Exception):
    """The pump house has a different reading at the very same moment."""

    def __init__(self, reading: GaugeReading) -> None:
        super().__init__(f"{reading} at {reading.read_at}")
        self.reading = reading


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
) -> Recorded:
    """Write one check once, however often it is sent, and settle the leaks of its line.

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
        },
    )
    if is_new:
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


def record_gauge_reading(
    *,
    pump_house: PumpHouse,
    read_at: datetime,
    vacuum_kpa: float,
    crew: CrewMember | None = None,
    note: str = "",
) -> GaugeReading:
    """Write one gauge reading; the same one sent again is the same row."""
    # Among those that stand: one taken back leaves its moment to the reading that replaces it.
    reading, is_new = GaugeReading.objects.get_or_create(
        pump_house=pump_house,
        read_at=read_at,
        voided_at__isnull=True,
        defaults={"vacuum_kpa": vacuum_kpa, "note": note, "crew": crew},
    )
    # The same number typed twice may differ in its last bits once converted; never by more.
    if not is_new and abs(reading.vacuum_kpa - vacuum_kpa) > 1e-6:
        raise AnotherReading(reading)
    return reading


def void_gauge_reading(*, reading: GaugeReading, by: CrewMember, at: datetime) -> None:
    """Take a mistyped reading back: its row stays and counts for nothing; done twice it is once."""
    if reading.crew_id != by.pk and not by.is_owner:
        raise NotYours("Only the one who wrote a reading down, or an owner, can take it back.")
    GaugeReading.objects.standing().filter(pk=reading.pk).update(voided_at=at, voided_by=by)


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

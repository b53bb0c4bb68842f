"""One post of records, each in a transaction of its own: its receipt and its row, or neither."""

import logging
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from uuid import UUID

from django.db import DataError, IntegrityError, transaction

from apps.domain import phone_clock
from apps.domain.phone_clock import Anchor, Corrected
from apps.field import payload
from apps.field.actions.errors import Refused
from apps.field.actions.kinds import write
from apps.field.actions.rows import Seen
from apps.field.models import Phone, Receipt
from apps.operation.models import CrewMember

log = logging.getLogger(__name__)

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
MILLISECOND = timedelta(milliseconds=1)
ACCEPTED, HAD, REFUSED = "accepted", "had", "refused"


@dataclass(frozen=True)
class Answer:
    """What became of one record; `uuid` is as it was sent, empty where none could be read."""

    n: int
    uuid: str
    answer: str
    field: str = ""
    reason: str = ""


class OtherPerson(Exception):
    """The post speaks for somebody else than who is signed in."""


@dataclass(frozen=True)
class _Intake:
    """What all records of one post share; `digests` are those of receipts that are there."""

    phone: Phone
    person: int
    sender: CrewMember
    now: datetime
    crew: Mapping[int, CrewMember]
    digests: dict[UUID, str]


def take_post(
    *, post: payload.Post, phone: Phone, sender: CrewMember, now: datetime
) -> list[Answer]:
    """Take every record that can be taken, in the order of saving; one answer for each.

    The same post again, or two at once, write nothing twice. `sender` is who is signed in.
    Raises OtherPerson when that is not whom the post speaks for.
    """
    if post.person != sender.pk:
        raise OtherPerson
    readable = post.readable
    receipts = Receipt.objects.filter(uuid__in=[record.uuid for record in readable])
    intake = _Intake(
        phone=phone,
        person=post.person,
        sender=sender,
        now=now,
        crew=CrewMember.objects.in_bulk({r.by for r in readable if r.by is not None}),
        digests=dict(receipts.values_list("uuid", "digest")),
    )
    times = iter(_true_times(post, now))
    return [
        Answer(n, record.uuid, REFUSED, record.field, record.reason)
        if isinstance(record, payload.Unreadable)
        else _judge(intake, n, record, next(times))
        for n, record in enumerate(post.records)
    ]


def _true_times(post: payload.Post, now: datetime) -> tuple[Corrected, ...]:
    """Of the records that can be read, whatever becomes of each: together they tell the most."""
    readable = post.readable
    sync = Anchor(post.now, (now - EPOCH) // MILLISECOND, len(readable))
    return phone_clock.correct([record.clocks for record in readable], post.anchors, sync)


def _judge(intake: _Intake, n: int, record: payload.Record, time: Corrected) -> Answer:
    digest = record.digest(record.by or intake.person)
    try:
        if _had(intake.digests.get(record.uuid), digest):
            word = HAD
        else:
            word = _keep(intake, record, time, digest)
    except Refused as no:
        return Answer(n, record.uuid_sent, REFUSED, no.field, no.reason)
    # The same identifier may stand in one post twice.
    intake.digests[record.uuid] = digest
    return Answer(n, record.uuid_sent, word)


def _had(earlier: str | None, digest: str) -> bool:
    if earlier is not None and earlier != digest:
        raise Refused(
            "uuid",
            "A different record came under its identifier before: nothing was overwritten. "
            "Save it again as a new record.",
        )
    return earlier is not None


def _keep(intake: _Intake, record: payload.Record, time: Corrected, digest: str) -> str:
    seen_by = _who(intake, record.by or intake.person)
    if phone_clock.is_too_old(time.at_ms, (intake.now - EPOCH) // MILLISECOND):
        raise Refused("at", "By its clock it is over 400 days old: save it again.")
    seen = Seen(record.uuid, record.place, seen_by, EPOCH + time.at_ms * MILLISECOND, intake.now)
    try:
        with transaction.atomic():
            # First of all: of two posts at once the second waits here for what the first one does.
            _receipt(intake, record, seen, time, digest)
            write(seen, record.body)
    except (IntegrityError, DataError) as error:
        earlier = Receipt.objects.filter(uuid=record.uuid).values_list("digest", flat=True).first()
        if _had(earlier, digest):
            return HAD
        # Nothing that a phone can send should come this far; one record must not hold the others.
        log.exception("A record was refused by the database alone.")
        raise Refused("", "The server could not keep this record. Tell the owner.") from error
    return ACCEPTED


def _who(intake: _Intake, seen_by: int) -> CrewMember:
    """Who saw it: the sender, or somebody whose records the sender may hand in."""
    if seen_by == intake.sender.pk:
        return intake.sender
    person = intake.crew.get(seen_by)
    if person is None:
        raise Refused("by", "Nobody on the crew is known by that number. Tell the owner.")
    # Who has left cannot sign in any more, and what was seen is not to be lost for that.
    if person.is_active and not intake.sender.is_owner:
        name = person.shown_name
        raise Refused("by", f"{name} saved this: have {name} sign in here, or an owner send it.")
    return person


def _receipt(
    intake: _Intake, record: payload.Record, seen: Seen, time: Corrected, digest: str
) -> None:
    Receipt.objects.create(
        uuid=record.uuid,
        kind=record.kind,
        phone=intake.phone,
        crew=seen.crew,
        sent_by=intake.sender,
        device_at=EPOCH + record.clocks.wall_ms * MILLISECOND,
        clock_offset_ms=time.offset_ms,
        clock_method=time.method.value,
        time_is_certain=time.is_certain,
        observed_at=seen.at,
        received_at=seen.received_at,
        digest=digest,
        payload=record.sent,
    )

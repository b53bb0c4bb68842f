"""One post of a phone: whose it is, its clocks, and its records in the order of saving.

Formula: none.
Units: ms since 1970-01-01 UTC; the phone's timer in ms since its page was loaded.
Validity: format 1. What is wrong with the post as a whole refuses it whole, and every record
stays on the phone; an anchor that cannot be read is left out, for the others still serve.
Source: none.
"""

from dataclasses import dataclass, replace
from typing import Any
from uuid import UUID

from apps.domain.phone_clock import LAST_MS, Anchor, Clocks
from apps.field.payload import strict_json
from apps.field.payload.fields import BadField, Fields, is_whole
from apps.field.payload.records import BOOT_CHARACTERS, Record, Unreadable, read_clocks, read_record

FORMATS = (1,)
MOST_BYTES = 256 * 1024
MOST_RECORDS = 100
MOST_ANCHORS = 20


class BadPost(ValueError):
    """The body is no post at all; the message says why."""


class TooMuch(ValueError):
    """More records than one post may carry; the message says how many it may."""


@dataclass(frozen=True)
class Post:
    """Everything a phone says in one go; `anchors` count the records that could be read."""

    phone: UUID
    person: int
    now: Clocks
    anchors: tuple[Anchor, ...]
    records: tuple[Record | Unreadable, ...]

    @property
    def readable(self) -> list[Record]:
        return [record for record in self.records if isinstance(record, Record)]


def read_post(body: bytes) -> Post:
    """Raises BadPost or TooMuch; everything less is said of its record."""
    try:
        told = strict_json.loads(body)
    except strict_json.NotJson as bad:
        raise BadPost(str(bad)) from bad
    if not isinstance(told, dict) or not isinstance(told.get("records"), list):
        raise BadPost('The body must be {"format": 1, ..., "records": [...]}.')
    if not is_whole(told.get("format")) or told["format"] not in FORMATS:
        raise BadPost("This server does not know that format: have the server updated.")
    if len(told["records"]) > MOST_RECORDS:
        raise TooMuch(f"At most {MOST_RECORDS} records in one post.")
    records = tuple(read_record(one) for one in told["records"])
    fields = Fields(told)
    try:
        return Post(
            phone=fields.uuid("phone"),
            person=fields.key("person"),
            now=read_clocks(fields, "now"),
            anchors=_anchors(told.get("anchors"), records),
            records=records,
        )
    except BadField as bad:
        raise BadPost(bad.reason) from bad


def _anchors(told: Any, records: tuple[Record | Unreadable, ...]) -> tuple[Anchor, ...]:
    found = [_anchor(one) for one in told[-MOST_ANCHORS:]] if isinstance(told, list) else []
    return tuple(
        # A record that nobody can read has no clocks either, and takes no place among the others.
        replace(one, saved_before=sum(isinstance(r, Record) for r in records[: one.saved_before]))
        for one in found
        if one is not None
    )


def _anchor(told: Any) -> Anchor | None:
    if not isinstance(told, list) or len(told) != 5:
        return None
    wall_ms, mono_ms, boot, server_ms, saved_before = told
    wholes = (wall_ms, mono_ms, server_ms, saved_before)
    if not all(is_whole(one) and 0 <= one <= LAST_MS for one in wholes):
        return None
    if not isinstance(boot, str) or len(boot) > BOOT_CHARACTERS or saved_before > MOST_RECORDS:
        return None
    return Anchor(Clocks(wall_ms, mono_ms, boot), server_ms, saved_before)

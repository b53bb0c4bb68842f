"""One record of a phone: what was seen, by whose eyes, by which clocks.

Formula: none.
Units: kPa, mm, drops counted from the pump end, degrees, metres; ms since 1970-01-01 UTC.
Validity: the ten kinds below. Codes and row numbers are read here and known by the database.
Source: the limits are those of the rows they go to; no outside source.
"""

import json
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from hashlib import sha256
from typing import Any
from uuid import UUID

from apps.domain.phone_clock import LAST_MS, Clocks
from apps.field.payload import strict_json
from apps.field.payload.fields import UUID_TEXT, BadField, Fields, is_number, is_whole

HIGHEST_KPA = 120.0
MOST_DROPS = 5000
MOST_TAPS = 20_000
MOST_OF_A_PART = 99
MOST_PARTS = 20
DEEPEST_MM = 20_000.0
NOTE_CHARACTERS = 500
TALLY_NOTE_CHARACTERS = 200
TEXT_CHARACTERS = 2000
WIDEST_M = 100_000.0
BOOT_CHARACTERS = 20


class BadRecord(ValueError):
    """A record that cannot be kept: the field at fault, if it is one, and the reason."""

    def __init__(self, field: str, reason: str) -> None:
        super().__init__(reason)
        self.field = field
        self.reason = reason


@dataclass(frozen=True)
class Unreadable:
    """A record refused before anything was looked up; `uuid` as sent, empty when it has none."""

    uuid: str
    field: str
    reason: str


@dataclass(frozen=True)
class Place:
    """Where the phone was, by its own reckoning."""

    latitude: float
    longitude: float
    accuracy_m: float


@dataclass(frozen=True)
class Check:
    """One look at one line."""

    line: int
    state: str
    before_kpa: float | None
    after_kpa: float | None
    drops: int | None
    cause: str
    note: str
    parts: tuple[tuple[str, int], ...]


@dataclass(frozen=True)
class Void:
    """A record taken back by the one who made it."""

    of: UUID


@dataclass(frozen=True)
class After:
    """The reading that a check was saved without."""

    of: UUID
    after_kpa: float


@dataclass(frozen=True)
class Tally:
    """Taps set on a line, and drops renewed."""

    line: int
    taps: int
    drops: int
    finishes: bool
    note: str


@dataclass(frozen=True)
class Pull:
    """Taps pulled from a line at the season's end."""

    line: int
    taps: int
    finishes: bool
    note: str


@dataclass(frozen=True)
class Dip:
    """The depth in a tank."""

    tank: int
    depth_mm: float


@dataclass(frozen=True)
class Gauge:
    """The gauge in a pump house."""

    pump_house: int
    vacuum_kpa: float
    note: str


@dataclass(frozen=True)
class Obstruction:
    """Something across a line."""

    line: int
    work: str
    drops: int | None
    note: str


@dataclass(frozen=True)
class Clear:
    """Word that an obstruction is gone."""

    of: UUID


@dataclass(frozen=True)
class Note:
    """A few words about a line, a woodlot or neither."""

    text: str
    line: int | None
    woodlot: int | None


Body = Check | Void | After | Tally | Pull | Dip | Gauge | Obstruction | Clear | Note


@dataclass(frozen=True)
class Record:
    """One record as the phone saved it; `by` is None for the person the post speaks for."""

    uuid: UUID
    uuid_sent: str
    kind: str
    by: int | None
    clocks: Clocks
    place: Place | None
    body: Body
    sent: Mapping[str, Any]

    def digest(self, seen_by: int) -> str:
        """Equal for what says the same, however often and by whomever it is sent."""
        place = asdict(self.place) if self.place else None
        says = [self.kind, seen_by, self.clocks.wall_ms, place, asdict(self.body)]
        text = json.dumps(says, sort_keys=True, separators=(",", ":"), default=str)
        return sha256(text.encode()).hexdigest()


def read_record(told: Any) -> Record | Unreadable:
    """One record, or why it is none."""
    uuid = told.get("uuid") if isinstance(told, dict) else None
    known = uuid if isinstance(uuid, str) and UUID_TEXT.fullmatch(uuid) else ""
    try:
        return _record(told)
    except BadField as bad:
        return Unreadable(known, bad.field, bad.reason)
    except BadRecord as bad:
        return Unreadable(known, bad.field, bad.reason)


def _record(told: Any) -> Record:
    if why := strict_json.unkeepable(told):
        raise BadRecord("", why)
    if not isinstance(told, dict):
        raise BadRecord("", "This is no record.")
    if strict_json.is_too_long(told):
        raise BadRecord("", "The record is too long.")
    fields = Fields(told)
    uuid, kind = fields.uuid("uuid"), fields.code("kind")
    if kind not in BODIES:
        raise BadField("kind", "is none that this server knows: have the server updated.")
    return Record(
        uuid=uuid,
        uuid_sent=told["uuid"],
        kind=kind,
        by=fields.key_if_said("by"),
        clocks=read_clocks(fields, "at"),
        place=_place(told.get("pos")),
        body=BODIES[kind](fields),
        sent=told,
    )


def read_clocks(fields: Fields, wall: str) -> Clocks:
    """The clocks of one moment; a timer is of use only with the page load it belongs to."""
    wall_ms = fields.whole(wall, 0, LAST_MS)
    boot = fields.text("boot", BOOT_CHARACTERS)
    mono_ms = fields.whole_if_said("mono", 0, LAST_MS)
    return Clocks(wall_ms, mono_ms, boot) if boot else Clocks(wall_ms)


def _place(told: Any) -> Place | None:
    if told is None:
        return None
    if not isinstance(told, list) or len(told) != 3 or not all(map(is_number, told)):
        raise BadField("pos", "must be latitude, longitude and accuracy.")
    latitude, longitude, accuracy_m = map(float, told)
    if abs(latitude) > 90 or abs(longitude) > 180 or not 0 <= accuracy_m <= WIDEST_M:
        raise BadField("pos", "is nowhere on Earth.")
    return Place(latitude, longitude, accuracy_m)


def _check(fields: Fields) -> Check:
    return Check(
        line=fields.key("line"),
        state=fields.code("state"),
        before_kpa=fields.number_if_said("before_kpa", 0, HIGHEST_KPA),
        after_kpa=fields.number_if_said("after_kpa", 0, HIGHEST_KPA),
        drops=fields.whole_if_said("drops", 0, MOST_DROPS),
        cause=fields.code("cause") if fields.has("cause") else "",
        note=fields.text("note", NOTE_CHARACTERS),
        parts=_parts(fields),
    )


def _parts(fields: Fields) -> tuple[tuple[str, int], ...]:
    told = fields.mapping("parts")
    for part, count in told.items():
        if not is_whole(count) or not 1 <= count <= MOST_OF_A_PART:
            raise BadField("parts", f"must be counted from 1 to {MOST_OF_A_PART}.")
        if not 1 <= len(part) <= 20:
            raise BadField("parts", "name one that this server does not know.")
    if len(told) > MOST_PARTS:
        raise BadField("parts", "name more than there are kinds of.")
    return tuple(sorted(told.items()))


def _void(fields: Fields) -> Void:
    return Void(fields.uuid("of"))


def _after(fields: Fields) -> After:
    return After(fields.uuid("of"), fields.number("after_kpa", 0, HIGHEST_KPA))


def _tally(fields: Fields) -> Tally:
    return Tally(
        line=fields.key("line"),
        taps=fields.whole("taps", 0, MOST_TAPS),
        drops=fields.whole_if_said("drops", 0, MOST_TAPS) or 0,
        finishes=fields.yes("finishes"),
        note=fields.text("note", TALLY_NOTE_CHARACTERS),
    )


def _pull(fields: Fields) -> Pull:
    return Pull(
        line=fields.key("line"),
        taps=fields.whole("taps", 0, MOST_TAPS),
        finishes=fields.yes("finishes"),
        note=fields.text("note", TALLY_NOTE_CHARACTERS),
    )


def _dip(fields: Fields) -> Dip:
    return Dip(fields.key("tank"), fields.number("depth_mm", 0, DEEPEST_MM))


def _gauge(fields: Fields) -> Gauge:
    return Gauge(
        pump_house=fields.key("pump_house"),
        vacuum_kpa=fields.number("vacuum_kpa", 0, HIGHEST_KPA),
        note=fields.text("note", NOTE_CHARACTERS),
    )


def _obstruction(fields: Fields) -> Obstruction:
    return Obstruction(
        line=fields.key("line"),
        work=fields.code("work"),
        drops=fields.whole_if_said("drops", 0, MOST_DROPS),
        note=fields.text("note", NOTE_CHARACTERS),
    )


def _clear(fields: Fields) -> Clear:
    return Clear(fields.uuid("of"))


def _note(fields: Fields) -> Note:
    text = fields.text("text", TEXT_CHARACTERS)
    if not text:
        raise BadField("text", "is empty.")
    return Note(text, fields.key_if_said("line"), fields.key_if_said("woodlot"))


BODIES: dict[str, Callable[[Fields], Body]] = {
    "check": _check,
    "void": _void,
    "after": _after,
    "tally": _tally,
    "pull": _pull,
    "dip": _dip,
    "gauge": _gauge,
    "obstruction": _obstruction,
    "clear": _clear,
    "note": _note,
}

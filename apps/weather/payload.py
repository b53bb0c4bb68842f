"""Measured temperatures as they arrive, a CSV of hours or a JSON batch, to values or named faults.

Formula: C = (F - 32) / 1.8 for a reading sent in Fahrenheit; nothing else is reckoned.
Units: C. A stamp is the start of its hour, in UTC; one without an offset is read as UTC.
Validity: -60 to 60 C; what lies outside is set aside with its reason, and so are two different
values for one hour, since nobody can say which is right. A blank is a missing hour. Hours are kept
to 0.01 C.
Source: stamps as in ISO 8601 (2019), JSON as in RFC 8259 (2017), CSV as in RFC 4180 (2005). The
believable range is common practice, no source: a thermometer that lost its sensor reads -85, -127
or 85 (from memory).
"""

import csv
import io
import json
import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any, NoReturn

import numpy as np
import numpy.typing as npt

from apps.domain import units

COLDEST_C, WARMEST_C = -60.0, 60.0
EARLIEST = datetime(1900, 1, 1, tzinfo=UTC)
HOUR_S = 3600
REQUIRED = ("time_utc", "temp_c")
MOST_READINGS = 1000
# A device's clock may run a little ahead of ours.
CLOCK_SLACK = timedelta(minutes=10)
KEPT_QUANTITY = "temperature"
OTHER_QUANTITIES = ("vacuum", "level", "volume", "flow")


class NotHours(ValueError):
    """The text cannot be read as a record of hours at all."""


class NotABatch(ValueError):
    """The body cannot be read as a batch of readings at all."""


class BadReading(ValueError):
    """One row or reading that cannot be kept; the message is the reason."""


class Unbelievable(BadReading):
    """One value no thermometer in the woods can have measured."""

    def __init__(self, at: datetime, value_c: float) -> None:
        self.at, self.value_c = at, value_c
        super().__init__(f"{value_c:g} C is not between {COLDEST_C:g} and {WARMEST_C:g} C")


@dataclass(frozen=True)
class Fault:
    """A row that cannot be read; rows count from 1, the headings, as a spreadsheet shows them."""

    row: int
    reason: str


@dataclass(frozen=True)
class Doubtful:
    """A value that was read and is not believed."""

    row: int
    at: datetime
    value_c: float
    reason: str


@dataclass(frozen=True)
class HourlyRecord:
    """Hours in order of time: `unix_hours` (n,) whole hours since 1970, `temps_c` (n,), NaN blank.

    An hour that was set aside is there as NaN: the record has a row for it, and no value.
    """

    unix_hours: npt.NDArray[np.int64]
    temps_c: npt.NDArray[np.float64]
    set_aside: tuple[Doubtful, ...]
    faults: tuple[Fault, ...]
    repeated: int
    out_of_order: int

    @property
    def valid_hours(self) -> int:
        return int(np.isfinite(self.temps_c).sum())

    @property
    def missing_hours(self) -> int:
        """Rows of the record without a value to go by, blank or set aside."""
        return self.temps_c.size - self.valid_hours

    def moment(self, place: int) -> datetime:
        return datetime.fromtimestamp(int(self.unix_hours[place]) * HOUR_S, UTC)


@dataclass
class _Reading:
    """What has been read so far: every hour with the row and value that told it first."""

    values: dict[int, tuple[int, float]] = field(default_factory=dict)
    set_aside: list[Doubtful] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    disputed: set[int] = field(default_factory=set)
    repeated: int = 0
    out_of_order: int = 0
    latest: int = -(2**62)


def decode(data: bytes) -> str:
    """Text from UTF-8 bytes, with or without a byte-order mark. Raises NotHours."""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise NotHours("This is not UTF-8 text. Save the record as CSV UTF-8.") from error
    if "\0" in text:
        raise NotHours("This is not a CSV file. Save the record as CSV UTF-8.")
    return text


def read_hourly(text: str, now: datetime) -> HourlyRecord:
    """Read a record of hours up to `now`; raises NotHours when no row of it can be read."""
    so_far = _Reading()
    rows = 0
    for row, stamp, cell in _rows(text.removeprefix("\ufeff")):
        rows += 1
        try:
            _take(so_far, row, _hour(stamp, now), cell)
        except BadReading as bad:
            so_far.faults.append(Fault(row, str(bad)))
    if not so_far.values:
        first = f" Row {so_far.faults[0].row}: {so_far.faults[0].reason}." if rows else ""
        raise NotHours(f"No row below the headings can be read.{first}")
    return _record(so_far)


def _rows(text: str) -> Iterator[tuple[int, str, str]]:
    """Row number, stamp and value of every row that is not empty."""
    first = text.split("\n", 1)[0]
    delimiter = max(",;\t", key=first.count)
    table = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    try:
        headings = [cell.strip().casefold() for cell in next(table, [])]
        for name in REQUIRED:
            if headings.count(name) != 1:
                raise NotHours(f"The first row must head one column “{name}”.")
        time_at, temp_at = (headings.index(name) for name in REQUIRED)
        for row, cells in enumerate(table, start=2):
            # Spreadsheets drop empty cells at the end of a row.
            padded = [*cells, *[""] * len(headings)]
            stamp, cell = padded[time_at].strip(), padded[temp_at].strip()
            if stamp or cell:
                yield row, stamp, cell
    except csv.Error as error:
        raise NotHours(f"The record cannot be read: {error}.") from error


def _hour(stamp: str, now: datetime) -> int:
    at = _moment(stamp)
    if at > now + CLOCK_SLACK:
        raise BadReading(f"{stamp} has not come yet")
    seconds = int(at.timestamp())
    if seconds % HOUR_S or at.microsecond:
        raise BadReading(f"{stamp} is not the start of an hour")
    return seconds // HOUR_S


def _moment(stamp: str) -> datetime:
    # A bare date would pass for its midnight.
    if len(stamp) <= 10:
        raise BadReading(f"“{stamp}” is not a time like 2015-01-01T05:00Z")
    try:
        at = datetime.fromisoformat(stamp)
        at = at.replace(tzinfo=UTC) if at.tzinfo is None else at.astimezone(UTC)
    except (ValueError, OverflowError) as error:
        raise BadReading(f"“{stamp[:40]}” is not a time like 2015-01-01T05:00Z") from error
    if at < EARLIEST:
        raise BadReading(f"{stamp} is before {EARLIEST.year}")
    return at


def _take(so_far: _Reading, row: int, hour: int, cell: str) -> None:
    value = _number(cell) if cell else math.nan
    so_far.out_of_order += hour < so_far.latest
    so_far.latest = max(so_far.latest, hour)
    if not math.isnan(value) and not COLDEST_C <= value <= WARMEST_C:
        _set_aside(so_far, row, hour, value, str(Unbelievable(EARLIEST, value)))
        value = math.nan
    if hour not in so_far.values:
        so_far.values[hour] = row, value
        return
    so_far.repeated += 1
    first_row, first = so_far.values[hour]
    if math.isnan(value) or hour in so_far.disputed:
        return
    if math.isnan(first):
        # A blank says nothing; the value beside it does.
        so_far.values[hour] = row, value
    elif first != value:
        _dispute(so_far, hour, (first_row, first), (row, value))


def _dispute(
    so_far: _Reading, hour: int, first: tuple[int, float], second: tuple[int, float]
) -> None:
    """Neither of two different values is taken: nothing says which is right."""
    so_far.disputed.add(hour)
    so_far.values[hour] = first[0], math.nan
    reason = f"rows {first[0]} and {second[0]} differ on this hour"
    for row, value in (first, second):
        _set_aside(so_far, row, hour, value, reason)


def _set_aside(so_far: _Reading, row: int, hour: int, value_c: float, reason: str) -> None:
    at = datetime.fromtimestamp(hour * HOUR_S, UTC)
    so_far.set_aside.append(Doubtful(row, at, value_c, reason))


def _number(cell: str) -> float:
    try:
        value = float(cell)
    except ValueError as error:
        raise BadReading(f"“{cell[:40]}” is not a number of degrees C") from error
    if not math.isfinite(value):
        raise BadReading(f"“{cell[:40]}” is not a number of degrees C; leave a missing hour blank")
    return value


def _record(so_far: _Reading) -> HourlyRecord:
    hours = sorted(so_far.values)
    return HourlyRecord(
        np.array(hours, dtype=np.int64),
        # To the hundredth that limits are compared at: four stored bytes then tell no other tale.
        np.round([so_far.values[hour][1] for hour in hours], 2),
        tuple(so_far.set_aside),
        tuple(so_far.faults),
        so_far.repeated,
        so_far.out_of_order,
    )


@dataclass(frozen=True)
class Reading:
    """One temperature of a batch, at place `place` in it."""

    place: int
    at: datetime
    temp_c: float


@dataclass(frozen=True)
class Refused:
    """One reading of a batch that is not kept, and why; `doubtful` is the value not believed."""

    place: int
    reason: str
    doubtful: tuple[datetime, float] | None = None


def read_batch(body: bytes, now: datetime) -> list[Reading | Refused]:
    """Every reading of a batch by itself; raises NotABatch for a body that is no batch."""
    try:
        told = json.loads(body, parse_constant=_no_constant)
    except (ValueError, RecursionError) as error:
        raise NotABatch("The body is not JSON.") from error
    readings = told.get("readings") if isinstance(told, dict) else None
    if not isinstance(readings, list):
        raise NotABatch('The body must be {"readings": [...]}.')
    if len(readings) > MOST_READINGS:
        raise NotABatch(f"At most {MOST_READINGS} readings in one batch, not {len(readings)}.")
    return [_judge(place, reading, now) for place, reading in enumerate(readings)]


def _no_constant(word: str) -> NoReturn:
    raise ValueError(f"{word} is no JSON")


def _judge(place: int, told: Any, now: datetime) -> Reading | Refused:
    try:
        return _reading(place, told, now)
    except Unbelievable as bad:
        return Refused(place, str(bad), (bad.at, bad.value_c))
    except BadReading as bad:
        return Refused(place, str(bad))


def _reading(place: int, told: Any, now: datetime) -> Reading:
    if not isinstance(told, dict):
        raise BadReading("a reading must be an object")
    _refuse_other_quantity(told.get("quantity"))
    stamp = told.get("at")
    if not isinstance(stamp, str):
        raise BadReading("at is missing")
    at = _moment(stamp)
    if datetime.fromisoformat(stamp).tzinfo is None:
        raise BadReading("at must state its offset, as in 2026-03-12T14:05:00Z")
    if at > now + CLOCK_SLACK:
        raise BadReading(f"{stamp} has not come yet: is the device's clock right?")
    value_c = _celsius(told.get("value"), told.get("unit"))
    if not COLDEST_C <= value_c <= WARMEST_C:
        raise Unbelievable(at, value_c)
    return Reading(place, at, value_c)


def _refuse_other_quantity(quantity: Any) -> None:
    if quantity in OTHER_QUANTITIES:
        raise BadReading(f"{quantity} is not kept yet")
    if quantity != KEPT_QUANTITY:
        raise BadReading(f"quantity must be one of {', '.join((KEPT_QUANTITY, *OTHER_QUANTITIES))}")


def _celsius(value: Any, unit: Any) -> float:
    # True is an int to Python and no temperature to anybody.
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise BadReading("value must be a number")
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        raise BadReading("value must be a finite number")
    if unit in ("C", "°C"):
        return number
    if unit in ("F", "°F"):
        return float(units.celsius_from_fahrenheit(number))
    raise BadReading("unit of a temperature must be C or F")

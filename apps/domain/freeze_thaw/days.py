"""Local calendar days inside a regular series of UTC hours.

Formula: a stamp belongs to the local date its own UTC instant falls on; a local day runs from
the instant of one local midnight to the instant of the next, so it has 23, 24 or 25 hours.
Units: whole hours; indices count values of the series, `step_hours` apart.
Validity: any zone, half-hour offsets and clock changes at midnight included. The series starts
on a whole UTC hour. A day only partly inside the series keeps its full number of hours.
Source: RFC 5545 (2009) section 3.3.10 on local days across a change of offset; the zone rules
are those of the IANA time zone database as Python's zoneinfo gives them.
"""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo

from apps.domain.errors import DomainError, require_range

HOUR = timedelta(hours=1)
LONGEST_STEP_HOURS = 24


@dataclass(frozen=True, slots=True)
class LocalDay:
    """One local date and the values [start_index, stop_index) of the series that fall on it.

    `full_hours` is the number of whole hours the date has on the clock (23, 24 or 25), whether
    or not the series covers them.
    """

    date: date
    start_index: int
    stop_index: int
    full_hours: int


def local_day_edges(
    start_utc: datetime, hours: int, tz: tzinfo, step_hours: int = 1
) -> list[LocalDay]:
    """The local days that `hours` values from start_utc fall on, in order, without gaps.

    `hours` is the number of values, one every step_hours. Raises DomainError for a start that is
    naive or not on a whole hour, OutOfRange for a negative count or a step outside 1 to 24.
    """
    start_hour = _whole_hour(start_utc)
    require_range("hours", hours, 0, float("inf"))
    require_range("step_hours", step_hours, 1, LONGEST_STEP_HOURS)
    days: list[LocalDay] = []
    index, day = 0, start_hour.astimezone(tz).date()
    while index < hours:
        first, after = _first_hour(day, tz), _first_hour(day + timedelta(days=1), tz)
        # Ceiling division: the first value stamped at or after the next midnight.
        stop = min(hours, -((start_hour - after) // (HOUR * step_hours)))
        # A step longer than an hour can leave a day without any value of its own.
        if stop > index:
            days.append(LocalDay(day, index, stop, (after - first) // HOUR))
        index, day = max(index, stop), day + timedelta(days=1)
    return days


def _whole_hour(start_utc: datetime) -> datetime:
    if start_utc.tzinfo is None:
        raise DomainError(f"start_utc must carry a time zone, not {start_utc.isoformat()}")
    # A stamp off the hour would put every day's edge between two values.
    start = start_utc.astimezone(UTC)
    if start.replace(minute=0, second=0, microsecond=0) != start:
        raise DomainError(f"start_utc must be on a whole hour, not {start.isoformat()}")
    return start


def _first_hour(day: date, tz: tzinfo) -> datetime:
    """The first whole UTC hour at or after local midnight."""
    # Where clocks skip or repeat midnight, its first instant is taken: the day starts there.
    midnight = datetime.combine(day, time(0), tzinfo=tz).astimezone(UTC)
    floor = midnight.replace(minute=0, second=0, microsecond=0)
    return floor if floor == midnight else floor + HOUR

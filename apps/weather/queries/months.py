"""Freeze-thaw counts by month of what was measured in a woodlot."""

from collections import Counter
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta, timezone, tzinfo

from apps.domain.freeze_thaw import Limits, MonthCount, count_months, find_cycles
from apps.weather.queries.readings import HOUR, Observed, whole_record
from apps.woods.models import Woodlot


@dataclass(frozen=True)
class RecordedMonths:
    """The months of a span that the record touches; `record` is all there is, or None."""

    months: tuple[MonthCount, ...]
    record: Observed | None


def recorded_months(
    woodlot: Woodlot, first: date, last: date, tz: tzinfo, limits: Limits
) -> RecordedMonths:
    """Counts for each month from the first day to the last, local days of `tz`, both included.

    A cycle whose freeze began before the first day counts in the month its thaw is dated by.
    """
    record = whole_record(woodlot)
    if record is None:
        return RecordedMonths((), None)
    start, stop = (
        min(record.temps_c.size, max(0, -((record.start_at - _midnight(day, tz)) // HOUR)))
        for day in (first, last + timedelta(days=1))
    )
    if start >= stop:
        return RecordedMonths((), record)
    inside, begins = record.temps_c[start:stop], record.start_at + start * HOUR
    cycles = _cycles_by_month(record, start, stop, tz)
    months = (
        replace(month, cycles=cycles[month.year, month.month])
        for month in count_months(inside, begins, tz, limits)
    )
    return RecordedMonths(tuple(months), record)


def standard_time(tz: tzinfo, year: int) -> timezone:
    """The zone's offset without daylight saving, fixed: the least of the year's offsets."""
    offsets = [datetime(year, month, 1, tzinfo=tz).utcoffset() for month in range(1, 13)]
    return timezone(min(offset for offset in offsets if offset is not None))


def _midnight(day: date, tz: tzinfo) -> datetime:
    return datetime.combine(day, time(), tzinfo=tz).astimezone(UTC)


def _cycles_by_month(
    record: Observed, start: int, stop: int, tz: tzinfo
) -> Counter[tuple[int, int]]:
    # Found over all that came before too, so that a freeze carries over into the span.
    dated = find_cycles(record.temps_c[:stop]).dated_index
    days = ((record.start_at + int(place) * HOUR).astimezone(tz) for place in dated[dated >= start])
    return Counter((day.year, day.month) for day in days)

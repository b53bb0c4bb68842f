"""Freeze-thaw counts of one hourly series by local calendar month.

Formula: complete days have at least 20 known hours and only they count; the strict rule is
minimum under 0 and maximum over 0, the other the two limits. Cycles carry over months and fall
in the month of their dated hour; the longest thaw is cut at month edges.
Units: C, days, hours.
Validity: one hourly series of any length. This is the looser reading used for past records; the
outlook's own verdicts (`verdicts`) ask for every hour before saying no.
Source: the 20-hour rule is common practice, no source; counts agree with the open-data table
under fixtures/open_data, which two independent countings produced.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, tzinfo
from itertools import groupby

import numpy as np

from apps.domain.errors import DomainError
from apps.domain.freeze_thaw.cycles import find_cycles, longest_thaw_hours
from apps.domain.freeze_thaw.daily import DailySummary, Temperatures, summarise_days
from apps.domain.freeze_thaw.days import LocalDay, local_day_edges
from apps.domain.freeze_thaw.verdicts import USUAL_LIMITS, YES, Limits, judge_summary

# Old records drop an hour here and there, which seldom hides an extreme of the day.
COMPLETE_HOURS = 20


@dataclass(frozen=True, slots=True)
class MonthCount:
    """Counts of one local calendar month; `limit_dates` are the complete days within limits."""

    year: int
    month: int
    complete_days: int
    crossing_days: int
    limit_dates: tuple[date, ...]
    cycles: int
    longest_thaw_hours: int


def count_months(
    temps_c: Temperatures, start_utc: datetime, tz: tzinfo, limits: Limits = USUAL_LIMITS
) -> list[MonthCount]:
    """Counts for each local month of one (hours,) series, NaN where an hour is missing.

    Raises DomainError for an array of another shape, and what local_day_edges raises.
    """
    temps_c = np.asarray(temps_c)
    if temps_c.ndim != 1:
        raise DomainError(f"temps_c must have one axis of hours, not {temps_c.ndim} axes")
    summary = summarise_days(temps_c, local_day_edges(start_utc, temps_c.size, tz))
    complete = summary.known_hours >= COMPLETE_HOURS
    # No limits here: any hour under freezing and any over.
    crossing = complete & (summary.hours_below_0 > 0) & (summary.hours_above_0 > 0)
    within = complete & (judge_summary(summary, limits) == YES)
    # Found over the whole record, so that a freeze carries over a month's end.
    dated = find_cycles(temps_c).dated_index
    return [
        MonthCount(
            days[0].date.year,
            days[0].date.month,
            int(complete[span].sum()),
            int(crossing[span].sum()),
            tuple(day.date for day, hit in zip(days, within[span], strict=True) if hit),
            int(((dated >= days[0].start_index) & (dated < days[-1].stop_index)).sum()),
            int(longest_thaw_hours(temps_c[days[0].start_index : days[-1].stop_index])),
        )
        for span, days in _months(summary)
    ]


def _months(summary: DailySummary) -> Iterator[tuple[slice, list[LocalDay]]]:
    first = 0
    for _, group in groupby(summary.days, key=lambda day: (day.date.year, day.date.month)):
        days = list(group)
        yield slice(first, first + len(days)), days
        first += len(days)

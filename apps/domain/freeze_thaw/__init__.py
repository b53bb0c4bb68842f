"""Freeze-thaw days, hours and cycles from hourly temperatures.

Formula: a local calendar day counts when its minimum is at or under the freeze limit and its
maximum at or over the thaw limit, both limits included and compared at 0.01 C. The parts are in
`days` (local days of 23 to 25 hours), `daily` (minima, maxima, hours), `verdicts` (yes, no,
unknown), `cycles` (freezes followed by thaws) and `months` (counts by month).
Units: temperatures in C, heights in metres, times in whole hours; a missing hour is NaN.
Validity: hourly values, or values every 2 to 24 hours where `step_hours` says so. Hours are
stamped at their start, in UTC. An unknown hour is never taken for a warm or a cold one.
Source: the pair -1.1 C and 2.2 C (30 and 36 F) is common practice, no source. The lapse rate is
that of the ISO 2533 (1975) standard atmosphere, 6.5 C per kilometre.
"""

from apps.domain.freeze_thaw.cycles import (
    Cycle,
    Cycles,
    count_cycles,
    find_cycles,
    longest_thaw_hours,
)
from apps.domain.freeze_thaw.daily import (
    DailySummary,
    correct_temperature,
    summarise_days,
    thaw_degree_hours,
)
from apps.domain.freeze_thaw.days import LocalDay, local_day_edges
from apps.domain.freeze_thaw.months import MonthCount, count_months
from apps.domain.freeze_thaw.verdicts import (
    FreezeThawDay,
    Limits,
    MemberShare,
    Tally,
    judge_days,
    judge_extremes,
    judge_summary,
    member_shares,
    tally,
)

__all__ = [
    "Cycle",
    "Cycles",
    "DailySummary",
    "FreezeThawDay",
    "Limits",
    "LocalDay",
    "MemberShare",
    "MonthCount",
    "Tally",
    "correct_temperature",
    "count_cycles",
    "count_months",
    "find_cycles",
    "judge_days",
    "judge_extremes",
    "judge_summary",
    "local_day_edges",
    "longest_thaw_hours",
    "member_shares",
    "summarise_days",
    "tally",
    "thaw_degree_hours",
]

"""Whether a local day froze and thawed: yes, no, or unknown.

Formula: yes as soon as the known hours show a value at or under the freeze limit and one at or
over the thaw limit; no only when no hour of the day is missing; otherwise unknown. Values and
limits are compared at 0.01 C, limits included.
Units: C, hours.
Validity: from steps longer than an hour only some hours of a day are known, so such a day is yes
or unknown, never no.
Source: limits -1.1 and 2.2 C (30 and 36 F) are common practice, no source. The member share
follows the usual reading of an ensemble: members that meet the rule over members that could be
judged from a full day, no percentage under ten members (common practice, no source).
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, tzinfo
from typing import Final, Literal

import numpy as np
import numpy.typing as npt

from apps.domain.errors import DomainError, require_range
from apps.domain.freeze_thaw.daily import DailySummary, Temperatures, summarise_days
from apps.domain.freeze_thaw.days import local_day_edges

Verdict = Literal["yes", "no", "unknown"]

FREEZE_C, THAW_C = -1.1, 2.2
FEWEST_MEMBERS_FOR_SHARE = 10
YES: Final = 1
NO: Final = 0
UNKNOWN: Final = -1
VERDICTS: dict[int, Verdict] = {YES: "yes", NO: "no", UNKNOWN: "unknown"}


@dataclass(frozen=True, slots=True)
class Limits:
    """Limits in C, both included; raises DomainError unless freeze_c is under thaw_c."""

    freeze_c: float = FREEZE_C
    thaw_c: float = THAW_C

    def __post_init__(self) -> None:
        require_range("freeze_c", self.freeze_c, -40, 40)
        require_range("thaw_c", self.thaw_c, -40, 40)
        # One temperature for both would make a freeze-thaw day of any day that touches it.
        if self.freeze_c >= self.thaw_c:
            raise DomainError(f"freeze_c {self.freeze_c:g} must be under thaw_c {self.thaw_c:g}")


USUAL_LIMITS: Final = Limits()


@dataclass(frozen=True, slots=True)
class FreezeThawDay:
    """One local day of one series; minimum and maximum are of the known hours, or None."""

    date: date
    verdict: Verdict
    minimum_c: float | None
    maximum_c: float | None
    known_hours: int
    full_hours: int
    hours_above_0: int
    hours_below_0: int


@dataclass(frozen=True, slots=True)
class Tally:
    """k of n known days, m unknown."""

    yes: int
    known: int
    unknown: int


@dataclass(frozen=True, slots=True)
class MemberShare:
    """Of `full` members with every hour of the date known, `yes` froze and thawed.

    `share` is None under ten such members: too few for a percentage.
    """

    date: date
    yes: int
    full: int
    share: float | None


def judge_days(
    temps_c: Temperatures,
    start_utc: datetime,
    tz: tzinfo,
    freeze_c: float = FREEZE_C,
    thaw_c: float = THAW_C,
    step_hours: int = 1,
) -> list[FreezeThawDay]:
    """Judge the local days of one (hours,) series, NaN where an hour is missing.

    Raises DomainError for an array of another shape, and what local_day_edges, summarise_days
    and Limits raise.
    """
    temps_c = np.asarray(temps_c, dtype=np.float64)
    if temps_c.ndim != 1:
        raise DomainError(f"temps_c must have one axis of hours, not {temps_c.ndim} axes")
    days = local_day_edges(start_utc, temps_c.size, tz, step_hours)
    summary = summarise_days(temps_c, days)
    verdicts = judge_summary(summary, Limits(freeze_c, thaw_c))
    return [_day(summary, verdicts, index) for index in range(len(days))]


def judge_summary(summary: DailySummary, limits: Limits = USUAL_LIMITS) -> npt.NDArray[np.int8]:
    """Verdicts (..., days): 1 yes, 0 no, -1 unknown."""
    # Hours still missing could only add to what was seen, so a yes stands without them. A day
    # without any hour is NaN, which compares false, and stays unknown.
    froze = _hundredths(summary.minimum_c) <= _hundredths(limits.freeze_c)
    thawed = _hundredths(summary.maximum_c) >= _hundredths(limits.thaw_c)
    unseen = np.where(summary.known_hours == summary.full_hours, NO, UNKNOWN)
    return np.where(froze & thawed, YES, unseen).astype(np.int8)


def judge_extremes(
    minimum_c: float | None, maximum_c: float | None, limits: Limits = USUAL_LIMITS
) -> Verdict:
    """Judge an imported daily minimum and maximum by the same limits.

    One of the two alone can only say no. Raises DomainError when the minimum is over the maximum.
    """
    if minimum_c is not None and maximum_c is not None and minimum_c > maximum_c:
        raise DomainError(f"minimum_c {minimum_c:g} must not be over maximum_c {maximum_c:g}")
    froze = minimum_c is None or _hundredths(minimum_c) <= _hundredths(limits.freeze_c)
    thawed = maximum_c is None or _hundredths(maximum_c) >= _hundredths(limits.thaw_c)
    # Whichever of the two is missing might still have met its limit, so only the other says no.
    if not (froze and thawed):
        return "no"
    return "unknown" if minimum_c is None or maximum_c is None else "yes"


def tally(days: Iterable[FreezeThawDay]) -> Tally:
    """Count the days that are yes, known and unknown."""
    verdicts = [day.verdict for day in days]
    unknown = verdicts.count("unknown")
    return Tally(verdicts.count("yes"), len(verdicts) - unknown, unknown)


def member_shares(summary: DailySummary, limits: Limits = USUAL_LIMITS) -> list[MemberShare]:
    """For each day of a (members, hours) summary, how many fully known members are yes.

    Raises DomainError for a summary that is not (members, days).
    """
    if summary.minimum_c.ndim != 2:
        raise DomainError(f"summary must be members by days, not {summary.minimum_c.ndim} axes")
    full = summary.known_hours == summary.full_hours
    # A member with hours missing can already be a yes; counting it would favour yes.
    yes = (judge_summary(summary, limits) == YES) & full
    pairs = zip(summary.days, yes.sum(axis=0).tolist(), full.sum(axis=0).tolist(), strict=True)
    return [
        MemberShare(day.date, hits, members, _share(hits, members)) for day, hits, members in pairs
    ]


def _share(yes: int, full: int) -> float | None:
    # Under ten, one member more or less would move it by more than ten points.
    return yes / full if full >= FEWEST_MEMBERS_FOR_SHARE else None


def _hundredths(temps_c: float | Temperatures) -> npt.NDArray[np.float64]:
    """Whole hundredths of a degree: limits are compared as typed, not as binary fractions."""
    return np.rint(np.asarray(temps_c, dtype=np.float64) * 100)


def _day(summary: DailySummary, verdicts: npt.NDArray[np.int8], index: int) -> FreezeThawDay:
    known = int(summary.known_hours[index])
    day = summary.days[index]
    return FreezeThawDay(
        date=day.date,
        verdict=VERDICTS[int(verdicts[index])],
        minimum_c=float(summary.minimum_c[index]) if known else None,
        maximum_c=float(summary.maximum_c[index]) if known else None,
        known_hours=known,
        full_hours=day.full_hours,
        hours_above_0=int(summary.hours_above_0[index]),
        hours_below_0=int(summary.hours_below_0[index]),
    )

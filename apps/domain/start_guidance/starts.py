"""Every day tapping could start in the next weeks, and the morning each would have all taps in.

Formula: working days = ceil(pair-hours / pair-hours a day), counted forward from the start by the
rules of the back-plan: rest days and days the forecast rules out are skipped; the first `lost_days`
working days beyond the forecast's reach bring no tap. Share in by a morning = pair-hours worked
before it / all, on top of the share set already.
Units: whole days, pair-hours, shares 0 to 1.
Validity: the ready morning is the first whose own back-plan starts no earlier than the start.
Source: a calendar; the lost days are common practice, no source.
"""

import math
from dataclasses import dataclass
from datetime import date

from apps.domain.errors import require_range
from apps.domain.tapping import BackPlanInput, PlanDay
from apps.domain.tapping.pace import DAY, HOUR_DECIMALS, woodlot_line

WEEKS_AHEAD_DAYS = 21


@dataclass(frozen=True, slots=True)
class PossibleStart:
    """A day to start on, its calendar to the eve of the ready morning, and the shares set."""

    start: date
    ready_morning: date
    days: tuple[PlanDay, ...]
    shares: tuple[float, ...]

    def share_set(self, morning: date) -> float:
        """Share of all taps in by this morning; before the start what is set already."""
        place = (morning - self.start).days
        return self.shares[min(max(place, 0), len(self.shares) - 1)]


def possible_starts(
    plan: BackPlanInput, first_day: date, set_share: float = 0.0, days: int = WEEKS_AHEAD_DAYS
) -> tuple[PossibleStart, ...]:
    """The starts on working days of `days` days from first_day; the plan's ready morning is unused.

    `set_share` is the share of the season's taps set before. Raises OutOfRange unless it is from
    0 to 1 and days from 1 to 366.
    """
    require_range("set_share", set_share, 0, 1)
    require_range("days", days, 1, 366)
    hours = math.fsum(woodlot_line(work, plan.paces).pair_hours for work in plan.woodlots)
    needed = hours / (plan.pairs * plan.hours_per_day)
    ahead = [first_day + n * DAY for n in range(days)]
    return tuple(_forward(plan, day, needed, set_share) for day in ahead if _open(plan, day))


def _open(plan: BackPlanInput, day: date) -> bool:
    return day.weekday() not in plan.rest_weekdays and day not in plan.blocked_days


def _forward(plan: BackPlanInput, start: date, needed: float, set_share: float) -> PossibleStart:
    working = math.ceil(round(needed, HOUR_DECIMALS))
    done, lost, day = 0, 0, start
    days: list[PlanDay] = []
    shares = [set_share if working else 1.0]
    while done < working:
        if day.weekday() in plan.rest_weekdays:
            days.append(PlanDay(day, "rest"))
        elif day in plan.blocked_days:
            days.append(PlanDay(day, "ruled out"))
        elif not plan.in_reach(day) and lost < plan.lost_days:
            lost += 1
            days.append(PlanDay(day, "lost"))
        else:
            done += 1
            days.append(PlanDay(day, "tapping"))
        shares.append(set_share + (1 - set_share) * min(done / needed, 1.0))
        day += DAY
    return PossibleStart(start, day, tuple(days), tuple(shares))

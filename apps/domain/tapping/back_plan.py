"""The day to start tapping so that every tap is in by a chosen morning.

Formula: working days = ceil(total pair-hours / (pairs x hours a day)), counted back from the day
before the ready morning, skipping rest days. Lost days are further working days. Inside the
forecast's reach the days it rules out stand in their place: there no allowance is made, and the
ruled-out days are skipped; beyond the reach the allowance stands. Never both for one day.
Units: pair-hours, whole days.
Validity: any dates. The allowance is at most the working days beyond the forecast's reach; which
of them will be lost nobody knows, so the earliest are marked and the start is theirs.
Source: two lost days and the pace table are common practice, no source; the count is a calendar.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Final, Literal

from apps.domain.errors import DomainError, require_range
from apps.domain.tapping.pace import (
    DAY,
    HOUR_DECIMALS,
    USUAL_PACES,
    SnowPaces,
    WoodlotLine,
    WoodlotWork,
    require_working_week,
    woodlot_line,
)

SUNDAY: Final = 6

DayKind = Literal["tapping", "rest", "lost", "ruled out"]


@dataclass(frozen=True, slots=True)
class BackPlanInput:
    """What a plan is made from.

    `blocked_days` are the days the forecast rules out, none after `forecast_until` (the last day
    it reaches; None without a forecast). `rest_weekdays` count from 0, Monday.
    """

    woodlots: tuple[WoodlotWork, ...]
    ready_morning: date
    pairs: int = 2
    hours_per_day: float = 6
    rest_weekdays: frozenset[int] = frozenset({SUNDAY})
    lost_days: int = 2
    blocked_days: frozenset[date] = frozenset()
    forecast_until: date | None = None
    paces: SnowPaces = USUAL_PACES

    def __post_init__(self) -> None:
        require_range("pairs", self.pairs, 1, 100)
        require_range("hours_per_day", self.hours_per_day, 0.5, 24)
        require_range("lost_days", self.lost_days, 0, 60)
        require_working_week(self.rest_weekdays)
        if any(not self.in_reach(day) for day in self.blocked_days):
            raise DomainError(
                f"blocked_days must not lie after forecast_until {self.forecast_until}, "
                f"and {max(self.blocked_days)} does"
            )

    def in_reach(self, day: date) -> bool:
        """Whether the forecast says anything about this day."""
        return self.forecast_until is not None and day <= self.forecast_until


@dataclass(frozen=True, slots=True)
class PlanDay:
    """One date of the plan's calendar and what it is used for."""

    date: date
    kind: DayKind


@dataclass(frozen=True, slots=True)
class BackPlan:
    """A plan with its arithmetic: `calendar` runs from the start to the eve of the ready morning.

    `lost_days` is the allowance that was used. With nothing left to tap the start is the ready
    morning itself and there is no last tapping day.
    """

    start_date: date
    last_tapping_day: date | None
    ready_morning: date
    working_days: int
    lost_days: int
    pair_hours: float
    pair_hours_per_day: float
    woodlots: tuple[WoodlotLine, ...]
    calendar: tuple[PlanDay, ...]


@dataclass(frozen=True, slots=True)
class RunsBeforeReady:
    """Days with a run expected while part of the woods is untapped, and the start after them."""

    days: tuple[date, ...]
    start_after: date | None


def back_plan(plan: BackPlanInput) -> BackPlan:
    """Count back from the ready morning to the day tapping must start."""
    lines = tuple(woodlot_line(work, plan.paces) for work in plan.woodlots)
    pair_hours = math.fsum(line.pair_hours for line in lines)
    per_day = plan.pairs * plan.hours_per_day
    # Rounded up once for all woodlots: a crew that finishes one at noon walks on to the next.
    working = math.ceil(round(pair_hours / per_day, HOUR_DECIMALS))
    calendar = _count_back(plan, working)
    workable = [day for day in calendar if day.kind in ("tapping", "lost")]
    return BackPlan(
        start_date=calendar[0].date if calendar else plan.ready_morning,
        last_tapping_day=workable[-1].date if workable else None,
        ready_morning=plan.ready_morning,
        working_days=working,
        lost_days=sum(day.kind == "lost" for day in calendar),
        pair_hours=pair_hours,
        pair_hours_per_day=per_day,
        woodlots=lines,
        calendar=calendar,
    )


def runs_before_ready(plan: BackPlan, run_days: Iterable[date]) -> RunsBeforeReady:
    """Of the days with a run expected, those from the start to the eve of the ready morning."""
    days = tuple(
        sorted(day for day in set(run_days) if plan.start_date <= day < plan.ready_morning)
    )
    # A ruled-out or rest day after the run is no day to start on.
    free = {day.date for day in plan.calendar if day.kind in ("tapping", "lost")}
    later = [day for day in sorted(free) if days and day > days[-1]]
    return RunsBeforeReady(days, later[0] if later else (plan.ready_morning if days else None))


def _count_back(plan: BackPlanInput, working: int) -> tuple[PlanDay, ...]:
    """The calendar from the start to the eve of the ready morning."""
    # Working days beyond the reach serve the allowance first: with few of them, all may be lost.
    days: list[PlanDay] = []
    beyond: list[int] = []  # positions of working days the forecast does not reach
    inside, day = 0, plan.ready_morning
    while working and inside + max(0, len(beyond) - plan.lost_days) < working:
        day -= DAY
        if day.weekday() in plan.rest_weekdays:
            days.append(PlanDay(day, "rest"))
        elif day in plan.blocked_days:
            days.append(PlanDay(day, "ruled out"))
        else:
            days.append(PlanDay(day, "tapping"))
            if plan.in_reach(day):
                inside += 1
            else:
                beyond.append(len(days) - 1)
    # Counted backwards, so the allowance's days, the earliest, are the last found.
    for position in beyond[max(0, len(beyond) - plan.lost_days) :]:
        days[position] = PlanDay(days[position].date, "lost")
    return tuple(reversed(days))

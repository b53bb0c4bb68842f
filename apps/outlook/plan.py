"""The start date put together: the back-plan, what other dates would mean, where we stand tonight.

Nothing here reads the database or a clock; `queries` brings what is known.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from typing import Literal

from apps.domain.tapping import (
    BackPlan,
    BackPlanInput,
    ReadyDate,
    Reforecast,
    ReforecastInput,
    RunsBeforeReady,
    SnowPaces,
    WoodlotWork,
    back_plan,
    days_from_december,
    ready_morning_from_history,
    reforecast,
    runs_before_ready,
    seasons_missed,
)

DAY = timedelta(days=1)
SEASONS_OF_ACCEPTANCE = 10
OTHER_STARTS = (-14, -7, -3, 0, 3, 7, 14)
# Longer than any winter: pairs, hours or taps are mistyped, and a calendar would say nothing.
LONGEST_DAYS = 120

ReadySource = Literal["typed", "crew plan", "first runs"]


@dataclass(frozen=True)
class Ready:
    """The morning to be ready by, and whose word it is."""

    morning: date
    source: ReadySource


@dataclass(frozen=True)
class Question:
    """All that is known when the start date is asked for."""

    season: int
    today: date
    works: tuple[WoodlotWork, ...]
    paces: SnowPaces
    pairs: int
    hours_per_day: float
    lost_days: int
    rest_weekdays: frozenset[int]
    blocked_days: frozenset[date]
    forecast_until: date | None
    run_days: frozenset[date]
    next_day: date
    observed_pair_hours_per_day: float | None = None
    ready: Ready | None = None
    first_runs: Mapping[int, date] = field(default_factory=dict)
    also_start: date | None = None

    @property
    def pair_hours_per_day(self) -> float:
        return self.pairs * self.hours_per_day

    def missed_by(self, morning: date) -> tuple[int, ...]:
        """Seasons whose first run came before this morning; before 1 December there are none."""
        if morning < date(self.season - 1, 12, 1):
            return ()
        return tuple(seasons_missed(self.first_runs, morning, self.season))


@dataclass(frozen=True)
class OtherStart:
    """One start date, worked forward by the same rules, and the past first runs it misses."""

    start: date
    ready_morning: date
    missed: tuple[int, ...]
    chosen: bool


@dataclass(frozen=True)
class Forward:
    """The work left from the next working day on, and the past first runs that would miss."""

    work: Reforecast
    from_day: date
    pair_hours_per_day: float
    hours_are_observed: bool
    missed: tuple[int, ...]


@dataclass(frozen=True)
class Answer:
    """`back` and what hangs on it is None without a ready morning, or when it would be too long."""

    forward: Forward | None
    back: BackPlan | None = None
    missed: tuple[int, ...] = ()
    others: tuple[OtherStart, ...] = ()
    runs: RunsBeforeReady | None = None
    too_long: bool = False


def accepted_misses(accept_in_ten: int, seasons: int) -> int:
    """Of N seasons on record, how many may be missed: k in 10, rounded down to the safe side."""
    return accept_in_ten * seasons // SEASONS_OF_ACCEPTANCE


def same_place(run: date, season: int) -> date:
    """The date as many days from 1 December in this season as the run was in its own."""
    return date(season - 1, 12, 1) + days_from_december(run) * DAY


def ready_from_history(
    first_runs: Mapping[int, date], accept_in_ten: int, season: int
) -> ReadyDate | None:
    """The ready morning of the first runs on record, or None while there are none."""
    if not first_runs:
        return None
    accepted = accepted_misses(accept_in_ten, len(first_runs))
    return ready_morning_from_history(first_runs, accepted, season)


def choose_ready(planned: date | None, history: ReadyDate | None) -> Ready | None:
    """The crew plan's own date goes before the first runs'."""
    if planned:
        return Ready(planned, "crew plan")
    return Ready(history.date, "first runs") if history else None


def answer(question: Question) -> Answer:
    """Work the plan as far as what is known allows."""
    if not question.works:
        return Answer(forward=None)
    if _slowest_pair_hours(question) / question.pair_hours_per_day > LONGEST_DAYS:
        return Answer(forward=None, too_long=True)
    forward = _forward(question)
    if question.ready is None:
        return Answer(forward=forward)
    plan = back_plan_input(question, question.ready.morning)
    # Looking back, today's forecast says nothing: what it cannot rule out needs the allowance.
    over = question.ready.morning <= question.today
    back = back_plan(_without_forecast(plan) if over else plan)
    runs = runs_before_ready(back, question.run_days)
    wanted = [question.also_start, runs.start_after]
    return Answer(
        forward=forward,
        back=back,
        missed=question.missed_by(back.ready_morning),
        others=tuple(_other_starts(question, plan, back, wanted)),
        runs=runs,
    )


def ready_if_started(plan: BackPlanInput, start: date) -> date:
    """The first morning whose own back-plan lets the crew start as late as `start`.

    Going forward by asking the back-plan keeps one rule for lost, rest and ruled-out days. A later
    morning never needs an earlier start, so the first morning that fits is the answer.
    """
    morning = start
    while back_plan(replace(plan, ready_morning=morning)).start_date < start:
        morning += DAY
    return morning


def _slowest_pair_hours(question: Question) -> float:
    """Every woodlot at the slowest planned pace: a bound is enough to refuse a mistyped plan."""
    paces = question.paces
    slowest = min(paces.light, paces.middle, paces.deep)
    return math.fsum(work.taps_left / (work.observed_pace or slowest) for work in question.works)


def back_plan_input(question: Question, morning: date) -> BackPlanInput:
    """Crew, taps left, rest and ruled-out days, counted back from this morning."""
    return BackPlanInput(
        woodlots=question.works,
        ready_morning=morning,
        pairs=question.pairs,
        hours_per_day=question.hours_per_day,
        rest_weekdays=question.rest_weekdays,
        lost_days=question.lost_days,
        blocked_days=question.blocked_days,
        forecast_until=question.forecast_until,
        paces=question.paces,
    )


def _without_forecast(plan: BackPlanInput) -> BackPlanInput:
    return replace(plan, forecast_until=None, blocked_days=frozenset())


def _forward(question: Question) -> Forward:
    observed = question.observed_pair_hours_per_day
    # One short first day would stretch the rest over the summer: then the planned hours stand.
    if observed and _slowest_pair_hours(question) / observed > LONGEST_DAYS:
        observed = None
    per_day = observed or question.pair_hours_per_day
    work = reforecast(
        ReforecastInput(
            woodlots=question.works,
            next_day=question.next_day,
            pair_hours_per_day=per_day,
            rest_weekdays=question.rest_weekdays,
            blocked_days=question.blocked_days,
            paces=question.paces,
        )
    )
    return Forward(
        work=work,
        from_day=question.next_day,
        pair_hours_per_day=per_day,
        hours_are_observed=observed is not None,
        missed=question.missed_by(work.ready_morning),
    )


def _other_starts(
    question: Question, plan: BackPlanInput, back: BackPlan, wanted: Iterable[date | None]
) -> list[OtherStart]:
    """What starting on other days would have meant in the past seasons, earliest first."""
    starts = {back.start_date + offset * DAY for offset in OTHER_STARTS}
    starts.update(start for start in wanted if start)
    rows = []
    for start in sorted(starts):
        past = start < question.today
        morning = ready_if_started(_without_forecast(plan) if past else plan, start)
        missed = question.missed_by(morning)
        rows.append(OtherStart(start, morning, missed, start == back.start_date))
    return rows

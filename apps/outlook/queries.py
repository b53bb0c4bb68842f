"""Everything the start-date page shows, read once for one season."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from apps.domain.tapping import (
    PlanDay,
    ReadyDate,
    SnowPaces,
    WoodlotLine,
    WoodlotWork,
    season_of,
)
from apps.operation.queries import Constants
from apps.outlook import forecast, plan
from apps.outlook.forecast import Forecast
from apps.outlook.plan import Answer, Question, Ready
from apps.outlook.reach import ColdDay
from apps.tapping import queries as tapping
from apps.tapping.models import CrewPlan, FirstRun, SnowDepth
from apps.tapping.queries import WoodlotProgress

# What the planning arithmetic takes for a pace and for a day's work; outside, a tally is mistyped.
BELIEVABLE_PACE = (1, 1000)
LEAST_PAIR_HOURS = 0.5
# Deep enough for the slowest pace: where nobody looked, the plan must not be too short.
UNSEEN_SNOW_M = 5.0


@dataclass(frozen=True)
class Asked:
    """What the reader of the page typed to try out."""

    ready: date | None = None
    start: date | None = None


@dataclass(frozen=True)
class Lot:
    """One woodlot's part; `line` is None while it has no known tap left."""

    progress: WoodlotProgress
    snow: SnowDepth | None
    own_ready: ReadyDate | None
    line: WoodlotLine | None = None


@dataclass(frozen=True)
class PastRun:
    """One season's first run; `chosen` when it is the one the count back is ready by."""

    row: FirstRun
    this_season: date
    chosen: bool


@dataclass(frozen=True)
class StartDate:
    """The whole answer with what it was made from."""

    season: int
    today: date
    crew: CrewPlan
    lots: tuple[Lot, ...]
    history: Mapping[int, FirstRun]
    this_first_run: FirstRun | None
    from_history: ReadyDate | None
    ready: Ready | None
    forecast: Forecast
    question: Question
    answer: Answer
    tried: Answer | None

    @property
    def too_soon(self) -> bool:
        """Whether the season planned for has not begun: before 1 December."""
        return season_of(self.today) != self.season

    @property
    def taps_left(self) -> int:
        return sum(lot.progress.taps_left or 0 for lot in self.lots)

    @property
    def begun(self) -> bool:
        return any(lot.progress.begun for lot in self.lots)

    @property
    def all_in(self) -> bool:
        """Whether every woodlot has planned taps and none of them is left."""
        return bool(self.lots) and all(lot.progress.taps_left == 0 for lot in self.lots)

    @property
    def days_late(self) -> int:
        """Days since the start date, nought while it lies ahead."""
        back = self.answer.back
        return max(0, (self.today - back.start_date).days) if back else 0

    @property
    def misses_accepted(self) -> int:
        return plan.accepted_misses(self.crew.accept_missing, len(self.history))

    @property
    def past_runs(self) -> list[PastRun]:
        """The first runs on record, earliest within their season first."""
        ordered = self.from_history.ordered if self.from_history else ()
        return [
            PastRun(
                row=self.history[season],
                this_season=plan.same_place(self.history[season].date, self.season),
                chosen=place == self.misses_accepted,
            )
            for place, (season, _) in enumerate(ordered)
        ]

    @property
    def calendar(self) -> list[tuple[PlanDay, ColdDay | None]]:
        """Each day of the plan, with the cold of those the forecast rules out."""
        cold = {day.date: day for day in self.forecast.ruled_out}
        back = self.answer.back
        return [(day, cold.get(day.date)) for day in (back.calendar if back else ())]

    @property
    def days_ruled_out(self) -> int:
        return sum(day.kind == "ruled out" for day, _ in self.calendar)

    @property
    def days_of_rest(self) -> int:
        return sum(day.kind == "rest" for day, _ in self.calendar)

    @property
    def days_exactly(self) -> float | None:
        """Working days before they are rounded up."""
        forward = self.answer.forward
        return forward.work.pair_hours / self.crew.pair_hours_per_day if forward else None

    @property
    def first_day(self) -> date | None:
        """The first day of tapping from now on: the start ahead, else the next day to work."""
        back, forward = self.answer.back, self.answer.forward
        if forward is None or back is None or self.begun:
            return forward.from_day if forward else None
        return max(back.start_date, forward.from_day)

    @property
    def last_morning(self) -> date | None:
        """The morning every tap is in: the one planned, or the one still within reach."""
        back, forward = self.answer.back, self.answer.forward
        if back and not self.days_late:
            return back.ready_morning
        return forward.work.ready_morning if forward else None

    @property
    def start_after_thaws(self) -> date | None:
        """The first tapping day after those runs, while the start still lies ahead."""
        runs = self.answer.runs
        return runs.start_after if runs and not self.days_late else None

    @property
    def overtaken(self) -> bool:
        """Whether the back-plan has nothing left to say: tapping began and its start is past.

        What is left today, counted back from a morning long gone, is nobody's start date.
        """
        return self.begun and self.days_late > 0

    @property
    def lots_with_own_runs(self) -> list[Lot]:
        return [lot for lot in self.lots if lot.own_ready]

    @property
    def lots_left_out(self) -> list[Lot]:
        """Woodlots with lines nobody has planned taps for, or with no lines at all."""
        return [lot for lot in self.lots if lot.progress.lines_unplanned or not lot.progress.lines]


def start_date(
    *, today: date, now: datetime, zone: ZoneInfo, constants: Constants, asked: Asked
) -> StartDate:
    """Read the records and work the plan out of them."""
    season = tapping.season_to_tap(today)
    crew = tapping.crew_plan(season, constants)
    lots = _lots(season, crew)
    history = tapping.operation_first_runs(season + 1)
    this_first_run = history.pop(season, None)
    from_history = plan.ready_from_history(_dates(history), crew.accept_missing, season)
    ready = plan.choose_ready(crew.ready_morning, from_history)
    seen = forecast.read(
        [lot.progress.woodlot for lot in lots if lot.progress.taps_left],
        hours_per_day=crew.hours_per_day,
        constants=constants,
        zone=zone,
        now=now,
    )
    question = _question(crew, lots, constants, seen, today)
    asked_whole = replace(question, ready=ready, first_runs=_dates(history), also_start=asked.start)
    answer = plan.answer(asked_whole)
    # A morning tried is answered beside the plan: trying must not move what the board says.
    typed = Ready(asked.ready, "typed") if asked.ready else None
    return StartDate(
        season=season,
        today=today,
        crew=crew,
        lots=_with_lines(lots, answer),
        history=history,
        this_first_run=this_first_run,
        from_history=from_history,
        ready=ready,
        forecast=seen,
        question=asked_whole,
        answer=answer,
        tried=plan.answer(replace(asked_whole, ready=typed)) if typed else None,
    )


def _dates(history: Mapping[int, FirstRun]) -> dict[int, date]:
    return {season: row.date for season, row in history.items()}


def _lots(season: int, crew: CrewPlan) -> tuple[Lot, ...]:
    snow = tapping.snow_by_woodlot(season)
    runs = tapping.woodlot_first_runs(season)
    return tuple(
        Lot(
            progress=row,
            snow=snow.get(row.woodlot.pk),
            own_ready=plan.ready_from_history(
                runs.get(row.woodlot.pk, {}), crew.accept_missing, season
            ),
        )
        for row in tapping.progress(season)
    )


def _question(
    crew: CrewPlan, lots: Sequence[Lot], constants: Constants, seen: Forecast, today: date
) -> Question:
    """The crew, the woods and the weather; the mornings to be ready by are added by the caller."""
    observed = tapping.observed_pair_hours_per_day(crew.season)
    believable = observed is not None and observed >= LEAST_PAIR_HOURS
    return Question(
        season=crew.season,
        today=today,
        works=tuple(_work(lot) for lot in lots if lot.progress.taps_left),
        paces=paces(constants),
        pairs=crew.pairs,
        hours_per_day=crew.hours_per_day,
        lost_days=crew.lost_days,
        rest_weekdays=crew.rest_weekdays,
        blocked_days=frozenset(day.date for day in seen.ruled_out),
        forecast_until=seen.until,
        run_days=frozenset(day.date for day in seen.freeze_thaw),
        # A day on which something was counted already is spent; an untouched one is still to use.
        next_day=today + timedelta(days=tapping.tallied_on(today)),
        observed_pair_hours_per_day=observed if believable else None,
    )


def paces(constants: Constants) -> SnowPaces:
    return SnowPaces(
        light=constants.number("tapping.pace_bare"),
        middle=constants.number("tapping.pace_knee"),
        deep=constants.number("tapping.pace_deep"),
    )


def _work(lot: Lot) -> WoodlotWork:
    pace = lot.progress.observed_taps_per_pair_hour
    low, high = BELIEVABLE_PACE
    return WoodlotWork(
        name=lot.progress.woodlot.name,
        taps_left=lot.progress.taps_left or 0,
        snow_depth_m=lot.snow.depth_m if lot.snow else UNSEEN_SNOW_M,
        observed_pace=pace if pace is not None and low <= pace <= high else None,
    )


def _with_lines(lots: Sequence[Lot], answer: Answer) -> tuple[Lot, ...]:
    """Each woodlot with its row of the arithmetic; names are unique in the woods."""
    worked = answer.forward.work.woodlots if answer.forward else ()
    by_name = {line.name: line for line in worked}
    return tuple(replace(lot, line=by_name.get(lot.progress.woodlot.name)) for lot in lots)

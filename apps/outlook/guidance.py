"""When to start, weighed: read from the store for the start-date page at each look at it."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from functools import cached_property
from zoneinfo import ZoneInfo

from apps.domain.errors import DomainError
from apps.domain.sap_run import Setting, fit_setting
from apps.domain.start_guidance import (
    FEWEST_RECORDED,
    AgeingShares,
    Change,
    Guidance,
    MissedRuns,
    Past,
    Question,
    Seen,
    Signs,
    StartRow,
    WoodlotRun,
    first_run_dates,
    recommend,
    runs_missed,
    weeks_waited,
    what_changes,
    woodlot_order,
)
from apps.domain.tapping import BackPlanInput
from apps.operation.queries import Constants
from apps.outlook.guidance_weather import Weather, first_hour, joined
from apps.outlook.likelihood import Span
from apps.outlook.plan import SEASONS_OF_ACCEPTANCE, back_plan_input
from apps.outlook.queries import StartDate
from apps.outlook.winter import GoneBy, gone_by
from apps.tapping.queries import woodlot_first_runs
from apps.weather.queries import ModelMembers, members
from apps.weather.queries.history import Winters, history_hours, inferred_first_runs
from apps.woods.models import Woodlot

DAY = timedelta(days=1)
WARMER_C = 2.0
MOST_SURE = 0.99
NO_BREAK = "\u00a0"
TOO_FEW = "no percentage: under ten members"


@dataclass(frozen=True)
class RowShown:
    """One possible start with what it puts at risk; None where that is not known.

    Shares are whole percents in words: no forecast deserves a decimal, and none is certain.
    """

    row: StartRow
    missed: MissedRuns | None
    litres: tuple[float, float] | None
    weeks: float | None
    lost: tuple[float, float] | None
    in_window: bool
    runner_up: bool

    @property
    def chance(self) -> str:
        return self._told(self.row.chance.weight)

    @property
    def caught(self) -> str:
        return self._told(self.row.caught)

    def _told(self, share: float | None) -> str:
        carried = self.row.chance.carries_percent or share is None
        return percent(share) if carried else TOO_FEW

    @property
    def warm_days(self) -> list[tuple[date, str]]:
        return [(day.date, percent(day.share_set)) for day in self.row.warm_days]


def percent(share: float | None) -> str:
    """Whole percents; what is all but certain, or all but impossible, is never called either."""
    if share is None:
        return "not known"
    words = f"{share:.0%}" if share > 1 - MOST_SURE else "under 1%"
    # The number and its sign stay on one line.
    return ("over 99%" if share >= MOST_SURE else words).replace("%", f"{NO_BREAK}%")


@dataclass(frozen=True, eq=False)
class StartGuidance:
    """The recommendation with all it rests on; `woodlot` is the earliest, whose weather it is."""

    told: Guidance
    question: Question
    woodlot: Woodlot
    models: tuple[ModelMembers, ...]
    setting: Setting | None
    taps: int
    litres_per_tap: float
    ageing: AgeingShares | None
    order: tuple[WoodlotRun, ...]
    variants: Callable[[], Iterator[tuple[str, Question]]]
    season_days: tuple[int, int]
    best_tapping_c: float

    @cached_property
    def changes(self) -> tuple[Change, ...]:
        """What would change the answer, reckoned when asked for: the board does without."""
        return what_changes(self.told, self.variants())

    @property
    def seen(self) -> Seen | None:
        return self.question.seen

    @property
    def past(self) -> Past | None:
        return self.question.past

    @property
    def oldest(self) -> ModelMembers | None:
        return min(self.models, key=lambda one: one.run.fetched_at, default=None)

    @property
    def likely_first_run(self) -> date | None:
        return self.question.first_run.day_reached(0.5)

    @property
    def season_ends(self) -> tuple[date, date] | None:
        """Between when and when a season begun on the likely day may end."""
        first = self.likely_first_run
        return (
            (first + self.season_days[0] * DAY, first + self.season_days[1] * DAY)
            if first
            else None
        )

    @property
    def chosen(self) -> RowShown | None:
        """The last day of the window: the one the arithmetic is unfolded for."""
        window = self.told.window
        row = self.told.row(window.last) if window else None
        return self._shown(row) if row else None

    @property
    def runner_up(self) -> RowShown | None:
        return self._shown(self.told.runner_up) if self.told.runner_up else None

    @property
    def wanted(self) -> str:
        return percent(self.question.wanted)

    @property
    def first_run_days(self) -> list[tuple[date, str]]:
        weights = self.question.first_run.weights
        return [(day, percent(weights[day])) for day in sorted(weights)]

    @property
    def rows(self) -> list[RowShown]:
        return [self._shown(row) for row in self.told.rows]

    @property
    def movers(self) -> list[Change]:
        return [change for change in self.changes if change.changes]

    @property
    def unmoved(self) -> list[Change]:
        return [change for change in self.changes if not change.changes]

    def _shown(self, row: StartRow) -> RowShown:
        missed = runs_missed(self.seen, row.work) if self.seen else None
        weeks = weeks_waited(self.question.first_run, row.work)
        a_day = self.taps * self.litres_per_tap
        window = self.told.window
        return RowShown(
            row,
            missed,
            (missed.low * a_day, missed.high * a_day) if missed else None,
            weeks,
            self.ageing.lost(weeks) if self.ageing and weeks is not None else None,
            in_window=window is not None and window.holds(row.start),
            runner_up=row is self.told.runner_up,
        )


def start_guidance(
    page: StartDate, *, constants: Constants, zone: ZoneInfo, now: datetime
) -> StartGuidance | None:
    """The recommendation, or None while there is nothing to weigh.

    That is before 1 December, once the first run has come, and with no taps left to set.
    """
    lots = [lot.progress.woodlot for lot in page.lots if lot.progress.taps_left]
    if page.too_soon or page.this_first_run or page.answer.forward is None:
        return None
    try:
        return _Reading(page, lots, constants, zone, now).guidance()
    except DomainError:
        # Settings set against each other, such as a thaw under the freeze: nothing to weigh by.
        return None


class _Reading:
    """Everything read once; the earliest woodlot is found before its past is read."""

    def __init__(
        self,
        page: StartDate,
        lots: Sequence[Woodlot],
        constants: Constants,
        zone: ZoneInfo,
        now: datetime,
    ) -> None:
        self.page, self.lots, self.constants = page, lots, constants
        self.zone, self.now = zone, now
        self.models = members(lots, constants, now)
        self.gone = gone_by(lots, first_hour(page.today, zone), constants, now)
        self.own = woodlot_first_runs(page.season)
        self.recorded = {season: run.date for season, run in page.history.items()}

    def guidance(self) -> StartGuidance:
        signs = _signs(self.constants)
        recorded = Past(self.recorded, "recorded") if self.recorded else None
        runs = {lot.pk: self._likely_run(lot, signs, recorded) for lot in self.lots}
        woodlot = min(self.lots, key=lambda lot: runs[lot.pk] or date.max)
        winters = history_hours(woodlot)
        setting = self._fitted(winters)
        if setting:
            signs = replace(signs, first_run_degree_hours=setting.thaw_degree_hours)
        question = self._question(woodlot, signs, self._past(winters))
        told = recommend(question)
        return StartGuidance(
            told=told,
            question=question,
            woodlot=woodlot,
            models=tuple(self.models[woodlot.pk]),
            setting=setting,
            taps=self._taps_in_all(),
            litres_per_tap=self.constants.number("leaks.sap_litres_per_tap_day"),
            ageing=_ageing(self.constants),
            order=woodlot_order(self._woodlots(runs)),
            variants=lambda: self._variants(question, woodlot),
            season_days=_season_days(self.constants),
            best_tapping_c=self.constants.number("start.best_tapping_c"),
        )

    def _weather(self, woodlot: Woodlot, warmer_c: float = 0.0) -> Weather:
        past: GoneBy = self.gone[woodlot.pk]
        spans = [Span(model.start_at, model.temps_c) for model in self.models[woodlot.pk]]
        return joined(
            spans,
            past.hours,
            today=self.page.today,
            zone=self.zone,
            now=self.now,
            warmer_c=warmer_c,
        )

    def _likely_run(self, woodlot: Woodlot, signs: Signs, past: Past | None) -> date | None:
        """By its own weather, and its own past where it has three dates or more."""
        own = self.own.get(woodlot.pk, {})
        if len(own) >= FEWEST_RECORDED:
            past = Past(own, "recorded")
        seen = self._weather(woodlot).seen(self.page.today, signs)
        dates = first_run_dates(seen, past, self.page.today, self.page.season)
        return dates.day_reached(0.5)

    def _fitted(self, winters: Winters) -> Setting | None:
        days = {winter: one.days(self.zone) for winter, one in winters.items()}
        whole = {year: one for year, one in days.items() if date(year, 1, 1) in one.dates}
        return fit_setting(whole, self.recorded)

    def _past(self, winters: Winters) -> Past | None:
        """Three own dates or more go alone; else the weather's, else the few own ones there are."""
        if len(self.recorded) < FEWEST_RECORDED:
            found = inferred_first_runs(winters, self.zone, self.recorded)
            inferred = {season: run.date for season, run in found.items() if run.date}
            inferred.pop(self.page.season, None)
            if inferred:
                return Past(inferred, "inferred")
        return Past(self.recorded, "recorded") if self.recorded else None

    def _question(self, woodlot: Woodlot, signs: Signs, past: Past | None) -> Question:
        page, asked = self.page, self.page.question
        return Question(
            today=page.today,
            next_day=asked.next_day,
            season=page.season,
            plan=self._plan(),
            seen=self._weather(woodlot).seen(page.today, signs),
            past=past,
            wanted=1 - page.crew.accept_missing / SEASONS_OF_ACCEPTANCE,
            set_share=1 - page.taps_left / self._taps_in_all(),
            signs=signs,
        )

    def _plan(self) -> BackPlanInput:
        """The crew's plan; once under way, at the hours a day really worked, lost days in them."""
        asked = self.page.question
        plan = back_plan_input(asked, asked.next_day)
        observed = asked.observed_pair_hours_per_day
        if observed is None:
            return plan
        hours = min(24.0, max(0.5, observed / asked.pairs))
        return replace(plan, hours_per_day=hours, lost_days=0)

    def _taps_in_all(self) -> int:
        return self.page.taps_left + sum(lot.progress.taps_set for lot in self.page.lots)

    def _woodlots(self, runs: Mapping[int, date | None]) -> Iterator[WoodlotRun]:
        for lot in self.page.lots:
            if lot.line:
                woodlot = lot.progress.woodlot
                yield WoodlotRun(woodlot.name, runs[woodlot.pk], lot.line.pace, lot.line.pair_hours)

    def _variants(self, question: Question, woodlot: Woodlot) -> Iterator[tuple[str, Question]]:
        """The same evening with one thing different."""
        plan, signs = question.plan, question.signs
        yield "one pair more", replace(question, plan=replace(plan, pairs=plan.pairs + 1))
        if plan.pairs > 1:
            yield "one pair fewer", replace(question, plan=replace(plan, pairs=plan.pairs - 1))
        yield (
            "two days fewer lost to weather",
            replace(question, plan=replace(plan, lost_days=max(0, plan.lost_days - 2))),
        )
        yield (
            "no day ruled out by cold",
            replace(question, plan=replace(plan, blocked_days=frozenset())),
        )
        for words, shift_c in (("warmer", WARMER_C), ("colder", -WARMER_C)):
            seen = self._weather(woodlot, shift_c).seen(question.today, signs)
            yield f"days ahead {words} by 2 °C (3.6 °F)", replace(question, seen=seen)
        for words, share in (("fewer", 0.1), ("more", -0.1)):
            wanted = min(1.0, max(0.0, question.wanted + share))
            yield f"one first run in 10 {words} accepted to miss", replace(question, wanted=wanted)


def _signs(constants: Constants) -> Signs:
    return Signs(
        freeze_c=constants.number("weather.freeze_c"),
        thaw_c=constants.number("weather.thaw_c"),
        warm_c=constants.number("start.warm_end_c"),
        first_run_degree_hours=constants.number("start.first_run_warmth"),
        frozen_days=round(constants.number("start.frozen_days")),
        plan_days=round(constants.number("start.plan_days")),
        wait_out_days=round(constants.number("start.wait_out_days")),
        trusted_days=round(constants.number("start.trusted_days")),
    )


def _season_days(constants: Constants) -> tuple[int, int]:
    """The shorter first, however the two settings were typed."""
    ends = ("start.season_shortest_days", "start.season_longest_days")
    low, high = sorted(round(constants.number(key)) for key in ends)
    return low, high


def _ageing(constants: Constants) -> AgeingShares | None:
    """The owner's own range; one end alone stands for both, and none is known without either."""
    known = [
        share
        for share in (constants.own("start.ageing_low"), constants.own("start.ageing_high"))
        if share is not None
    ]
    return AgeingShares(min(known), max(known)) if known else None

"""One window to start in, with its reasons and the runner-up; never a bare yes or no.

Formula: a start is good when the share of taps expected to be in on the morning of the first run
is at least `wanted` (missing 2 first runs in 10 whole, or a fifth of every one, comes to the same),
and clear when no day on which sap likely runs falls while part of the taps is in.
1. With good starts, waiting may go on to the last of them. The window is the last good start and
   those up to two days before it; tapping should start on its last day at the latest. About ten
   frozen days with 40 F at their end mean start now, when half of the past first runs had come
   by then: the window then runs from the next day to the last good start. Starts that are not
   clear are left out where that leaves any, else the window stands with its warm days named. Where
   no start has the share wanted but some catch half, those that catch the most count as good.
2. With none, a warm spell within `wait_out_days` that would come before half the taps are in is
   waited out when a clear start follows inside the forecast; otherwise every day of waiting costs
   more, so the start is the next working day.
3. Without past first runs nothing is known beyond the forecast, so its signs alone decide: the
   frozen days above, a first run that half the members see, a spell to wait out, a time to plan.
The runner-up is the clear start next before the window, else the next one after it; against
waiting a spell out it is starting at once.
Units: whole days, shares 0 to 1.
Validity: starts in the next three weeks. It is redone each evening from the taps really set.
Source: the signs are common practice, no source; the rest is counting. How it fared on winters it
had not seen is printed by the bench.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from itertools import takewhile
from typing import Literal

from apps.domain.errors import require_range
from apps.domain.start_guidance.first_run import Chance, FirstRunDates, Past, first_run_dates
from apps.domain.start_guidance.seen import LIKELY, USUAL_SIGNS, DaySeen, Seen, Signs
from apps.domain.start_guidance.starts import PossibleStart, possible_starts
from apps.domain.tapping import BackPlanInput
from apps.domain.tapping.pace import DAY

Stage = Literal["start now", "open", "plan", "wait", "wait out", "late", "not known"]
ReasonKind = Literal[
    "frozen then warm",
    "last good start",
    "spell avoided",
    "spell met",
    "spell waited out",
    "freeze-thaw ahead",
    "too late",
    "nothing in sight",
]

MARGIN_DAYS = 2
SIGN_SLACK_DAYS = 2
HALF = 0.5


@dataclass(frozen=True)
class Question:
    """All that is known this evening; `plan` carries crew, taps left, rest and ruled-out days."""

    today: date
    next_day: date
    season: int
    plan: BackPlanInput
    seen: Seen | None
    past: Past | None
    wanted: float = 0.8
    set_share: float = 0.0
    signs: Signs = USUAL_SIGNS

    def __post_init__(self) -> None:
        require_range("wanted", self.wanted, 0, 1)

    @cached_property
    def first_run(self) -> FirstRunDates:
        return first_run_dates(self.seen, self.past, self.today, self.season)

    @property
    def days_seen(self) -> tuple[DaySeen, ...]:
        return self.seen.days if self.seen else ()


@dataclass(frozen=True)
class WarmDay:
    """A day on which sap likely runs while this share of the taps is in."""

    date: date
    share_set: float


@dataclass(frozen=True)
class StartRow:
    """One possible start: its calendar, the chance, warm days half tapped, past seasons missed."""

    work: PossibleStart
    chance: Chance
    caught: float | None
    warm_days: tuple[WarmDay, ...]
    missed: tuple[int, ...]

    @property
    def start(self) -> date:
        return self.work.start

    @property
    def clear(self) -> bool:
        return not self.warm_days


@dataclass(frozen=True)
class Window:
    first: date
    last: date

    def holds(self, day: date) -> bool:
        return self.first <= day <= self.last


@dataclass(frozen=True)
class Reason:
    """Why, with the day it turns on where there is one."""

    kind: ReasonKind
    day: date | None = None


@dataclass(frozen=True)
class Guidance:
    """The window and its runner-up with reasons; both None when no start can be told apart."""

    stage: Stage
    window: Window | None
    runner_up: StartRow | None
    reasons: tuple[Reason, ...]
    rows: tuple[StartRow, ...]

    @property
    def presses(self) -> bool:
        """Whether a start after the window would be worse; not so where the list ends with it."""
        return self.window is not None and self.rows[-1].start > self.window.last

    def row(self, day: date) -> StartRow | None:
        return next((row for row in self.rows if row.start == day), None)


def recommend(question: Question) -> Guidance:
    """The window to start in, redone from whatever is known this evening."""
    rows = _rows(question)
    if not rows:
        return Guidance("not known", None, None, (), ())
    if question.past is None:
        return _by_signs(question, rows)
    # Where no start has the share wanted, waiting may go on while it costs nothing of the best.
    least = min(question.wanted, max(row.caught or 0.0 for row in rows))
    good = [row for row in rows if (row.caught or 0.0) >= least]
    return _with_good(question, rows, good) if least >= HALF else _without_good(question, rows)


def _rows(question: Question) -> tuple[StartRow, ...]:
    starts = possible_starts(question.plan, question.next_day, question.set_share)
    sappy = [day.date for day in question.days_seen if day.sap_likely]
    return tuple(_row(question, work, sappy) for work in starts)


def _row(question: Question, work: PossibleStart, sappy: Sequence[date]) -> StartRow:
    met = [
        WarmDay(day, work.share_set(day))
        for day in sappy
        if work.start <= day < work.ready_morning and work.share_set(day) > 0
    ]
    past = question.past
    return StartRow(
        work,
        question.first_run.all_in_by(work.ready_morning),
        question.first_run.share_caught(work),
        tuple(met),
        past.missed(work.ready_morning, question.season) if past else (),
    )


def _with_good(question: Question, rows: Sequence[StartRow], good: Sequence[StartRow]) -> Guidance:
    last = good[-1].start
    sign = _frozen_then_warm(question)
    opens = rows[0].start if sign else last - MARGIN_DAYS * DAY
    window = [row for row in good if row.start >= opens]
    clear = [row for row in window if row.clear]
    reasons = [Reason("frozen then warm", sign)] if sign else []
    # Good to the end of the list, the last start listed is not the last good one.
    if not sign and good[-1] is not rows[-1]:
        reasons.append(Reason("last good start", last))
    met = [day.date for row in rows if row.start <= last for day in row.warm_days]
    if met:
        reasons.append(Reason("spell avoided" if clear else "spell met", min(met)))
    return _guidance(question, rows, clear or window, reasons)


def _without_good(question: Question, rows: Sequence[StartRow]) -> Guidance:
    after = _after_spell(question, rows)
    if after:
        return _guidance(question, rows, after, [])
    return _guidance(question, rows, rows[:1], [Reason("too late")], late=True)


def _by_signs(question: Question, rows: Sequence[StartRow]) -> Guidance:
    """Without past first runs nothing is known beyond the forecast: its signs alone decide."""
    sign = _frozen_then_warm(question)
    if sign:
        fits = _ready_by(rows, sign) or rows[:1]
        return _guidance(question, rows, fits, [Reason("frozen then warm", sign)])
    first_run = question.first_run.day_reached(HALF)
    if first_run:
        fits = _ready_by(rows, first_run)
        if fits:
            last = [Reason("last good start", fits[-1].start)]
            return _guidance(question, rows, fits[-1:], last)
        return _without_good(question, rows)
    after = _after_spell(question, rows)
    if after:
        return _guidance(question, rows, after, [])
    ahead = _freeze_thaw_ahead(question)
    stage: Stage = "plan" if ahead else "not known"
    kind: ReasonKind = "freeze-thaw ahead" if ahead else "nothing in sight"
    return Guidance(stage, None, None, (Reason(kind, ahead),), tuple(rows))


def _ready_by(rows: Sequence[StartRow], morning: date) -> list[StartRow]:
    return [row for row in rows if row.work.ready_morning <= morning and row.clear]


def _guidance(
    question: Question,
    rows: Sequence[StartRow],
    chosen: Sequence[StartRow],
    reasons: list[Reason],
    late: bool = False,
) -> Guidance:
    window = Window(chosen[0].start, chosen[-1].start)
    stage: Stage = "late" if late else _stage(question, rows, window)
    if stage == "wait out":
        reasons = [one for one in reasons if one.kind != "spell avoided"]
        reasons.append(Reason("spell waited out", _spell_at_hand(question, rows)))
    ahead = _freeze_thaw_ahead(question)
    if stage == "plan" and ahead:
        reasons.append(Reason("freeze-thaw ahead", ahead))
    if stage == "wait":
        reasons.append(Reason("nothing in sight"))
    return Guidance(stage, window, _runner_up(rows, window, stage), tuple(reasons), tuple(rows))


def _stage(question: Question, rows: Sequence[StartRow], window: Window) -> Stage:
    if window.last <= rows[0].start:
        return "start now"
    if window.first <= rows[0].start:
        return "start now" if _frozen_then_warm(question) else "open"
    spell = _spell_at_hand(question, rows)
    if spell and spell < window.first:
        return "wait out"
    near = window.first <= question.today + question.signs.plan_days * DAY
    return "plan" if near or _freeze_thaw_ahead(question) else "wait"


def _runner_up(rows: Sequence[StartRow], window: Window, stage: Stage) -> StartRow | None:
    before = [row for row in rows if row.start < window.first]
    after = [row for row in rows if row.start > window.last]
    if stage == "wait out" and before:
        return before[0]
    clear = [row for row in before if row.clear]
    return next(iter(clear[-1:] or after[:1]), None)


def _frozen_then_warm(question: Question) -> date | None:
    """The first warm day at the end of about ten frozen ones, in time of season."""
    ahead = [day for day in question.days_seen if day.date >= question.next_day]
    frozen = list(takewhile(lambda day: day.thaw < LIKELY, ahead))
    after = ahead[len(frozen) : len(frozen) + 1 + SIGN_SLACK_DAYS]
    warm = next((day.date for day in after if day.warm >= LIKELY), None)
    about_ten = abs(len(frozen) - question.signs.frozen_days) <= SIGN_SLACK_DAYS
    return warm if warm and about_ten and _in_season(question, warm) else None


def _in_season(question: Question, warm: date) -> bool:
    """Whether half of the past first runs had come by then; yes without any to go by."""
    if question.past is None:
        return True
    runs = question.past.in_season(question.season)
    come = sum(day <= warm for day in runs)
    return come >= HALF * len(runs)


def _spell_at_hand(question: Question, rows: Sequence[StartRow]) -> date | None:
    """The first day within `wait_out_days` sap likely runs, with under half the taps in by then."""
    reach = question.today + question.signs.wait_out_days * DAY
    first = next((day.date for day in question.days_seen if day.sap_likely), None)
    at_hand = first is not None and first <= reach and rows[0].work.share_set(first) < HALF
    return first if at_hand else None


def _after_spell(question: Question, rows: Sequence[StartRow]) -> list[StartRow]:
    """The clear starts after a spell at hand, as far as the forecast sees them through."""
    spell = _spell_at_hand(question, rows)
    if spell is None or question.seen is None:
        return []
    seen_to = question.seen.until + DAY
    later = [row for row in rows if row.start > spell and row.work.ready_morning <= seen_to]
    return [row for row in later if row.clear][: 1 + MARGIN_DAYS]


def _freeze_thaw_ahead(question: Question) -> date | None:
    """The first likely freeze-thaw day of those to plan by."""
    reach = question.today + question.signs.plan_days * DAY
    likely = (day.date for day in question.days_seen if day.freeze_thaw >= LIKELY)
    first = next(likely, None)
    return first if first and first <= reach else None

"""The one answer to when to start, which the page leads with and the board and the brief repeat.

Two rules stand behind it. Weighed: every start of the next three weeks by the members of the
forecast and the past first runs, missed by the share of taps still out. Counted back: from a
morning to be ready by. The weighed one leads, since it is the one that came out closer where both
were replayed (`make bench`); the count back leads where the owner has set a morning that can still
be met, and where there is nothing to weigh. The one that does not lead is a cross-check.

Nothing here reads the database or a clock.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from apps.domain.start_guidance import Stage, Window
from apps.domain.tapping import PlanDay
from apps.outlook.forecast import ThawDay
from apps.outlook.guidance import RowShown, StartGuidance
from apps.outlook.plan import LONGEST_DAYS
from apps.outlook.queries import StartDate
from apps.outlook.reach import ColdDay

DAY = timedelta(days=1)
Leads = Literal["weighed", "own morning", "count back", "nothing"]
WORDS: dict[Stage, str] = {
    "start now": "start now",
    "open": "any day will do",
    "plan": "plan",
    "wait out": "wait out the warm spell",
    "wait": "no hurry",
    "late": "late",
    "not known": "cannot say",
}
CANNOT_SAY = "cannot say"
# The colour beside each word; one without a line here is neither good nor bad.
TONES = {
    "start now": "good",
    "any day will do": "good",
    "done": "good",
    "wait out the warm spell": "warn",
    CANNOT_SAY: "warn",
    "late": "bad",
}


@dataclass(frozen=True, eq=False)
class Verdict:
    """`word` is the verdict, `headline` the whole of it in one sentence, `leads` whose it is.

    `window` is None where no day can be told; `days` is the calendar of the day it is worked out
    for, up to `ready_morning`, and `missed` the past seasons that would have come before that.
    """

    page: StartDate
    guidance: StartGuidance | None
    leads: Leads
    word: str
    headline: str
    window: Window | None = None
    days: tuple[PlanDay, ...] = ()
    ready_morning: date | None = None
    missed: tuple[int, ...] = ()

    @property
    def known(self) -> bool:
        return self.word != CANNOT_SAY

    @property
    def tone(self) -> str:
        return TONES.get(self.word, "cold")

    @property
    def weighed(self) -> bool:
        return self.leads == "weighed"

    @property
    def weighed_words(self) -> str:
        """What the weighing says, for where it is the cross-check."""
        return _weighed_headline(self.guidance, self.page.begun) if self.guidance else ""

    @property
    def chosen(self) -> RowShown | None:
        return self.guidance.chosen if self.guidance and self.weighed else None

    @property
    def runner_up(self) -> RowShown | None:
        return self.guidance.runner_up if self.guidance and self.weighed else None

    @property
    def rests_on(self) -> str:
        """What it was told from, in a few words."""
        if self.leads != "weighed" or self.guidance is None:
            return _COUNTED_FROM.get(self.leads, "")
        seen, past = self.guidance.seen, self.guidance.past
        members = _count(seen.weight.size, "forecast member") if seen else ""
        # Without past first runs the forecast decides alone, and the other way round.
        if past is None:
            return f"Weighed from {members} alone: no past first run is known." if members else ""
        runs = f"{_count(len(past.first_runs), 'past first run')}, {past.source}"
        if not members:
            return f"Weighed from {runs}, alone: there is no forecast fit to plan by."
        return f"Weighed from {members} and {runs}."

    @property
    def window_days(self) -> list[date]:
        """Every day of the window, worked or not."""
        if self.window is None:
            return []
        size = (self.window.last - self.window.first).days + 1
        return [self.window.first + place * DAY for place in range(size)]

    @property
    def days_apart(self) -> int | None:
        """Days by which the count back starts ahead of the window, under 0 after it, 0 in it."""
        back, window = self.page.answer.back, self.window
        if back is None or window is None or self.page.overtaken:
            return None
        nearest = min(max(back.start_date, window.first), window.last)
        return (nearest - back.start_date).days

    @property
    def days_after(self) -> int:
        return -(self.days_apart or 0)

    @property
    def calendar(self) -> list[tuple[PlanDay, ColdDay | None]]:
        """Each day of it, with the cold of those the forecast rules out."""
        cold = {day.date: day for day in self.page.forecast.ruled_out}
        return [(day, cold.get(day.date)) for day in self.days]

    @property
    def first_day(self) -> date | None:
        """The first day of tapping; where no day can be told, the next one that can be worked."""
        return self.days[0].date if self.days else self.page.first_day

    @property
    def last_morning(self) -> date | None:
        return self.ready_morning or self.page.last_morning

    def _while_untapped(self, day: date) -> bool:
        first, last = self.first_day, self.last_morning
        return first is not None and last is not None and first <= day < last

    @property
    def thaws(self) -> list[ThawDay]:
        """Freeze-thaw days from the first day of tapping to the eve of the last morning."""
        return [day for day in self.page.forecast.freeze_thaw if self._while_untapped(day.date)]

    @property
    def unknown_thaws(self) -> list[date]:
        return [day for day in self.page.forecast.unknown_days if self._while_untapped(day)]

    @property
    def days_beyond_forecast(self) -> int:
        """Days between the first day and the last morning that the forecast does not reach."""
        first, last, until = self.first_day, self.last_morning, self.page.forecast.until
        if first is None or last is None or until is None:
            return 0
        return max(0, (last - max(first, until + DAY)).days)


_COUNTED_FROM = {
    "own morning": "Counted back from the morning set in the crew plan.",
    "count back": "Counted back from the past first runs alone.",
}


def verdict(page: StartDate, guidance: StartGuidance | None) -> Verdict:
    """The first of these that has something to say; the last always has."""
    tellers: tuple[Callable[[StartDate, StartGuidance | None], Verdict | None], ...] = (
        _nothing_to_count,
        _own_morning,
        _weighed,
        _counted_back,
    )
    told = (teller(page, guidance) for teller in tellers)
    return next(filter(None, told), None) or _from_no_day(page, guidance)


def _nothing_to_count(page: StartDate, guidance: StartGuidance | None) -> Verdict | None:
    """No taps to set, more than a winter of them, or the first run gone by."""
    word, headline = CANNOT_SAY, ""
    if not page.lots:
        headline = "Cannot say: there are no woodlots."
    elif page.all_in:
        word, headline = "done", "Every planned tap is in."
    elif page.answer.too_long:
        headline = f"Cannot say: more than {LONGEST_DAYS} days of work."
    elif not page.taps_left:
        headline = f"Cannot say: no line has planned taps for season {page.season}."
    elif page.this_first_run:
        are = "tap is" if page.taps_left == 1 else "taps are"
        word = "late"
        headline = f"The first run has come; {page.taps_left:,} {are} not set."
    return Verdict(page, guidance, "nothing", word, headline) if headline else None


def _own_morning(page: StartDate, guidance: StartGuidance | None) -> Verdict | None:
    """The owner's own morning is a decision taken; past its last start it decides nothing more."""
    own = page.ready is not None and page.ready.source == "crew plan"
    return _by_count_back(page, guidance, "own morning") if own and not page.days_late else None


def _weighed(page: StartDate, guidance: StartGuidance | None) -> Verdict | None:
    if guidance is None:
        return None
    row = guidance.chosen.row if guidance.chosen else None
    return Verdict(
        page,
        guidance,
        "weighed",
        WORDS[guidance.told.stage],
        _weighed_headline(guidance, page.begun),
        window=guidance.told.window,
        days=row.work.days if row else (),
        ready_morning=row.work.ready_morning if row else None,
        missed=row.missed if row else (),
    )


def _counted_back(page: StartDate, guidance: StartGuidance | None) -> Verdict | None:
    return _by_count_back(page, guidance, "count back")


def _by_count_back(page: StartDate, guidance: StartGuidance | None, leads: Leads) -> Verdict | None:
    back = page.answer.back
    if back is None or page.overtaken:
        return None
    day = back.start_date
    if page.days_late:
        # Its calendar lies in the past: what is left is worked forward.
        ago = f"{shown_day(day)}, {_count(page.days_late, 'day')} ago"
        return Verdict(page, guidance, leads, "late", f"The day to start was {ago}.")
    return Verdict(
        page,
        guidance,
        leads,
        "plan",
        f"{'Go on' if page.begun else 'Start'} by {shown_day(day)}.",
        window=Window(day, day),
        days=back.calendar,
        ready_morning=back.ready_morning,
        missed=page.answer.missed,
    )


def _from_no_day(page: StartDate, guidance: StartGuidance | None) -> Verdict:
    """Under way past the plan with nothing to weigh by, or no morning to count back from."""
    forward = page.answer.forward
    if page.begun and forward:
        by = shown_day(forward.work.ready_morning)
        headline = f"Tapping is under way: all in by the morning of {by}."
        return Verdict(page, guidance, "nothing", "go on", headline)
    work = _count(forward.work.working_days if forward else 0, "working day")
    headline = f"Cannot say: {work}, but no first run on record to be ready for."
    return Verdict(page, guidance, "nothing", CANNOT_SAY, headline)


def _weighed_headline(guidance: StartGuidance, begun: bool) -> str:
    told, window = guidance.told, guidance.told.window
    if window is None:
        return _without_window(guidance)
    start, days = ("go on" if begun else "start"), shown_days(window)
    first = shown_day(window.first)
    if told.stage == "plan" and not told.presses:
        return f"Time to plan; nothing presses before {first}."
    return {
        "start now": f"{start.capitalize()} {'now: ' if window.first < window.last else ''}{days}.",
        "open": f"{'Go on any' if begun else 'Any'} day from {days} will do.",
        "plan": f"Time to plan: {start} {days}.",
        "wait out": f"Wait the warm spell out: {start} {days}.",
        "wait": f"No hurry: not before {first}, as things stand.",
        "late": f"It will be late whatever you do: {start} {first}.",
    }[told.stage]


def _without_window(guidance: StartGuidance) -> str:
    if guidance.told.stage == "plan":
        return "Time to plan, but no first run is on record to put a date to."
    if not guidance.told.rows:
        return "Cannot say: no day of the next three weeks can be worked."
    if guidance.seen is None:
        return "Cannot say: there is neither a forecast nor a past first run to go by."
    return "Cannot say: no first run is on record, and the forecast shows no sign of one."


def shown_day(day: date) -> str:
    return f"{day:%a} {day.day} {day:%B}"


def shown_days(window: Window) -> str:
    """The month once where both ends share it."""
    first, last = window.first, window.last
    if first == last:
        return shown_day(first)
    begins = f"{first:%a} {first.day}" if first.month == last.month else shown_day(first)
    return f"{begins} to {shown_day(last)}"


def _count(number: int, word: str) -> str:
    return f"{number:,} {word}{'' if number == 1 else 's'}"

"""The days to start tapping weighed by members and past first runs."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np

from apps.domain import sap_run
from apps.domain import start_guidance as sg
from apps.domain.tapping import BackPlanInput, WoodlotWork
from apps.operation.numbers import show
from apps.operation.numbers.entry import Area, Basis, Worked

AREA = Area("start_guidance", "The days to start, weighed")
PRACTICE = "common practice, no source"
DAY = timedelta(days=1)
# 16 Feb 2026 is a Monday.
TODAY = date(2026, 2, 16)
PAST = sg.Past(
    {year: date(year, 2, 20) + (year - 2016) * 3 * DAY for year in range(2016, 2026)}, "recorded"
)
PAST_WORDS = "ten first runs from 20 February to 18 March, three days apart"
FROZEN, WARM = (-9.0, -4.0), (-3.0, 8.0)
WEATHER = "frozen (-9 to -4 °C) to 19 Feb, then days of -3 to 8 °C; twelve members 0.5 °C apart"
WORK = "4,800 taps in little snow, 2 pairs, 6 hours a day, no day lost"


def _weather() -> sap_run.DayWeather:
    days = np.array([FROZEN] * 6 + [WARM] * 8)
    spread = np.linspace(-0.25, 0.25, 12)[:, None]
    dates = [TODAY + (place - 2) * DAY for place in range(len(days))]
    return sap_run.days_from_extremes(dates, days[:, 0] + spread, days[:, 1] + spread)


def _seen() -> sg.Seen:
    seen = sg.look_ahead([_weather()], TODAY)
    if seen is None:
        raise LookupError("the members of the example know no day")
    return seen


def _plan(pairs: int = 2) -> BackPlanInput:
    return BackPlanInput((WoodlotWork("A", 4800, 0.2),), TODAY, pairs=pairs, lost_days=0)


def _question() -> sg.Question:
    return sg.Question(TODAY, TODAY + DAY, 2026, _plan(), _seen(), PAST)


def _percent(share: float | None) -> str:
    return "not known" if share is None else show.percent(share, 0)


@AREA.explain(
    "starts.possible_starts starts.PossibleStart.share_set",
    "Every possible start, worked forward",
    formula=(
        "the back-plan's rules forward; share in by a morning = pair-hours worked before it / all"
    ),
    units="whole days, shares",
    validity="starts on working days of the next three weeks",
    source="a calendar; lost days are common practice, no source",
    basis=Basis.PRACTICE,
)
def starts() -> Worked:
    first = sg.possible_starts(_plan(), TODAY)[0]
    return Worked(
        {"work": WORK, "start": show.day(first.start)},
        {
            "all in by the morning of": show.day(first.ready_morning),
            "in after two days": _percent(first.share_set(TODAY + 2 * DAY)),
        },
    )


@AREA.explain(
    "seen.look_ahead seen.Seen.until seen.Seen.fit_for_percent seen.DaySeen.sap_likely "
    "seen.gathered_since_hard_freeze",
    "What the members see",
    formula=(
        "a first run: the first day of likely run (two in three) that begins a week with three of "
        "them, once the warmth since the last hard freeze is enough; every model weighs the same"
    ),
    units="°C, degree-hours over 0 °C, shares",
    validity="up to each member's first unknown day; no percentage under ten members",
    source=PRACTICE,
    basis=Basis.PRACTICE,
)
def members() -> Worked:
    seen = _seen()
    gathered = sg.gathered_since_hard_freeze(_weather())[0, -1]
    likely = next(day.date for day in seen.days if day.sap_likely)
    return Worked(
        {"days": WEATHER},
        {
            "sap likely from": show.day(likely),
            "the forecast reaches to": show.day(seen.until),
            "fit for a percentage": "yes" if seen.fit_for_percent else "no",
            "warmth gathered by the coldest member": f"{gathered:.0f} °C·h",
        },
    )


@AREA.explain(
    "first_run.first_run_dates first_run.pooled first_run.Past.in_season first_run.Past.missed "
    "first_run.FirstRunDates.all_in_by first_run.FirstRunDates.share_caught "
    "first_run.FirstRunDates.day_reached first_run.Chance.percent",
    "The chance that every tap is in",
    formula=(
        "members m and past seasons q weighed alike in the days trusted, p = √(m q) / (√(m q) + "
        "√((1 - m)(1 - q))); later days by the past alone; the chance sums the weight from the "
        "ready morning on, the taps caught weigh each day by the share in"
    ),
    units="shares",
    validity="no smoothing beyond half a member and half a season; few seasons move in large steps",
    source="Genest and Zidek (1986), Statistical Science 1:114 (from memory)",
    basis=Basis.MEMORY,
)
def chance() -> Worked:
    dates = sg.first_run_dates(_seen(), PAST, TODAY, 2026)
    start = sg.possible_starts(_plan(), TODAY)[0]
    middle = dates.day_reached(0.5)
    missed = PAST.missed(start.ready_morning, 2026)
    return Worked(
        {"days": WEATHER, "past": PAST_WORDS, "work": WORK},
        {
            "chance of every tap": _percent(dates.all_in_by(start.ready_morning).percent),
            "taps in, on average": _percent(dates.share_caught(start)),
            "half of the chance by": show.day(middle) if middle else "not known",
            "past first runs missed": f"{len(missed)} of {len(PAST.in_season(2026))}",
            "even odds of both weighed": _percent(sg.pooled(0.5, 30, 5, 10)),
        },
    )


@AREA.explain(
    "recommend.recommend recommend.Question.days_seen "
    "recommend.StartRow.start recommend.StartRow.clear recommend.Window.holds "
    "recommend.Guidance.row recommend.Guidance.presses",
    "The window to start in",
    formula=(
        "the last start with the share of taps wanted in on the morning of the first run, and two "
        "days before it; about ten frozen days with 40 °F at their end mean now; a warm spell two "
        "days off is waited out"
    ),
    units="whole days",
    validity="redone each evening; replayed on simulated winters by the bench",
    source=PRACTICE,
    basis=Basis.PRACTICE,
)
def window() -> Worked:
    told = sg.recommend(_question())
    rows = [row for row in told.rows if told.window and told.window.holds(row.start)]
    last = told.row(rows[-1].start)
    return Worked(
        {"past": PAST_WORDS, "work": WORK, "days": WEATHER},
        {
            "window": ", ".join(show.day(row.start) for row in rows),
            "taps in, on average, at its end": _percent(last.caught if last else None),
            "no likely run half tapped": "yes" if all(row.clear for row in rows) else "no",
            "a later start is worse": "yes" if told.presses else "no",
        },
    )


@AREA.explain(
    "changes.what_changes changes.Change.changes changes.Change.days_moved",
    "What would change the answer",
    formula="the same evening asked again with one thing different",
    units="whole days",
    validity="one thing at a time",
    source="arithmetic",
    basis=Basis.COMPUTED,
)
def changes() -> Worked:
    base = _question()
    variant = replace(base, plan=_plan(pairs=1))
    (change,) = sg.what_changes(sg.recommend(base), [("one pair fewer", variant)])
    return Worked(
        {"past": PAST_WORDS, "work": WORK, "tried": "one pair fewer"},
        {"the last day to start moves": f"{change.days_moved} days" if change.changes else "not"},
    )


@AREA.explain(
    "at_risk.runs_missed at_risk.weeks_waited at_risk.AgeingShares.lost",
    "Sap put at risk",
    formula=(
        "run days missed = Σ over run days of the share not yet in, by member; weeks a hole waits "
        "= (likely first run - ready morning) / 7; lost = weeks × the owner's own share"
    ),
    units="run days of the whole woods, weeks, shares",
    validity="inside the forecast; the share a week costs is nobody's to assume",
    source=PRACTICE,
    basis=Basis.PRACTICE,
)
def at_risk() -> Worked:
    early, late = (sg.possible_starts(_plan(), TODAY + wait * DAY)[0] for wait in (0, 4))
    missed = sg.runs_missed(_seen(), late)
    weeks = sg.weeks_waited(_question().first_run, early)
    low, high = sg.AgeingShares(0.01, 0.02).lost(weeks or 0.0)
    return Worked(
        {"days": WEATHER, "past": PAST_WORDS, "own share a week": "1 to 2 %"},
        {
            "run days missed, four days later": f"{missed.low:.2f} to {missed.high:.2f}",
            "weeks a hole waits, started today": "not known" if weeks is None else f"{weeks:.1f}",
            "lost by it": f"{show.percent(low, 1)} to {show.percent(high, 1)}",
        },
    )


@AREA.explain(
    "order.woodlot_order",
    "Which woodlot first",
    formula="earliest likely first run first; within a day the higher taps per pair-hour",
    units="dates, taps per pair-hour",
    validity="access is for the crew to judge",
    source=PRACTICE,
    basis=Basis.PRACTICE,
)
def order() -> Worked:
    lots = (
        sg.WoodlotRun("A", date(2026, 3, 6), 60, 10),
        sg.WoodlotRun("B", date(2026, 3, 7), 80, 10),
        sg.WoodlotRun("C", date(2026, 3, 1), 60, 10),
    )
    names = [lot.name for lot in sg.woodlot_order(lots)]
    return Worked(
        {"woodlots": "A 6 March at 60 taps, B 7 March at 80, C 1 March at 60"},
        {"order": ", ".join(names)},
    )

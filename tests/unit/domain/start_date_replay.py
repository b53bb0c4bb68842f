"""Start dates chosen evening by evening on the winters of start_date_worlds, and what they cost.

Four rules set out on the same winters and the same simulated forecasts: ours; the count back from
past first runs alone (all taps in by the first that is not accepted to miss, 2 in 10, with rest
days and two lost days: the defaults of the crew plan); always the average date (the same from the
mean of the past first runs); and the day after the first evening whose central forecast holds a
freeze-thaw day (30 and 36 F) within ten days.
"""

from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from apps.domain import sap_run as sr
from apps.domain import start_guidance as sg
from apps.domain import tapping
from tests.unit.domain import start_date_worlds as worlds

TAPS_A_DAY = 1200  # two pairs, six hours, 100 taps an hour
DAYS_BEFORE = 2
ACCEPTED_IN_TEN = 2
RULES = ("ours", "counted back", "average date", "first freeze-thaw")


@dataclass(frozen=True)
class Regret:
    """Days from the best start in hindsight (later is over 0), run days missed over its own."""

    rule: str
    winter: str
    days: int
    run_days: float


def replay(winter):
    """The regret of each rule on one winter."""
    forecasts = worlds.forecasts(winter)
    best, least = worlds.best_in_hindsight(winter)
    chosen = {
        "ours": ours(winter, forecasts),
        "counted back": counted_back(winter),
        "average date": average_date(winter),
        "first freeze-thaw": first_freeze_thaw(winter, forecasts),
    }
    return [
        Regret(
            rule,
            winter.name,
            worlds.first_day_of_work(winter, start) - best,
            worlds.missed_run_days(winter, start) - least,
        )
        for rule, start in chosen.items()
    ]


def ours(winter, forecasts):
    """The first day our recommendation says to start on, asked every evening from 1 January."""
    past, signs = _past(winter), signs_of(winter)
    for evening in range(worlds.DAYS - worlds.REACH - 1):
        told = sg.recommend(question(winter, forecasts, evening, past, signs))
        if told.stage in ("start now", "late"):
            return (told.window.first - winter.dates[0]).days
    return worlds.DAYS - worlds.REACH


def counted_back(winter):
    """Ready by the earliest of the past first runs but for the 2 in 10 accepted to miss."""
    accepted = ACCEPTED_IN_TEN * len(winter.past) // 10
    return _all_in_by(winter, sorted(winter.past)[accepted])


def average_date(winter):
    return _all_in_by(winter, round(float(np.mean(winter.past))))


def _all_in_by(winter, day):
    plan = replace(_plan(winter), ready_morning=winter.dates[min(day, worlds.DAYS - 1)])
    start = tapping.back_plan(plan).start_date
    return max(1, (start - winter.dates[0]).days)


def first_freeze_thaw(winter, forecasts):
    for evening in range(worlds.DAYS - worlds.REACH - 1):
        low = forecasts.centre(winter.low_c, evening)[:10]
        high = forecasts.centre(winter.high_c, evening)[:10]
        if ((low <= -1.1) & (high >= 2.2)).any():
            return evening + 1
    return worlds.DAYS - worlds.REACH


def question(winter, forecasts, evening, past, signs):
    """What is known on one evening: today and the days before as they were, members ahead."""
    today = winter.dates[evening]
    reach = winter.dates[evening + worlds.REACH]
    seen = sg.look_ahead([_weather(winter, forecasts, evening)], today, signs)
    cold = forecasts.centre(winter.high_c, evening) < worlds.COLD_LIMIT_C
    ahead = winter.dates[evening + 1 : evening + 1 + worlds.REACH]
    blocked = frozenset(day for day, hit in zip(ahead, cold, strict=True) if hit)
    plan = replace(_plan(winter), blocked_days=blocked, forecast_until=reach)
    return sg.Question(today, ahead[0], winter.season, plan, seen, past, signs=signs)


def _weather(winter, forecasts, evening):
    """(members, days) from the first day on, so that warmth gathered is known."""
    known = slice(0, evening + 1)

    def whole(temps_c):
        past = np.tile(temps_c[known], (worlds.MEMBERS, 1))
        return np.concatenate((past, forecasts.members(temps_c, evening)), axis=1)

    dates = winter.dates[: evening + 1 + worlds.REACH]
    return sr.days_from_extremes(dates, whole(winter.low_c), whole(winter.high_c))


def _plan(winter):
    taps = tapping.WoodlotWork("all", winter.work_days * TAPS_A_DAY, 0.0)
    return tapping.BackPlanInput((taps,), winter.dates[-1])


def signs_of(winter):
    """The warmth a first run takes, fitted to the past winters where their weather is known."""
    winters, own = {}, _past(winter).first_runs
    for year, (low, high) in zip(own, winter.past_temps_c, strict=False):
        dates = [date(year, 1, 1) + n * worlds.DAY for n in range(worlds.DAYS)]
        winters[year] = sr.days_from_extremes(dates, low, high)
    setting = sr.fit_setting(winters, own)
    if setting is None:
        return sg.USUAL_SIGNS
    return replace(sg.USUAL_SIGNS, first_run_degree_hours=setting.thaw_degree_hours)


def _past(winter):
    """Past first runs by place; they keep it whatever the year they are given."""
    days = enumerate(winter.past, 2001)
    dates = {year: date(year, 1, 1) + int(day) * worlds.DAY for year, day in days}
    return sg.Past(dates, "recorded")


def rows(regrets):
    """Per rule: mean and spread of both regrets."""
    table = []
    for rule in RULES:
        mine = [one for one in regrets if one.rule == rule]
        days = np.array([abs(one.days) for one in mine])
        missed = np.array([one.run_days for one in mine])
        table.append((rule, len(mine), days, missed))
    return table

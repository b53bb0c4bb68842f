"""Start dates replayed evening by evening on winters the rule had not seen, and those winters.

A slice of 20 simulated winters, all 200 with THAWLINE_SOAK=1, and the three open ones together,
their crews, pasts, holes and forecasts made by chance. `make bench` prints the whole table with its
spread, each open winter by itself: the two of New York City hardly freeze, and there the rules can
hardly be told apart.
"""

import os
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from apps.domain import start_guidance as sg
from tests.unit.domain import start_date_replay as replays
from tests.unit.domain import start_date_worlds as worlds

WINTERS = 200 if os.environ.get("THAWLINE_SOAK") else 20
DRAWS = 20 if os.environ.get("THAWLINE_SOAK") else 7


@cache
def regrets():
    """(days either way, run days missed) by rule, winter by winter."""
    return columns(
        [one for seed in range(WINTERS) for one in replays.replay(worlds.simulated(seed))]
    )


@cache
def open_regrets():
    drawn = [worlds.open_winter(*one, seed) for one in worlds.OPEN for seed in range(DRAWS)]
    return columns([one for winter in drawn for one in replays.replay(winter)])


def columns(rows):
    return {
        rule: np.array([(abs(one.days), one.run_days) for one in rows if one.rule == rule])
        for rule in replays.RULES
    }


@pytest.mark.parametrize("other", ["average date", "first freeze-thaw"])
@pytest.mark.parametrize("winters", [regrets, open_regrets], ids=["simulated", "open"])
def test_ours_is_not_worse(winters, other):
    told = winters()
    days, run_days = told["ours"].mean(axis=0) - told[other].mean(axis=0)
    assert days <= 0
    assert run_days <= 0


@pytest.mark.parametrize("winters", [regrets, open_regrets], ids=["simulated", "open"])
def test_ours_comes_closer_than_the_count_back(winters):
    told = winters()
    days, run_days = (told["ours"] - told["counted back"]).mean(axis=0)
    assert days < -1
    # Twenty winters are too few to tell run days apart: 0.7 a winter over 200, 1.5 either way.
    assert run_days < (0 if WINTERS > 100 and winters is regrets else 0.5)


def test_what_ours_costs_on_mild_winters_is_holes_that_dry():
    # The rule is told nothing of how long a hole gives, as no published figure was found.
    drawn = [worlds.open_winter(*one, seed) for one in worlds.MILD for seed in range(DRAWS)]
    lasting = [replace(winter, hole_days=1000.0) for winter in drawn]
    dry, kept = (
        columns([one for winter in winters for one in replays.replay(winter)])
        for winters in (drawn, lasting)
    )
    assert dry["ours"][:, 1].mean() > 0.5
    assert kept["ours"][:, 1].max() < 0.1
    assert kept["ours"].mean(axis=0)[0] <= kept["average date"].mean(axis=0)[0]


@pytest.mark.parametrize("rule", replays.RULES)
def test_no_rule_beats_hindsight(rule):
    assert (regrets()[rule][:, 1] >= -1e-9).all()


@cache
def one_winter():
    return worlds.simulated(5000)


@cache
def centre_errors():
    """Errors (seeds, evenings, days) of the central forecast."""
    drawn = [replace(one_winter(), forecast_seed=seed) for seed in range(20)]
    return np.array([worlds.forecasts(winter).centre_error_c for winter in drawn])


class TestWorlds:
    @pytest.fixture
    def winter(self):
        return one_winter()

    def test_a_winter_is_the_same_each_time(self, winter):
        again = worlds.simulated(5000)
        assert (again.low_c == winter.low_c).all()
        assert (again.past, again.work_days) == (winter.past, winter.work_days)

    def test_the_best_start_is_the_latest_of_the_least_missed(self, winter):
        best, least = worlds.best_in_hindsight(winter)
        assert worlds.missed_run_days(winter, best) == pytest.approx(least)
        for start in range(1, worlds.DAYS):
            first = worlds.first_day_of_work(winter, start)
            missed = worlds.missed_run_days(winter, first)
            assert missed > least + 1e-9 or first <= best

    def test_never_starting_misses_every_run_day_of_the_season(self, winter):
        season = winter.runs[winter.first_run :].sum()
        assert worlds.missed_run_days(winter, worlds.DAYS) == season

    def test_a_hole_that_never_dries_misses_none_when_set_in_time(self, winter):
        lasting = replace(winter, hole_days=1000.0, first_run=100)
        assert worlds.missed_run_days(lasting, 1) == 0

    def test_a_hole_that_dries_at_once_gives_nothing(self, winter):
        dry = replace(winter, hole_days=0.0, run_day_pace=0.0)
        season = winter.runs[winter.first_run :]
        assert worlds.missed_run_days(dry, 1) == season.sum()

    @pytest.mark.parametrize("ahead", [1, 7, 15])
    def test_forecast_errors_grow_as_stated(self, ahead):
        spread = np.diagonal(centre_errors(), ahead, axis1=1, axis2=2)[:, ::10].std()
        # a + b x days with a in 0.5 to 1.0 and b in 0.2 to 0.4.
        assert 0.5 + 0.2 * ahead < spread < 1.0 + 0.4 * ahead

    def test_the_season_begins_with_a_spell_within_its_span(self):
        for seed in range(20):
            winter = worlds.simulated(seed)
            week = winter.runs[winter.first_run : winter.first_run + worlds.SPELL_DAYS]
            assert winter.runs[winter.first_run]
            assert week.sum() >= worlds.SPELL_RUNS

    @pytest.mark.parametrize(("site", "season"), worlds.OPEN)
    def test_an_open_winter_keeps_its_own_temperatures(self, site, season):
        one, other = (worlds.open_winter(site, season, seed) for seed in (0, 1))
        assert (one.low_c == other.low_c).all()
        assert one.past != other.past
        assert (one.low_c <= one.high_c).all()


class TestReplay:
    def test_the_evening_knows_nothing_beyond_its_forecast(self):
        winter = worlds.simulated(5001)
        told = worlds.forecasts(winter)
        past, signs = sg.Past({}, "recorded"), sg.USUAL_SIGNS
        before = replays.question(winter, told, 30, past, signs).seen
        later = winter.high_c.copy()
        later[30 + worlds.REACH + 1 :] += 20
        after = replays.question(replace(winter, high_c=later), told, 30, past, signs).seen
        assert (before.runs == after.runs).all()
        assert before.days == after.days

    def test_the_average_date_has_all_in_by_the_mean_of_the_past(self):
        winter = replace(worlds.simulated(5000), past=(60, 62, 64), work_days=3)
        start = winter.dates[replays.average_date(winter)]
        # Three days and two lost before 4 March 2025, no Sunday work: from Wednesday 26 February.
        assert (winter.dates[62].isoformat(), start.isoformat()) == ("2025-03-04", "2025-02-26")

    def test_the_count_back_has_all_in_by_the_first_run_not_accepted_to_miss(self):
        # Two of ten may be missed, so the third earliest counts: day 60, 2 March 2025, a Sunday.
        past = (80, 70, 60, 55, 50, 90, 91, 92, 93, 94)
        winter = replace(worlds.simulated(5000), past=past, work_days=3)
        start = winter.dates[replays.counted_back(winter)]
        # Three days and two lost before Sunday 2 March: from Tuesday 25 February to Saturday.
        assert start.isoformat() == "2025-02-25"

    def test_the_first_freeze_thaw_rule_starts_the_day_after_it_is_told(self):
        cold = np.full(worlds.DAYS, -20.0)
        low, high = cold.copy(), cold + 5
        low[40], high[40] = -5.0, 5.0
        winter = replace(worlds.simulated(5000), low_c=low, high_c=high)
        nothing = worlds.Forecasts(
            np.zeros((worlds.DAYS, worlds.DAYS)), np.zeros((worlds.DAYS, 1, worlds.DAYS))
        )
        # Day 40 is ten days ahead of the evening of day 30.
        assert replays.first_freeze_thaw(winter, nothing) == 31

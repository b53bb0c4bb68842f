"""The first run inferred from a winter's temperatures, on winters made by hand.

Source: the rule is the operation's own, stated in the module; the expected dates are counted by
hand. The two winters every producer knows are named tests: a thaw in January, and a first warm day
after deep cold.
"""

import math
from datetime import date, timedelta

import numpy as np
import pytest

from apps.domain import freeze_thaw as ft
from apps.domain import sap_run as sr
from apps.domain.errors import DomainError, OutOfRange
from apps.domain.sap_run.first_run import SETTINGS_DEGREE_HOURS
from tests.unit.domain.test_freeze_thaw_open_data import EST, read_hours

SEASON = 2026
COLD, THAW, DEEP = (-9.0, -4.0), (-3.0, 6.0), (-20.0, -12.0)


def winter(*spells, season=SEASON, lead=7):
    """Days from a week before New Year: a cold lead, then (days, (low, high)) spells."""
    low, high = [COLD[0]] * lead, [COLD[1]] * lead
    for count, (coldest, warmest) in spells:
        low += [coldest] * count
        high += [warmest] * count
    first = date(season, 1, 1) - timedelta(days=lead)
    return sr.days_from_extremes([first + timedelta(days=at) for at in range(len(low))], low, high)


def setting(degree_hours):
    return sr.Setting(degree_hours, 0.0, (2023, 2024, 2025))


def first(weather, degree_hours, season=SEASON):
    return sr.inferred_first_run(weather, season, setting(degree_hours)).date


# One thaw day of -3 to 6 C gives 24 / pi x (1.5 (pi / 2 + 0.33984) + 4.5 cos 0.33984).
THAW_DEGREE_HOURS = 54.306


def test_a_thaw_day_by_hand():
    found = sr.sine_thaw_degree_hours(np.array(-3.0), np.array(6.0))
    angle = math.asin(1.5 / 4.5)
    by_hand = 24 / math.pi * (1.5 * (math.pi / 2 + angle) + 4.5 * math.cos(angle))
    assert found == pytest.approx(by_hand)
    assert by_hand == pytest.approx(THAW_DEGREE_HOURS, abs=1e-3)


def test_a_warm_day_in_january_is_no_first_run():
    weather = winter((10, COLD), (1, (-2.0, 8.0)), (35, COLD), (10, THAW))
    assert first(weather, 150) > date(2026, 2, 15)
    assert sr.inferred_first_run(weather, SEASON).date == date(2026, 2, 19)


def test_the_first_warm_day_after_deep_cold_finds_the_trees_frozen():
    weather = winter((50, DEEP), (6, (-2.0, 9.0)))
    warm_day = date(2026, 2, 20)
    run = first(weather, 0)
    assert run > warm_day
    # The deep cold stays among the three days until the third warm one.
    assert run == warm_day + timedelta(days=2)


@pytest.mark.parametrize(
    ("degree_hours", "day"), [(0, 2), (150, 2), (175, 3), (215, 3), (220, 4), (325, 5), (330, None)]
)
def test_warmth_must_reach_the_setting(degree_hours, day):
    # Thaw days from 1 March on: n of them have gathered n x 54.3; the likelihood is high from
    # the third, when the cold of February has left the three days.
    weather = winter((59, COLD), (6, THAW))
    found = first(weather, degree_hours)
    assert found == (None if day is None else date(2026, 3, 1) + timedelta(days=day))


def test_a_hard_freeze_sets_the_warmth_back():
    weather = winter((40, COLD), (2, THAW), (1, DEEP), (3, THAW))
    gathered = sr.since_hard_freeze(weather)[-6:]
    steps = np.array([1, 2, 0, 1, 2, 3]) * THAW_DEGREE_HOURS
    assert gathered == pytest.approx(steps, abs=0.01)


def test_the_warmth_of_a_hard_freeze_day_itself_counts():
    weather = winter((3, THAW), (1, (-11.0, 5.0)), lead=0)
    own = weather.thaw_degree_hours[-1]
    assert sr.since_hard_freeze(weather)[-1] == pytest.approx(own)


def test_an_unknown_day_gathers_nothing():
    gathered = sr.since_hard_freeze(winter((1, THAW), (1, (math.nan, math.nan)), (1, THAW)))
    assert gathered[-3:] == pytest.approx(np.array([1, 1, 2]) * THAW_DEGREE_HOURS, abs=0.01)


@pytest.mark.parametrize(("low", "days"), [(-10.0, 0), (-9.99, 2)])
def test_ten_under_nought_is_a_hard_freeze(low, days):
    weather = winter((2, THAW), (1, (low, -5.0)), lead=0)
    assert sr.since_hard_freeze(weather)[-1] == pytest.approx(days * THAW_DEGREE_HOURS, abs=0.01)


def test_a_hard_freeze_on_the_first_day_takes_nothing_off():
    weather = winter((1, (-11.0, 5.0)), (1, THAW), lead=0)
    assert sr.since_hard_freeze(weather) == pytest.approx(np.cumsum(weather.thaw_degree_hours))


@pytest.mark.parametrize("hard_freeze_c", [-40.1, 0.1, math.nan])
def test_an_impossible_hard_freeze_is_refused(hard_freeze_c):
    with pytest.raises(OutOfRange, match=r"^hard_freeze_c must be between -40 and 0"):
        sr.since_hard_freeze(winter((1, THAW)), hard_freeze_c)


def test_the_days_before_new_year_are_no_first_run():
    weather = winter((20, COLD), lead=0)
    december = sr.days_from_extremes(
        [date(2025, 12, 20) + timedelta(days=at) for at in range(12)], [-3.0] * 12, [6.0] * 12
    )
    together = sr.days_from_extremes(
        december.dates + weather.dates,
        np.concatenate((december.minimum_c, weather.minimum_c)),
        np.concatenate((december.maximum_c, weather.maximum_c)),
    )
    assert first(together, 100) is None


def even(days, thaw_degree_hours):
    """Days from New Year of a mild freeze and just so much thaw."""
    like = np.ones(days)
    dates = tuple(date(SEASON, 1, 1) + timedelta(days=at) for at in range(days))
    return sr.DayWeather(dates, -2 * like, 8 * like, 3 * like, thaw_degree_hours * like)


def test_the_setting_itself_is_enough():
    # 50 degree-hours a day: 200 are reached on the fourth day, to the last bit.
    assert first(even(10, 50.0), 200) == date(2026, 1, 4)
    assert first(even(10, 50.0), 200.01) == date(2026, 1, 5)


def test_settings_go_by_steps_of_25_to_1500():
    assert SETTINGS_DEGREE_HOURS[:3] == (0, 25, 50)
    assert SETTINGS_DEGREE_HOURS[-1] == 1500


def test_a_run_by_a_setting_says_so_found_or_not():
    for days, found in ((40, True), (2, False)):
        run = sr.inferred_first_run(even(days, 60.0), SEASON, setting(100))
        # The first two days lack the days before them.
        assert (run.date is not None, run.basis, run.unknown_days) == (found, "fitted", 2)


def test_unknown_days_are_counted_to_the_end_where_no_day_is_found():
    weather = winter((30, COLD), (3, (math.nan, math.nan)), (20, COLD))
    assert sr.inferred_first_run(weather, SEASON, setting(0)).unknown_days == 5


def test_the_weekly_rule_counts_its_unknown_days_to_the_end_where_no_week_is_found():
    weather = winter((30, COLD), (3, (math.nan, math.nan)), (20, COLD))
    assert sr.inferred_first_run(weather, SEASON).unknown_days == 3


def test_the_end_of_may_is_still_within_the_season():
    assert first(winter((145, COLD), (6, THAW)), 0) == date(2026, 5, 28)


def test_june_is_no_first_run():
    assert first(winter((155, COLD), (20, THAW)), 0) is None


@pytest.mark.parametrize(("unknown", "found"), [(5, True), (6, False)])
def test_days_unknown_before_it_leave_the_first_run_unknown(unknown, found):
    # Each gap leaves two more days without the days before them.
    weather = winter((30, COLD), (unknown, (math.nan, math.nan)), (20, THAW))
    run = sr.inferred_first_run(weather, SEASON, setting(100))
    assert run.unknown_days == unknown + 2
    assert (run.date is not None) is found


def test_without_a_setting_the_weekly_rule_answers():
    weather = winter((59, COLD), (20, (-2.0, 7.0)))
    run = sr.inferred_first_run(weather, SEASON)
    weeks = sr.season_open_weekly(weather, SEASON)
    assert (run.date, run.basis) == (sr.first_producing(weeks).start, "weekly rule")


@pytest.mark.parametrize("days", [3, 60])
def test_the_weekly_rule_may_find_none(days):
    run = sr.inferred_first_run(winter((days, COLD)), SEASON)
    assert (run.date, run.basis, run.unknown_days) == (None, "weekly rule", 0)


def test_fewer_than_three_own_dates_fit_nothing():
    winters = {season: winter((60, COLD), season=season) for season in (2021, 2022, 2023)}
    own = {2021: date(2021, 3, 1), 2022: date(2022, 3, 1)}
    assert sr.fit_setting(winters, own) is None
    assert sr.fit_setting(winters, {}) is None


def test_own_dates_without_weather_do_not_count():
    own = {season: date(season, 3, 1) for season in range(2015, 2024)}
    assert sr.fit_setting({2023: winter((60, COLD), season=2023)}, own) is None


def long_thaw(season, start, first_days):
    """Cold until `start` days after New Year, then thaw days without end."""
    return winter((start, COLD), (first_days + 30, THAW), season=season)


def test_the_setting_is_found_again_from_dates_made_with_it():
    winters = {year: long_thaw(year, 30 + 5 * (year % 7), 10) for year in range(2016, 2026)}
    own = {year: first(weather, 400, year) for year, weather in winters.items()}
    found = sr.fit_setting(winters, own)
    assert found.median_error_days == 0
    assert found.seasons == tuple(range(2016, 2026))
    # Any setting between the seventh and eighth thaw day names the same days: the lowest is kept.
    assert 7 * THAW_DEGREE_HOURS < found.thaw_degree_hours <= 400


def test_one_odd_year_does_not_move_the_median():
    winters = {year: long_thaw(year, 40, 10) for year in (2021, 2022, 2023, 2024)}
    own = {year: first(weather, 300, year) for year, weather in winters.items()}
    own[2024] += timedelta(days=25)
    assert sr.fit_setting(winters, own).median_error_days == 0


def test_a_winter_without_a_first_run_counts_as_a_season_missed():
    winters = {year: winter((100, COLD), season=year) for year in (2021, 2022, 2023)}
    own = {year: date(year, 3, 1) for year in winters}
    assert sr.fit_setting(winters, own).median_error_days == 366


def test_a_winter_must_begin_by_new_year():
    late = winter((30, COLD), lead=0, season=2026)
    with pytest.raises(DomainError, match="2027-01-01"):
        sr.inferred_first_run(late, 2027, setting(100))


@pytest.mark.parametrize("chosen", [None, setting(100)])
def test_members_are_refused(chosen):
    days = [date(2026, 1, 1)]
    many = sr.days_from_extremes(days, np.zeros((2, 1)), np.ones((2, 1)))
    with pytest.raises(DomainError, match="one series"):
        sr.inferred_first_run(many, SEASON, chosen)


@pytest.mark.parametrize("degree_hours", [0, 100, 200, 300, 400])
def test_both_rules_place_the_first_run_of_a_real_winter_in_the_same_week(degree_hours):
    # Whately 2015 (macleish, CC0): a February without a thaw, then a turn in the second week of
    # March. The published rule stands beside ours as the outside opinion.
    hours = read_hours("macleish_whately_2015")
    edges = ft.local_day_edges(hours.index[0].to_pydatetime(), hours.size, EST)
    days = sr.days_from_hours(hours.to_numpy(), edges, fewest_hours=20)
    published = sr.inferred_first_run(days, 2015)
    ours = sr.inferred_first_run(days, 2015, setting(degree_hours))
    # The record begins on 1 January, so its first two days lack the days before them.
    assert (published.unknown_days, ours.unknown_days) == (0, 2)
    assert abs((ours.date - published.date).days) <= 7

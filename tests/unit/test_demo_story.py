"""The invented season: the same every time, and believable where believing matters."""

import random
from datetime import UTC, date, datetime, timedelta

import pytest

from apps.demo import clock
from apps.demo.generator import year
from apps.demo.generator.farm import split

HOME = year.Place("Home Hill", 43.9046, -75.3121, 350.5)
HIGH = year.Place("High Meadow", 43.9302, -75.3417, 579.1)
SEASONS = (2023, 2024, 2025, 2026)


@pytest.mark.parametrize("season", SEASONS)
def test_the_same_season_is_told_the_same_way_twice(season):
    assert year.days(HOME, season) == year.days(HOME, season)


def test_seasons_differ():
    totals = {round(_total(HOME, season), 3) for season in SEASONS}
    assert len(totals) == len(SEASONS)


def _total(place, season):
    return sum(day.litres_per_tap for day in year.days(place, season).values())


@pytest.mark.parametrize("season", SEASONS)
def test_a_season_gives_a_believable_amount(season):
    """Childs 2014 (Cornell) saw 3 to 17 gal a tap without a pump; high vacuum gives more."""
    gallons = _total(HOME, season) / 3.785411784
    assert 10 < gallons < 35


@pytest.mark.parametrize("season", SEASONS)
def test_no_sap_runs_before_the_trees_have_thawed(season):
    early = [d for d in year.days(HOME, season).values() if d.day < date(season, 2, 8)]
    assert early
    assert all(day.litres_per_tap == 0 for day in early)


def test_higher_woodlot_is_colder():
    low, high = year.days(HOME, 2026), year.days(HIGH, 2026)
    assert all(high[day].minimum_c < low[day].minimum_c for day in low)


def test_thaw_without_a_freeze_runs_dry():
    """Warm day after warm day, the store halves: the rule of the story itself."""
    spring = [d for d in year.days(HOME, 2024).values() if d.minimum_c > year.FREEZE_C]
    frozen_before = [d for d in year.days(HOME, 2024).values() if d.minimum_c <= year.FREEZE_C]
    assert max(d.litres_per_tap for d in spring) <= max(d.litres_per_tap for d in frozen_before)


def test_nobody_taps_on_sunday_or_in_deep_cold():
    def fit(day, highest):
        return year.fit_for_tapping(year.Day(day, -20.0, highest, 0.0))

    assert fit(date(2026, 2, 6), -5.0)
    assert not fit(date(2026, 2, 8), -5.0)  # a Sunday
    assert not fit(date(2026, 2, 6), -11.5)


@pytest.mark.parametrize("total", [0, 1, 17, 1900, 2400])
def test_parts_of_a_woodlot_sum_to_its_taps(total):
    parts = split(random.Random(total), total, 80)
    assert sum(parts) == total
    assert min(parts) >= 0


@pytest.mark.parametrize(
    ("passed", "expected"),
    [
        (timedelta(0), datetime(2026, 3, 16, 17, 30, tzinfo=UTC)),
        (timedelta(minutes=7), datetime(2026, 3, 16, 17, 37, tzinfo=UTC)),
        (timedelta(days=40), datetime(2026, 3, 17, 5, 30, tzinfo=UTC)),
        (timedelta(days=-1), datetime(2026, 3, 16, 17, 30, tzinfo=UTC)),
    ],
)
def test_demo_clock_runs_from_its_stop_and_stands_still_after_twelve_hours(passed, expected):
    assert clock.moment("march", passed) == expected


def test_every_stop_has_its_moment():
    assert set(clock.STOPS) == set(clock.DemoClock.Stop)

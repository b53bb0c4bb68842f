"""The rules of the invented season, one by one, and the splits and the weather behind it."""

import random
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.demo.generator import woods_work, year
from apps.demo.generator.farm import split
from apps.demo.weather_story import temperature_c

HOME = year.Place("Home Hill", 43.9046, -75.3121, 350.5)
SEASONS = (2023, 2024, 2025, 2026)
seasons = pytest.mark.parametrize("season", SEASONS)


@seasons
def test_season_runs_from_january_to_april_without_a_gap(season):
    days = list(year.days(HOME, season))
    assert (days[0], days[-1]) == (date(season, 1, 10), date(season, 4, 30))
    assert all(after - before == timedelta(days=1) for before, after in pairwise(days))
    assert len(days) == (112 if season == 2024 else 111)


@seasons
def test_day_never_gives_a_trickle_nor_more_than_its_best(season):
    for day in year.days(HOME, season).values():
        assert day.minimum_c <= day.maximum_c
        assert day.litres_per_tap == 0 or 0.25 < day.litres_per_tap <= 1.3 * 3.0


@seasons
def test_day_that_never_thaws_gives_nothing(season):
    frozen = [day for day in year.days(HOME, season).values() if day.maximum_c <= 0]
    assert frozen
    assert all(day.litres_per_tap == 0 for day in frozen)


@pytest.mark.parametrize(
    ("day", "willing"),
    [
        (date(2026, 1, 20), 0.0),
        (date(2026, 2, 8), 0.0),
        (date(2026, 2, 14), 0.15),
        (date(2026, 2, 20), 0.3),
        (date(2026, 3, 20), 0.9),
        (date(2026, 4, 17), 0.2),
        (date(2026, 4, 25), 0.0),
    ],
)
def test_trees_wake_in_february_and_bud_in_april(day, willing):
    assert year._willing(day) == pytest.approx(willing, abs=0.01)


@pytest.mark.parametrize(
    ("name", "day", "wobble", "brix"),
    [
        # Its own level on 12 March; 0.012 less a day after, 0.004 less a day before.
        ("Beech Ledge", date(2026, 3, 12), 0.0, 2.3),
        ("Beech Ledge", date(2026, 4, 1), 0.0, 2.1),
        ("Beech Ledge", date(2026, 2, 15), 0.0, 2.2),
        ("Beech Ledge", date(2026, 3, 12), 0.2, 2.5),
        ("Tamarack Hollow", date(2026, 3, 12), 0.0, 1.8),
        ("Somewhere else", date(2026, 3, 12), 0.0, 2.2),
        ("Tamarack Hollow", date(2026, 6, 30), 0.0, 1.1),
    ],
)
def test_sugar_is_highest_in_mid_march(name, day, wobble, brix):
    place = year.Place(name, 43.9, -75.3, 300.0)
    assert year.sugar_brix(place, day, wobble) == pytest.approx(brix, abs=0.051)


@pytest.mark.parametrize(
    ("highest_c", "fit"), [(-5.0, True), (-10.9, True), (-11.0, False), (-20.0, False)]
)
def test_tapping_stops_in_deep_cold(highest_c, fit):
    assert year.fit_for_tapping(year.Day(date(2026, 2, 6), -25.0, highest_c, 0.0)) is fit


@given(st.integers(0, 5000), st.integers(1, 400), st.integers(0, 2**32))
def test_split_keeps_the_whole_in_the_parts_asked_for(total, about, seed):
    parts = split(random.Random(seed), total, about)
    assert sum(parts) == total
    assert min(parts) >= 0
    assert len(parts) == max(1, round(total / about))


@pytest.mark.parametrize(
    ("day", "hour_utc"),
    [
        # Five hours behind UTC in winter, four from 8 March 2026 on.
        (date(2026, 3, 7), 22),
        (date(2026, 3, 8), 21),
        (date(2025, 11, 1), 21),
        (date(2025, 11, 2), 22),
    ],
)
def test_story_keeps_the_local_clock_over_its_changes(day, hour_utc):
    assert woods_work.at(day, 17, 30) == datetime(
        day.year, day.month, day.day, hour_utc, 30, tzinfo=UTC
    )


def test_same_seed_gives_the_same_identifiers_and_each_only_once():
    def five(seed):
        rng = random.Random(seed)
        return [woods_work.new_uuid(rng) for _ in range(5)]

    assert five(1) == five(1)
    assert len({*five(1), *five(2)}) == 10
    assert {uuid.version for uuid in five(1)} == {4}


@pytest.mark.parametrize("state", ["tight", "leak_fixed", "leak_left", "frozen"])
def test_vacuum_read_fits_what_was_found(state):
    rng = random.Random(7)
    pairs = [woods_work._readings(rng, state) for _ in range(200)]
    read = [(before, after) for before, after in pairs if before is not None]
    assert bool(read) is (state != "frozen")
    for before, after in read:
        assert before < 29.9 * 3.386389
        # Only a leak that was mended has a reading after it, and that one is higher.
        assert (after is not None) is (state == "leak_fixed")
        assert after is None or after > before


def hour(day, of_day=12):
    moment = datetime(day.year, day.month, day.day, of_day, tzinfo=UTC)
    return np.array([int(moment.timestamp())])


@pytest.mark.parametrize("day", [date(2026, 1, 15), date(2026, 3, 20), date(2024, 2, 29)])
def test_height_and_latitude_cool_by_their_rules(day):
    def air(latitude=43.9, elevation_m=430.0):
        return temperature_c(latitude, -75.3, elevation_m, hour(day))[0]

    # 6.5 C a kilometre is the lapse of ISO 2533 (1975); 0.7 C a degree of latitude is invented.
    assert air() - air(elevation_m=1430.0) == pytest.approx(6.5)
    assert air() - air(latitude=44.9) == pytest.approx(0.7)


@pytest.mark.parametrize("new_year", [2024, 2025, 2026, 2027])
def test_weather_has_no_seam_at_new_year(new_year):
    start = int(datetime(new_year - 1, 12, 31, tzinfo=UTC).timestamp())
    temps = temperature_c(43.9, -75.3, 430.0, start + 3600 * np.arange(48))
    across = abs(temps[24] - temps[23])
    assert across < 2.5
    assert across <= np.abs(np.diff(temps)).max() + 1e-9


@pytest.mark.parametrize("month", range(1, 13))
def test_nights_are_colder_than_afternoons(month):
    start = int(datetime(2026, month, 1, tzinfo=UTC).timestamp())
    temps = temperature_c(43.9, -75.3, 430.0, start + 3600 * np.arange(24 * 28)).reshape(28, 24)
    # 10:00 UTC is about five in the morning there, 19:00 UTC two in the afternoon.
    assert (temps[:, 19] - temps[:, 10]).mean() > 4

"""The invented weather is the same everywhere, and is the season the demo's story tells."""

import subprocess
import sys
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from apps.demo.weather_story import temperature_c, wind_kmh
from apps.domain.freeze_thaw import judge_days

NEW_YORK = ZoneInfo("America/New_York")
PINNED = [1.26, -5.55, -3.88, 3.62]
PINNED_KMH = [9.59, 5.7, 7.95, 11.37]
YEARS = (2023, 2024, 2025, 2026, 2027)


def hours(start, days):
    return int(datetime.combine(start, datetime.min.time(), UTC).timestamp()) + 3600 * np.arange(
        24 * days
    )


def days_from(start, count, elevation_m=430.0):
    temps = temperature_c(43.9, -75.3, elevation_m, hours(start, count + 2))
    begin = datetime.combine(start, datetime.min.time(), UTC)
    return judge_days(temps, begin, NEW_YORK)[1 : count + 1]


def verdicts(days):
    return [day.verdict for day in days]


def test_the_same_question_always_has_the_same_answer():
    asked = hours(date(2026, 3, 1), 3)
    whole = temperature_c(43.9, -75.3, 430.0, asked)
    assert whole[[0, 30, 71]] == pytest.approx(
        temperature_c(43.9, -75.3, 430.0, asked[[0, 30, 71]])
    )
    assert whole.shape == asked.shape


def test_values_are_pinned_so_that_the_demo_never_drifts_unseen():
    pinned = temperature_c(43.9, -75.3, 430.0, hours(date(2026, 3, 16), 1)[::6])
    assert pinned == pytest.approx(PINNED, abs=0.005)


@pytest.mark.parametrize("year", YEARS)
def test_late_january_is_frozen_and_a_thaw_lies_ten_days_ahead(year):
    frozen = days_from(date(year, 1, 25), 9)
    assert verdicts(frozen) == ["no"] * 9
    assert max(day.maximum_c for day in frozen) < 0
    spell = days_from(date(year, 2, 4), 8)
    assert 2 <= verdicts(spell).count("yes") <= 5
    assert min(day.minimum_c for day in days_from(date(year, 2, 14), 3)) < -5


@pytest.mark.parametrize("year", YEARS)
def test_mid_march_freezes_and_thaws_on_most_days(year):
    assert verdicts(days_from(date(year, 3, 10), 21)).count("yes") >= 11


@pytest.mark.parametrize("year", YEARS)
def test_may_is_green(year):
    days = days_from(date(year, 5, 5), 14)
    assert verdicts(days) == ["no"] * 14
    assert max(day.maximum_c for day in days) > 15


def test_each_year_has_weather_of_its_own():
    means = [temperature_c(43.9, -75.3, 430.0, hours(date(y, 3, 1), 10)).mean() for y in YEARS]
    assert len({round(mean, 1) for mean in means}) == len(YEARS)


def test_a_thousand_metres_up_is_six_and_a_half_degrees_colder():
    # ISO 2533 (1975): 6.5 C per km.
    asked = hours(date(2026, 3, 1), 1)
    low, high = (temperature_c(43.9, -75.3, height, asked) for height in (430.0, 1430.0))
    assert low - high == pytest.approx(6.5)


@pytest.mark.parametrize("seam", [date(2025, 12, 31), date(2024, 2, 28), date(2026, 6, 30)])
def test_no_hour_jumps_not_even_where_the_year_turns(seam):
    steps = np.diff(temperature_c(43.9, -75.3, 430.0, hours(seam, 3)))
    assert np.abs(steps).max() < 3


def test_nights_are_colder_than_afternoons():
    temps = temperature_c(43.9, -75.3, 430.0, hours(date(2026, 3, 1), 30)).reshape(30, 24)
    mean_by_utc_hour = temps.mean(axis=0)
    # 75 degrees west is five hours behind UTC: dawn about 11:00Z, mid-afternoon about 19:30Z.
    assert mean_by_utc_hour.argmin() in range(6, 13)
    assert mean_by_utc_hour.argmax() in range(18, 22)


def test_the_module_needs_no_framework():
    code = "import sys, apps.demo.weather_story; sys.exit('django' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def winds(start, days):
    return wind_kmh(-75.3, hours(start, days))


def test_the_wind_is_pinned_too():
    assert winds(date(2026, 3, 16), 1)[::6] == pytest.approx(PINNED_KMH, abs=0.005)


@pytest.mark.parametrize("year", YEARS)
def test_the_wind_of_a_winter_is_believable(year):
    winter = winds(date(year, 1, 1), 120)
    # A breeze on most days (Beaufort 3, 12 to 19 km/h, is the usual), and never a hurricane.
    assert 10 < np.median(winter) < 18
    assert winter.min() >= 0
    assert winter.max() < 75
    assert np.abs(np.diff(winter)).max() < 8


@pytest.mark.parametrize("year", YEARS)
def test_a_gale_blows_on_the_second_of_february_and_on_no_other_day(year):
    by_day = winds(date(year, 1, 1), 120).reshape(120, 24).max(axis=1)
    windy = np.flatnonzero(by_day > 40)
    # 32 days after New Year; its end may reach into the evening before or after.
    assert 32 in windy
    assert set(windy) <= {31, 32, 33}


def test_the_wind_is_liveliest_in_the_early_afternoon():
    by_utc_hour = winds(date(2026, 3, 1), 60).reshape(60, 24).mean(axis=0)
    # 75 degrees west is five hours behind UTC.
    assert by_utc_hour.argmax() in range(17, 22)
    assert by_utc_hour.argmin() in range(5, 10)

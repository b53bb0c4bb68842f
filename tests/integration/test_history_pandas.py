"""Past winters counted again by pandas from the same hours: weeks, days, spells, moved heights.

Winters are made by chance, with hours missing; no tolerance where days are counted.
"""

from datetime import date
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest

from apps.operation.queries import constants
from apps.weather.queries import climate as past
from apps.weather.queries.history import histories
from tests.factories import readings as made
from tests.factories.woods import woodlot

pytestmark = pytest.mark.django_db
ZONES = ["America/New_York", "Europe/Helsinki", "Asia/Tokyo"]
WINTERS = range(2019, 2025)
FREEZE_C, THAW_C = -1.1, 2.2


def winter_by_chance(seed, winter):
    """A cold start, a warm end, a day's swing and noise; one hour in fifty and one day missing."""
    rng = np.random.default_rng([seed, winter])
    hours = made.winter_hours(winter)
    at = np.arange(hours)
    season = -12 + 22 * at / hours
    temps = season + 6 * np.sin(2 * np.pi * at / 24) + rng.normal(0, 3, hours)
    temps[rng.random(hours) < 0.02] = np.nan
    gap = rng.integers(24, hours - 24)
    temps[gap : gap + 24] = np.nan
    # As the store keeps them, so that both countings see the same numbers.
    return np.round(temps, 2)


@pytest.fixture(params=[1, 2])
def stored(request):
    lot = woodlot()
    given = {winter: winter_by_chance(request.param, winter) for winter in WINTERS}
    for winter, temps_c in given.items():
        made.archive_winter(lot, winter, temps_c)
    return lot, given


def days_by_pandas(winter, temps_c, zone):
    """Minimum, maximum and known hours of the local days from December to May, under 20 dropped."""
    start = pd.Timestamp(made.winter_start(winter))
    hours = pd.Series(temps_c, pd.date_range(start, periods=temps_c.size, freq="h"))
    local = hours.tz_convert(zone)
    days = local.groupby(local.index.date).agg(["min", "max", "count"])
    first, last = date(winter - 1, 12, 1), date(winter, 5, 31)
    days = days[(days.index >= first) & (days.index <= last)]
    return days[days["count"] >= 20]


def all_days(given, zone):
    frames = [
        days_by_pandas(winter, temps, zone).assign(winter=winter) for winter, temps in given.items()
    ]
    days = pd.concat(frames)
    return days.assign(yes=(days["min"] <= FREEZE_C) & (days["max"] >= THAW_C))


def climate_of(lot, zone):
    in_use = constants()
    return past.climate(histories([lot], in_use)[lot.pk], in_use, ZoneInfo(zone))


@pytest.mark.parametrize("zone", ZONES)
def test_days_of_each_winter_equal_those_of_pandas(stored, zone):
    lot, given = stored
    days = all_days(given, zone).groupby("winter")["yes"].agg(["sum", "count"])
    shown = {
        row.winter: (row.freeze_thaw_days, row.known_days) for row in climate_of(lot, zone).winters
    }
    assert shown == {
        winter: tuple(row) for winter, row in zip(days.index, days.to_numpy().tolist(), strict=True)
    }


def in_one_year(day):
    year = 2022 if day.month == 12 else 2023
    return date(year, day.month, 28 if (day.month, day.day) == (2, 29) else day.day)


@pytest.mark.parametrize("zone", ZONES)
def test_weeks_over_all_winters_equal_those_of_pandas(stored, zone):
    lot, given = stored
    days = all_days(given, zone)
    # Every date moved into one year without a leap day, 29 February onto the 28th.
    moved = pd.DatetimeIndex([in_one_year(day) for day in days.index])
    week = (moved - pd.Timestamp("2022-12-01")).days // 7
    weeks = days.groupby(np.asarray(week))["yes"].agg(["sum", "count"])
    shown = [(one.freeze_thaw_days, one.known_days) for one in climate_of(lot, zone).weeks]
    assert shown == [tuple(row) for row in weeks.to_numpy().tolist()]


def test_warm_spells_equal_runs_of_warm_days_by_pandas(stored):
    lot, given = stored
    zone = ZONES[0]
    for row in climate_of(lot, zone).winters:
        days = days_by_pandas(row.winter, given[row.winter], zone)
        every = pd.date_range(f"{row.winter - 1}-12-01", f"{row.winter}-05-31").date
        # A day without a verdict is not warm, and so ends a spell.
        warm = (days["max"].reindex(every) >= past.WARM_C).astype(int)
        run = (warm != warm.shift()).cumsum()
        runs = [group.index for _, group in warm.groupby(run) if group.iloc[0]]
        spells = [one for one in runs if len(one) >= 2 and one[0].month in (1, 2)]
        assert row.warm_spells == len(spells), row.winter


@pytest.mark.parametrize("metres", [-300.0, 0.0, 300.0])
def test_hours_are_moved_by_six_and_a_half_degrees_a_kilometre(metres):
    lot = woodlot(elevation_m=500.0)
    given = winter_by_chance(3, 2024)
    made.archive_winter(lot, 2024, given, elevation_used_m=500.0 + metres)
    moved = histories([lot], constants())[lot.pk][2024].temps_c
    known = np.isfinite(given)
    assert (np.isfinite(moved) == known).all()
    # ISO 2533 (1975): 6.5 C per km, so 300 m are 1.95 C. Four stored bytes keep 1e-6.
    assert moved[known] - given[known] == pytest.approx(
        np.full(known.sum(), 0.0065 * metres), abs=1e-5
    )

"""How far the forecast reaches and which working days it rules out."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.domain.tapping import ColdLimits
from apps.domain.units import celsius_from_fahrenheit, fahrenheit_from_celsius, kmh_from_mph
from apps.outlook import reach

ZONE = ZoneInfo("America/New_York")
LIMITS = ColdLimits()  # 10 F, -12.2 C, of air
MONDAY = date(2026, 2, 16)
MIDNIGHT = datetime(2026, 2, 16, 5, 0, tzinfo=UTC)  # of that Monday in New York


def hours(temps_c, *, woodlot="Tamarack Hollow", start_at=MIDNIGHT, wind_kmh=np.nan) -> reach.Hours:
    """`wind_kmh` is one wind for every hour, or a list of as many as there are temperatures."""
    temps = np.array(temps_c, dtype=np.float64)
    return reach.Hours(woodlot, start_at, temps, np.broadcast_to(wind_kmh, temps.shape))


def day(night_c=-20.0, work_c=-20.0) -> list[float]:
    """24 hours: work_c from 8 to 16 local, night_c around it."""
    return [night_c] * 8 + [work_c] * 8 + [night_c] * 8


def judged(temps_c, hours_per_day=6, **fields):
    return reach.work_days(hours(temps_c, **fields), ZONE, hours_per_day, LIMITS)


@pytest.mark.parametrize(
    ("work_c", "out"), [(-20.0, True), (-12.23, True), (-12.22, False), (-5.0, False)]
)
def test_a_day_is_ruled_out_by_its_working_hours_alone(work_c, out):
    (monday,) = judged(day(night_c=-30, work_c=work_c))
    assert (monday.ruled_out, monday.warmest_c, monday.covered) == (out, work_c, True)


@pytest.mark.parametrize(("cold_hours", "out"), [(2, False), (3, True)])
def test_the_hours_left_must_hold_a_days_work(cold_hours, out):
    # Of eight working hours, six are needed.
    temps = day(work_c=-5)
    temps[8 : 8 + cold_hours] = [-20] * cold_hours
    assert judged(temps)[0].ruled_out is out


def test_an_unknown_hour_never_rules_a_day_out():
    temps = day()
    temps[8:14] = [np.nan] * 6
    assert not judged(temps)[0].ruled_out


def test_a_day_with_no_known_hour_is_covered_but_says_nothing():
    (monday,) = judged([np.nan] * 24)
    assert (monday.ruled_out, monday.warmest_c, monday.covered) == (False, None, True)


def test_a_day_cut_short_by_the_end_of_the_series_is_not_reached():
    days = judged(day() + day()[:15])
    assert [one.covered for one in days] == [True, False]
    assert reach.last_day_covered(days) == MONDAY


@pytest.mark.parametrize(("hours_per_day", "out"), [(8, False), (10, True)])
def test_longer_days_of_work_are_judged_over_more_hours(hours_per_day, out):
    # Cold from 16 to 18 local: outside eight hours from 8, inside ten.
    temps = day(night_c=-5, work_c=-5)
    temps[16:18] = [-20, -20]
    assert judged(temps, hours_per_day=hours_per_day)[0].ruled_out is out


def test_working_hours_are_local_across_a_change_of_clocks():
    # On Sunday 8 March 2026 clocks go forward at 2: 8 local is 12:00 UTC.
    start = datetime(2026, 3, 8, 5, 0, tzinfo=UTC)
    temps = np.full(23, -30.0)
    temps[7:15] = 1.0
    (sunday,) = judged(temps, start_at=start)
    assert (sunday.warmest_c, sunday.covered, sunday.ruled_out) == (1.0, True, False)


def test_nothing_is_reached_without_days():
    assert reach.last_day_covered([]) is None
    assert reach.ruled_out([], None) == []


def test_one_workable_woodlot_keeps_the_day_open():
    cold = judged(day() * 2)
    mild = judged(day() + day(work_c=-5), woodlot="Beech Ridge")
    tuesday = MONDAY + timedelta(days=1)
    assert [one.date for one in reach.ruled_out(cold + mild, tuesday)] == [MONDAY]
    assert [one.date for one in reach.ruled_out(cold, tuesday)] == [MONDAY, tuesday]


def test_the_warmest_hour_of_any_woodlot_is_told():
    days = judged(day()) + judged(day(work_c=-15), woodlot="Beech Ridge")
    assert reach.ruled_out(days, MONDAY) == [reach.ColdDay(MONDAY, -15.0)]


def test_days_beyond_the_reach_are_not_ruled_out():
    assert reach.ruled_out(judged(day() * 2), MONDAY) == [reach.ColdDay(MONDAY, -20.0)]


# US National Weather Service wind chill chart (2001): 15 F feels like -11 F at 60 mph and -9 F at
# 45 mph. Over the air limit of 10 F, and on either side of -10 F of wind chill.
FIFTEEN_F_C = celsius_from_fahrenheit(15.0)
STORM_KMH, STRONG_KMH = kmh_from_mph(60.0), kmh_from_mph(45.0)


@pytest.mark.parametrize(
    ("wind_kmh", "out"), [(STORM_KMH, True), (STRONG_KMH, False), (0.0, False), (np.nan, False)]
)
def test_wind_rules_out_a_day_whose_air_alone_could_be_worked(wind_kmh, out):
    (monday,) = judged(day(work_c=FIFTEEN_F_C), wind_kmh=wind_kmh)
    assert (monday.ruled_out, monday.by_wind) == (out, out)


def test_the_mildest_wind_chill_is_told_where_the_wind_decided():
    days = judged(day(work_c=FIFTEEN_F_C), wind_kmh=STORM_KMH)
    (cold,) = reach.ruled_out(days, MONDAY)
    assert cold.warmest_c == pytest.approx(FIFTEEN_F_C)
    assert round(fahrenheit_from_celsius(cold.mildest_c)) == -11


def test_where_the_air_is_cold_enough_the_wind_is_not_blamed():
    days = judged(day(), wind_kmh=STORM_KMH)
    assert [one.by_wind for one in days] == [False]
    assert reach.ruled_out(days, MONDAY) == [reach.ColdDay(MONDAY, -20.0)]


def test_one_woodlot_out_by_wind_and_one_by_air_tell_the_mildest_of_both():
    days = judged(day(work_c=FIFTEEN_F_C), wind_kmh=STORM_KMH)
    days += judged(day(), woodlot="Beech Ridge")
    (cold,) = reach.ruled_out(days, MONDAY)
    assert round(fahrenheit_from_celsius(cold.mildest_c)) == -11


@pytest.mark.parametrize(("known_hours", "out"), [(2, False), (3, True)])
def test_hours_of_unknown_wind_are_judged_by_their_temperature_alone(known_hours, out):
    # Of eight working hours six are needed: those without wind could be worked by their air.
    winds = [np.nan] * 8 + [STORM_KMH] * known_hours + [np.nan] * (16 - known_hours)
    (monday,) = judged(day(work_c=FIFTEEN_F_C), wind_kmh=winds)
    assert (monday.ruled_out, monday.winds_unknown) == (out, 8 - known_hours)


def test_an_hour_without_wind_is_too_cold_by_its_air_all_the_same():
    (monday,) = judged(day())
    assert (monday.ruled_out, monday.by_wind, monday.mildest_c) == (True, False, None)


def test_wind_outside_the_working_hours_counts_for_nothing():
    winds = [STORM_KMH] * 8 + [5.0] * 8 + [STORM_KMH] * 8
    (monday,) = judged(day(work_c=FIFTEEN_F_C), wind_kmh=winds)
    assert not monday.ruled_out


def test_an_hour_without_a_temperature_is_not_one_of_unknown_wind():
    temps = day(work_c=-5)
    temps[8:12] = [np.nan] * 4
    (monday,) = judged(temps)
    assert (monday.hours_known, monday.winds_unknown) == (4, 4)


@pytest.mark.parametrize(
    ("work_c", "wind_kmh", "found"),
    [(-5.0, np.nan, [MONDAY]), (-5.0, 10.0, []), (-20.0, np.nan, [])],
)
def test_days_left_open_without_wind_are_named(work_c, wind_kmh, found):
    days = judged(day(work_c=work_c), wind_kmh=wind_kmh)
    assert reach.judged_without_wind(days, MONDAY) == found


def test_days_without_wind_beyond_the_reach_are_not_named():
    assert reach.judged_without_wind(judged(day(work_c=-5) * 2), MONDAY) == [MONDAY]
    assert reach.judged_without_wind(judged(day(work_c=-5)), None) == []


@given(
    work_c=st.floats(-40, 5),
    wind_kmh=st.floats(0, 200),
    unknown=st.integers(0, 8),
)
def test_learning_the_wind_never_opens_a_day_and_forgetting_it_never_closes_one(
    work_c, wind_kmh, unknown
):
    some = [wind_kmh] * (24 - unknown - 8) + [np.nan] * unknown + [wind_kmh] * 8
    none, part, whole = (
        judged(day(work_c=work_c), wind_kmh=winds)[0].ruled_out
        for winds in (np.nan, some, wind_kmh)
    )
    assert none <= part <= whole

"""How far the forecast reaches and which working days it rules out."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from apps.domain.tapping import ColdLimits
from apps.outlook import reach

ZONE = ZoneInfo("America/New_York")
LIMITS = ColdLimits()  # 10 F, -12.2 C, of air
MONDAY = date(2026, 2, 16)
MIDNIGHT = datetime(2026, 2, 16, 5, 0, tzinfo=UTC)  # of that Monday in New York


def hours(temps_c, *, woodlot="Tamarack Hollow", start_at=MIDNIGHT) -> reach.Hours:
    return reach.Hours(woodlot, start_at, np.array(temps_c, dtype=np.float64))


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

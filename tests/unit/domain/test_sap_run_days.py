"""What a day's temperatures come to for the run rules, from hours or from two extremes.

Sources: the sine between extremes against adaptive sums of that very sine; hours and extremes
against each other on the open record of Whately 2015 (macleish, CC0).
"""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from apps.domain import freeze_thaw as ft
from apps.domain import sap_run as sr
from apps.domain.errors import DomainError, OutOfRange
from tests.unit.domain.test_freeze_thaw_open_data import EST, read_hours

FIRST = date(2026, 3, 1)


def dates(count):
    return [FIRST + timedelta(days=day) for day in range(count)]


def edges(temps_c, zone=UTC):
    return ft.local_day_edges(datetime(2026, 3, 1, tzinfo=UTC), np.shape(temps_c)[-1], zone)


@pytest.mark.parametrize(
    ("low", "high"), [(-5, 5), (-10, 2), (-1, 12), (1, 9), (-8, -1), (0, 6), (-6, 0), (3, 3)]
)
def test_warmth_of_a_sine_equals_its_sum_in_small_steps(low, high):
    # Midpoints of 100,000 steps through one day.
    angle = (np.arange(100_000) + 0.5) / 100_000 * 2 * np.pi
    curve = (low + high) / 2 + (high - low) / 2 * np.sin(angle)
    by_steps = 24 * np.maximum(curve, 0).mean()
    assert sr.sine_thaw_degree_hours(np.array(low), np.array(high)) == pytest.approx(
        by_steps, abs=1e-3
    )


@pytest.mark.parametrize(
    ("low", "high", "degree_hours"),
    [(-5.0, 5.0, 24 * 5 / np.pi), (2.0, 6.0, 96.0), (-6.0, -1.0, 0)],
)
def test_warmth_of_a_sine_by_hand(low, high, degree_hours):
    found = sr.sine_thaw_degree_hours(np.array(low), np.array(high))
    assert found == pytest.approx(degree_hours)


def test_extremes_stand_in_for_the_hours_of_an_open_record():
    hours = read_hours("macleish_whately_2015")
    start = hours.index[0].to_pydatetime()
    days = ft.local_day_edges(start, hours.size, EST)
    whole = sr.days_from_hours(hours.to_numpy(), days, fewest_hours=20)
    curve = sr.sine_thaw_degree_hours(whole.minimum_c, whole.maximum_c)
    spring = [place for place, day in enumerate(whole.dates) if 2 <= day.month <= 4]
    missed = np.abs(curve - whole.thaw_degree_hours)[spring]
    # A day's real curve is no sine; on average over spring it comes within a few degree-hours.
    assert np.nanmean(missed) < 12
    assert np.corrcoef(curve[spring], whole.thaw_degree_hours[spring])[0, 1] > 0.98


def test_a_day_of_hours_by_hand():
    temps = np.array([-4.0] * 12 + [3.0] * 12)
    day = sr.days_from_hours(temps, edges(temps))
    assert day.dates == (FIRST,)
    values = (day.minimum_c[0], day.maximum_c[0], day.mean_c[0], day.thaw_degree_hours[0])
    assert values == (-4.0, 3.0, -0.5, 36.0)


@pytest.mark.parametrize(("missing", "fewest", "known"), [(0, None, True), (1, None, False)])
def test_a_forecast_day_needs_every_hour(missing, fewest, known):
    assert day_is_known(missing, fewest) is known


@pytest.mark.parametrize(("missing", "known"), [(4, True), (5, False)])
def test_a_past_day_may_lack_four_hours(missing, known):
    assert day_is_known(missing, 20) is known


def day_is_known(missing, fewest):
    temps = np.full(24, 1.5)
    temps[:missing] = np.nan
    day = sr.days_from_hours(temps, edges(temps), fewest)
    known = {not np.isnan(values[0]) for values in (day.minimum_c, day.maximum_c, day.mean_c)}
    known.add(not np.isnan(day.thaw_degree_hours[0]))
    assert len(known) == 1
    return known.pop()


def test_a_mean_is_taken_over_the_known_hours_alone():
    temps = np.full(24, 6.0)
    temps[3] = np.nan
    assert sr.days_from_hours(temps, edges(temps), 20).mean_c[0] == pytest.approx(6.0)


def test_members_keep_their_axis():
    temps = np.vstack([np.full(48, 2.0), np.full(48, -2.0)])
    days = sr.days_from_hours(temps, edges(temps))
    assert days.thaw_degree_hours.tolist() == [[48.0, 48.0], [0.0, 0.0]]


@pytest.mark.parametrize(("month", "hours"), [((2026, 3, 8), 23), ((2026, 11, 1), 25)])
def test_a_day_of_a_clock_change_counts_its_own_hours(month, hours):
    zone = ZoneInfo("America/New_York")
    start = datetime(*month, tzinfo=zone).astimezone(UTC)
    temps = np.full(hours, 2.0)
    day = sr.days_from_hours(temps, ft.local_day_edges(start, hours, zone))
    assert day.thaw_degree_hours.tolist() == [2.0 * hours]


def test_no_hours_are_no_days():
    nothing = sr.days_from_hours(np.empty(0), [])
    assert nothing.dates == ()
    assert nothing.mean_c.shape == (0,)


def test_an_extreme_without_its_partner_is_unknown():
    days = sr.days_from_extremes(dates(3), [-4, np.nan, -4], [5, 5, np.nan])
    assert np.isnan(days.minimum_c).tolist() == [False, True, True]
    assert np.isnan(days.thaw_degree_hours).tolist() == [False, True, True]


@pytest.mark.parametrize(
    ("low", "high", "error", "words"),
    [
        (5, 4, DomainError, "minimum_c 5 must not be over maximum_c 4"),
        (-91, 4, OutOfRange, "not -91"),
        (0, 61, OutOfRange, "not 61"),
    ],
)
def test_impossible_extremes_are_refused(low, high, error, words):
    with pytest.raises(error, match=words):
        sr.days_from_extremes(dates(1), [low], [high])


@pytest.mark.parametrize(("low", "high"), [(-90.0, 0.0), (0.0, 60.0), (3.0, 3.0)])
def test_limits_and_a_steady_day_are_taken(low, high):
    days = sr.days_from_extremes(dates(1), [low], [high])
    assert days.mean_c[0] == pytest.approx((low + high) / 2)


def test_a_swing_the_wrong_way_is_named_by_its_own_day():
    with pytest.raises(DomainError, match="minimum_c 9 must not be over maximum_c 8"):
        sr.days_from_extremes(dates(3), [3, 9, 1], [3, 8, 2])


def test_dates_must_follow_each_other():
    with pytest.raises(DomainError, match="not 2026-03-01 then 2026-03-03"):
        sr.days_from_extremes([FIRST, FIRST + timedelta(days=2)], [0, 0], [1, 1])


def test_every_date_needs_its_values():
    with pytest.raises(DomainError, match=r"minimum_c must have 2 days, not \(1,\)"):
        sr.days_from_extremes(dates(2), [0], [1])

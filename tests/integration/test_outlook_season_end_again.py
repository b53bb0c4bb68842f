"""Nights, sugar and sap of the season's end reckoned again by pandas, and the turns of its rules.

It is 16 March 2026, 07:00 in New York; tomorrow is the 17th, as in `test_outlook_season_end`.
"""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
from django.core.cache import cache

from apps.operation.queries import constants
from apps.outlook.season_end import NIGHTS_AHEAD, by_day_chances, season_end
from tests.factories import sugarhouse, weather, woods
from tests.factories.operation import FIXED_NOW, operation
from tests.integration.test_outlook_season_end import (
    FREEZES,
    MIDNIGHT,
    STAYS_WARM,
    end,
    forecast,
    freezing_for,
    row_of,
    sap,
)

pytestmark = pytest.mark.django_db
FREEZE_C = -1.1
HOURS = 24 * 16


@pytest.fixture(autouse=True)
def nothing_kept():
    cache.clear()


@pytest.fixture
def lot(db):
    operation()
    return woods.woodlot()


def by_chance(seed, members=12):
    """Members about freezing, each warm or cold for days on end, in the store's four bytes."""
    rng = np.random.default_rng(seed)
    days = np.repeat(rng.normal(1, 5, (members, HOURS // 24)), 24, axis=1)
    values = days + rng.normal(0, 1.5, (members, HOURS))
    return values.astype(np.float32).astype(np.float64)


def freezes_by_pandas(values, start_at, zone):
    """(days, members): whether each member freezes on each local day, from pandas' calendar."""
    at = pd.date_range(start_at, periods=values.shape[1], freq="h").tz_convert(zone)
    lows = pd.DataFrame(values.T, at).groupby(lambda one: one.date()).min()
    # Limits are compared at hundredths of a degree.
    return lows.round(2) <= FREEZE_C


@pytest.mark.parametrize("seed", range(3))
def test_chances_and_counts_of_nights_agree_with_pandas(lot, seed):
    values = by_chance(seed)
    weather.stored(weather.run(), lot, values, start_at=MIDNIGHT)
    row = row_of(lot)
    froze = freezes_by_pandas(values, MIDNIGHT, "America/New_York").loc[list(row.dates)]
    assert row.chances == pytest.approx(froze.mean(axis=1).tolist())
    counts = froze.sum().sort_values().tolist()
    assert row.nights.middle == counts[len(counts) // 2 - 1]
    assert counts[0] <= row.nights.low <= row.nights.high <= counts[-1]
    likely = froze.mean(axis=1) >= 0.5
    assert row.last_likely == (likely[likely].index.max() if likely.any() else None)


@pytest.mark.parametrize(
    ("zone", "now"),
    [
        # The nights ahead hold the change of the clocks: forward in the north, back in the south.
        ("America/New_York", datetime(2026, 3, 4, 12, tzinfo=UTC)),
        ("Europe/Berlin", datetime(2026, 3, 25, 12, tzinfo=UTC)),
        ("Australia/Hobart", datetime(2026, 4, 1, 12, tzinfo=UTC)),
        ("America/St_Johns", datetime(2026, 3, 4, 12, tzinfo=UTC)),
        ("Asia/Tokyo", datetime(2026, 3, 4, 20, tzinfo=UTC)),
    ],
)
def test_nights_are_those_of_the_local_calendar(lot, zone, now):
    values = by_chance(7)
    start_at = now.replace(hour=0) - timedelta(days=1)
    weather.stored(weather.run(fetched_at=now), lot, values, start_at=start_at)
    (row,) = season_end([lot], constants(), ZoneInfo(zone), now).rows
    froze = freezes_by_pandas(values, start_at, zone)
    today = now.astimezone(ZoneInfo(zone)).date()
    # The last day of the hours is cut short, and a day cut short has no least.
    whole = [day for day in row.dates if day < max(froze.index)]
    assert row.dates[0] == today + timedelta(days=1)
    assert len(whole) >= 10
    ours = dict(zip(row.dates, row.chances, strict=True))
    for day in whole:
        assert ours[day] == pytest.approx(froze.loc[day].mean()), day


def test_a_member_with_a_gap_is_not_one_that_did_not_freeze(lot):
    values = np.array([[hour for day in freezing_for(3) for hour in day]] * 20)
    values[:8, 24 * 2 + 3] = np.nan  # a cold hour of the 18th
    weather.stored(weather.run(), lot, values, start_at=MIDNIGHT)
    row = row_of(lot)
    assert (row.chances[1], row.nights.members, row.nights.low) == (1.0, 12, 3)


def test_models_weigh_alike_and_the_shorter_ends_the_count(lot):
    # Thirty members that freeze every night and ten that never do, known for five days.
    forecast(lot, [[FREEZES] * 15] * 30, model="long")
    forecast(lot, [[STAYS_WARM] * 6] * 10, model="short")
    row = row_of(lot)
    assert (row.nights.days, row.nights.low, row.nights.high) == (5, 0, 5)
    assert row.chances[:5] == [0.5] * 5


def test_nine_members_are_too_few_to_state_a_chance_of(lot):
    forecast(lot, [freezing_for(4)] * 9)
    row = row_of(lot)
    assert set(row.chances) == {None}
    # The count stands all the same: it claims no percentage.
    assert (row.nights.middle, row.nights.members) == (4, 9)


def test_woodlots_without_chances_draw_no_line(lot):
    other = woods.woodlot("North ridge")
    forecast(lot, [freezing_for(4)] * 12)
    found = by_day_chances(end(lot, other).rows)
    assert list(found) == [lot.name]
    assert len(found[lot.name]) == NIGHTS_AHEAD


def test_heights_that_cannot_be_leave_the_woodlot_without_nights(lot):
    """A cell said to lie kilometres over the woodlot: moved down it is hotter than any air."""
    run = weather.run()
    hours = [hour for day in freezing_for(4) for hour in day]
    weather.stored(run, lot, hours, start_at=MIDNIGHT, elevation_used_m=9000.0)
    other = woods.woodlot("North ridge")
    weather.stored(run, other, hours, start_at=MIDNIGHT)
    spoilt, good = end(lot, other).rows
    assert (spoilt.nights, good.nights.middle) == (None, 4)


@pytest.mark.parametrize(
    ("at", "day"),
    [
        # 03:30 UTC is the evening before in New York; 04:00 is its midnight.
        (datetime(2026, 3, 12, 3, 30, tzinfo=UTC), date(2026, 3, 11)),
        (datetime(2026, 3, 12, 4, 0, tzinfo=UTC), date(2026, 3, 12)),
        # Before the clocks went forward on the 8th midnight was 05:00 UTC.
        (datetime(2026, 3, 7, 4, 30, tzinfo=UTC), date(2026, 3, 6)),
    ],
)
def test_a_load_belongs_to_its_local_day(lot, at, day):
    sugarhouse.sap_in(lot, volume_litres=500.0, brix=2.0, at=at)
    (sugar,) = row_of(lot).sugar
    assert sugar.date == day


@pytest.mark.parametrize("seed", range(3))
def test_sugar_by_day_is_pandas_mean_by_volume(lot, seed):
    rng = np.random.default_rng(seed)
    loads = pd.DataFrame(
        {
            "day": rng.integers(1, 16, 25),
            "litres": np.round(rng.uniform(50, 2000, 25), 1),
            "brix": np.round(rng.uniform(1, 3.5, 25), 2),
        }
    )
    for one in loads.itertuples():
        sap(lot, one.day, litres=one.litres, brix=one.brix)
    loads["product"] = loads.litres * loads.brix
    theirs = loads.groupby("day")[["litres", "product"]].sum()
    ours = {one.date.day: (one.litres, one.brix) for one in row_of(lot).sugar}
    assert set(ours) == set(theirs.index)
    for day, row in theirs.iterrows():
        assert ours[day] == pytest.approx((row.litres, row["product"] / row.litres))
    week = theirs[theirs.index >= 9]
    assert end(lot).brix.middle == pytest.approx(week["product"].sum() / week.litres.sum())


def test_equal_days_of_sugar_keep_the_range_in_order(lot):
    # Three thirds of 2.3: the mean by volume may come out a last bit over the most.
    for day in (12, 13, 14):
        sap(lot, day, litres=333.3, brix=2.3)
    brix = end(lot).brix
    assert brix.low <= brix.middle <= brix.high
    assert (brix.low, brix.high) == (2.3, 2.3)


def test_todays_sap_is_not_all_in_and_counts_for_no_day(lot):
    sap(lot, 15, litres=700.0)
    sugarhouse.sap_in(lot, volume_litres=9000.0, brix=2.0, at=FIXED_NOW)
    found = end(lot).sap.litres
    assert (found.low, found.high) == (0.0, 700.0)
    assert found.middle == pytest.approx(100.0)


@pytest.mark.parametrize(("day", "counted"), [(8, False), (9, True), (15, True)])
def test_a_week_is_the_seven_days_before_today(lot, day, counted):
    sap(lot, day)
    found = end(lot)
    assert (found.sap is not None) is counted
    assert (found.brix is not None) is counted


def test_without_nights_no_date_is_likely_and_no_chance_is_stated(lot):
    row = row_of(lot)
    assert (row.nights, row.last_likely, set(row.chances)) == (None, None, {None})

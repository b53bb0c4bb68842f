"""The season's end reckoned a second time, the slow way, on values drawn by chance."""

import math
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.domain.season_end import (
    Span,
    day_worth,
    nights_left,
    sugar_trend,
    warmth_since_freeze,
    weighted_quantiles,
)

FREEZE_C = -1.1
NAN = math.nan
temperature = st.one_of(st.just(NAN), st.floats(-20, 20).map(lambda value: round(value, 2)))
member = st.lists(temperature, min_size=4, max_size=4)
model = st.lists(member, min_size=1, max_size=6).map(lambda rows: np.array(rows, dtype=float))
models = st.lists(model, min_size=1, max_size=3)


def froze(value):
    return value <= FREEZE_C


def slow_chance(found, day):
    """The mean over models of the share of members, each model alike."""
    shares = []
    for members in found:
        known = [row[day] for row in members if not math.isnan(row[day])]
        if known:
            shares.append(sum(map(froze, known)) / len(known))
    return sum(shares) / len(shares) if shares else NAN


def slow_reach(members):
    """Days from the first that some member knows without a gap."""
    gaps = [
        next((at for at, one in enumerate(row) if math.isnan(one)), len(row)) for row in members
    ]
    return max(gaps)


@given(models)
def test_chances_are_the_mean_of_the_models_shares(found):
    left = nights_left(found, FREEZE_C)
    if left is not None:
        slow = [slow_chance(found, day) for day in range(4)]
        assert left.chances.tolist() == pytest.approx(slow, nan_ok=True)


@given(models)
def test_nights_are_counted_as_far_as_the_shortest_model(found):
    reach = min(slow_reach(members.tolist()) for members in found)
    left = nights_left(found, FREEZE_C)
    assert (left.days if left else 0) == reach


@given(models)
def test_low_middle_and_high_are_counts_that_members_have(found):
    left = nights_left(found, FREEZE_C)
    if left is None:
        return
    counts = set()
    for members in found:
        for row in members[:, : left.days].tolist():
            if not any(map(math.isnan, row)):
                counts.add(sum(map(froze, row)))
    assert left.low <= left.middle <= left.high
    assert {left.low, left.middle, left.high} <= counts


@given(models)
def test_twice_the_members_of_a_model_change_nothing(found):
    left, again = (
        nights_left(rows, FREEZE_C) for rows in (found, [np.repeat(found[0], 2, 0), *found[1:]])
    )
    assert (left is None) == (again is None)
    if left is not None:
        assert (left.low, left.middle, left.high) == (again.low, again.middle, again.high)


@given(st.lists(temperature, min_size=1, max_size=60))
def test_warmth_agrees_with_counting_hour_by_hour(hours):
    total, count, unknown, seen = 0.0, 0, 0, False
    for hour in hours:
        if not math.isnan(hour) and froze(hour):
            total, count, unknown, seen = 0.0, 0, 0, True
            continue
        count += 1
        unknown += math.isnan(hour)
        total += 0.0 if math.isnan(hour) else max(0.0, hour)
    warmth = warmth_since_freeze(np.array(hours), FREEZE_C)
    if warmth is None:
        assert all(map(math.isnan, hours))
        return
    assert (warmth.froze, warmth.hours, warmth.unknown_hours) == (seen, count, unknown)
    assert warmth.thaw_degree_hours == pytest.approx(total)


sugars = st.lists(st.floats(1, 4), min_size=5, max_size=20)


@given(sugars, st.integers(-100_000, 100_000))
def test_when_the_days_are_counted_from_changes_no_slope(brix, shift):
    days = np.arange(len(brix))
    here, there = sugar_trend(days, brix), sugar_trend(days + shift, brix)
    assert there.slope == pytest.approx(here.slope, abs=1e-9)
    assert there.low == pytest.approx(here.low, abs=1e-6)


@given(sugars, st.floats(0, 0.2))
def test_a_steady_rise_is_added_to_the_slope(brix, rise):
    days = np.arange(len(brix))
    here, there = sugar_trend(days, brix), sugar_trend(days, np.array(brix) + rise * days)
    assert there.slope == pytest.approx(here.slope + rise, abs=1e-9)
    assert there.high - there.low == pytest.approx(here.high - here.low, abs=1e-6)


def test_the_interval_holds_the_true_slope_as_often_as_it_says():
    # 2,000 times twelve days of noise about a slope of -0.03 Brix a day; 95 %, give or take
    # 3.3 spreads of sqrt(0.95 x 0.05 / 2000) = 1.6 %.
    rng, days = np.random.default_rng(7), np.arange(12)
    drawn = 2.2 - 0.03 * days + rng.normal(0, 0.1, (2000, 12))
    trends = [sugar_trend(days, brix) for brix in drawn]
    held = np.mean([trend.low <= -0.03 <= trend.high for trend in trends])
    assert held == pytest.approx(0.95, abs=0.016)


litres = st.floats(0, 100_000)
spans = st.tuples(litres, litres, litres).map(lambda three: Span(*sorted(three)))
prices = st.integers(1, 5000).map(lambda cents: Decimal(cents) / 100 + 1)
costs = st.integers(0, 500_000).map(lambda cents: Decimal(cents) / 100)
SUGAR = Span(1.8, 2.0, 2.2)


def worth(sap, price, cost, sugar=SUGAR):
    return day_worth(sap, sugar, price_per_litre=price, day_cost=cost)


@given(spans, prices, costs)
def test_more_sap_and_sugar_never_make_a_day_worth_less(sap, price, cost):
    found = worth(sap, price, cost)
    assert found.low <= found.middle <= found.high
    assert found.low >= -cost


@given(spans, prices, costs, st.integers(0, 1000))
def test_a_dearer_day_is_worth_that_much_less(sap, price, cost, more):
    before, after = worth(sap, price, cost), worth(sap, price, cost + more)
    assert before.middle - after.middle == more


@given(prices, st.integers(100, 500_000).map(lambda cents: Decimal(cents) / 100))
def test_at_break_even_the_day_just_pays(price, cost):
    sap = worth(Span(0, 0, 0), price, cost).break_even_litres
    level = worth(Span(sap, sap, sap), price, cost, Span(2.0, 2.0, 2.0))
    assert abs(level.middle) <= Decimal("0.01")


@given(st.lists(st.tuples(st.floats(-10, 10), st.integers(1, 5)), min_size=1, max_size=20))
def test_a_weight_of_three_is_three_of_the_same(pairs):
    values = np.array([value for value, _ in pairs])
    counts = np.array([count for _, count in pairs])
    shares = (0.1, 0.25, 0.5, 0.75, 0.9)
    spread = np.repeat(values, counts)
    ours = weighted_quantiles(values, counts.astype(float), shares)
    assert ours == weighted_quantiles(spread, np.ones(spread.size), shares)

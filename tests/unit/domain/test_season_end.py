"""Nights left, warmth, sugar and a day's worth, each against hand arithmetic or a library.

Quantiles of t: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2 (two-sided 95 %), and
scipy.stats.t. The line and its interval: scipy.stats.linregress.
"""

import math
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import stats

from apps.domain.errors import DomainError, OutOfRange
from apps.domain.season_end import (
    Span,
    day_worth,
    nights_left,
    student_t,
    sugar_trend,
    warmth_since_freeze,
    weighted_quantiles,
)

NAN = math.nan
FREEZE_C = -1.1
# A member that freezes on its first n of five days.
FREEZING = [[-5.0] * nights + [3.0] * (5 - nights) for nights in range(6)]


def minima(*members):
    return np.array(members, dtype=np.float64)


def test_one_forecast_counts_its_nights_and_has_no_spread():
    left = nights_left([minima([-5, -1.1, -1.09, 2, NAN])], FREEZE_C)
    # -1.1 is a freeze, -1.09 is none, and the fifth day is not known.
    assert (left.low, left.middle, left.high, left.days, left.members) == (2, 2, 2, 4, 1)
    assert left.chances[:4].tolist() == [1, 1, 0, 0]
    assert math.isnan(left.chances[4])


def test_eight_members_in_ten_lie_between_low_and_high():
    # Ten members: one of no night, eight of two nights, one of five.
    left = nights_left([minima(FREEZING[0], *[FREEZING[2]] * 8, FREEZING[5])], FREEZE_C)
    assert (left.low, left.middle, left.high) == (0, 2, 2)
    # First day: all but one freeze; third day: the last one alone.
    assert left.chances.tolist() == pytest.approx([0.9, 0.9, 0.1, 0.1, 0.1])


def test_a_model_of_many_members_weighs_no_more_than_one_of_few():
    many, few = minima(*[FREEZING[5]] * 30), minima(FREEZING[0])
    left = nights_left([many, few], FREEZE_C)
    assert left.chances.tolist() == [0.5] * 5
    assert (left.low, left.high, left.members) == (0, 5, 31)


def test_nights_are_counted_only_as_far_as_every_model_reaches():
    short = minima([-5, -5, NAN, NAN, NAN])
    left = nights_left([minima(FREEZING[5]), short], FREEZE_C)
    assert (left.days, left.middle) == (2, 2)
    # The chances go on with whichever model still knows.
    assert left.chances.tolist() == [1] * 5


def test_a_member_with_a_gap_is_not_counted_as_one_that_did_not_freeze():
    left = nights_left([minima(FREEZING[5], [-5, NAN, -5, -5, -5])], FREEZE_C)
    assert (left.low, left.high, left.members) == (5, 5, 1)


@pytest.mark.parametrize("models", [[], [minima([NAN, -5])], [minima([NAN] * 3), minima([1] * 3)]])
def test_nothing_known_from_the_first_day_leaves_the_nights_unknown(models):
    assert nights_left(models, FREEZE_C) is None


@pytest.mark.parametrize(
    ("values", "weights", "shares", "expected"),
    [
        ([3, 1, 2], [1, 1, 1], [0, 1 / 3, 0.5, 1], [1, 1, 2, 3]),
        ([3, 1, 2], [8, 1, 1], [0.1, 0.2, 0.5], [1, 2, 3]),
        ([NAN, 7], [5, 1], [0.1, 0.9], [7, 7]),
    ],
)
def test_quantiles_are_values_that_are_there(values, weights, shares, expected):
    found = weighted_quantiles(np.array(values, float), np.array(weights, float), shares)
    assert found == expected


def test_all_unknown_has_no_quantile():
    assert all(math.isnan(q) for q in weighted_quantiles(minima(NAN), minima(1), [0.1, 0.9]))


@given(st.lists(st.floats(-50, 50), min_size=1, max_size=40), st.floats(0.01, 1))
def test_equal_weights_give_the_inverse_of_the_distribution(values, share):
    # numpy's own "inverted_cdf", Hyndman and Fan (1996), definition 1.
    data = np.array(values)
    (ours,) = weighted_quantiles(data, np.ones(data.size), [share])
    near = [np.quantile(data, q, method="inverted_cdf") for q in (share - 1e-9, share)]
    assert ours in near


@pytest.mark.parametrize(
    ("temps", "expected"),
    [
        # After the -2: 1 + 3 + 0 degree-hours in three hours.
        ([-2, 1, 3, -1], (True, 3, 0, 4.0)),
        ([4, -1.1], (True, 0, 0, 0.0)),
        # -1.09 is no freeze: 2 + 0 + 5 over the whole record.
        ([2, -1.09, 5], (False, 3, 0, 7.0)),
        ([-2, 1, NAN, 3], (True, 3, 1, 4.0)),
    ],
)
def test_warmth_is_added_up_after_the_last_freeze(temps, expected):
    warmth = warmth_since_freeze(np.array(temps, dtype=float), FREEZE_C)
    found = (warmth.froze, warmth.hours, warmth.unknown_hours, warmth.thaw_degree_hours)
    assert found == expected


@pytest.mark.parametrize(
    ("temps", "at_least"), [([-2.0, 1.0], False), ([-2.0, NAN], True), ([1.0], True)]
)
def test_a_gap_or_no_freeze_at_all_makes_it_a_lower_bound(temps, at_least):
    assert warmth_since_freeze(np.array(temps), FREEZE_C).at_least is at_least


def test_no_known_hour_means_no_word_on_warmth():
    assert warmth_since_freeze(np.array([NAN, NAN]), FREEZE_C) is None


def test_the_slope_is_that_of_the_paper():
    # Days 0 to 4, Brix 2.2, 2.1, 2.1, 1.9, 1.7: Sxy = -1.2, Sxx = 10, slope -0.12 a day.
    # Fitted 2.24 2.12 2.00 1.88 1.76, residuals -0.04 -0.02 0.10 0.02 -0.06: squares 0.016,
    # error sqrt(0.016 / 3 / 10) = 0.02309, t of 3 degrees 3.182: +- 0.0735.
    trend = sugar_trend(range(5), [2.2, 2.1, 2.1, 1.9, 1.7])
    assert trend.slope == pytest.approx(-0.12)
    assert (trend.low, trend.high) == pytest.approx((-0.1935, -0.0465), abs=1e-4)
    assert (trend.days, trend.words) == (5, "falling")


@pytest.mark.parametrize(
    ("brix", "words"),
    [
        ([2.0, 2.1, 2.2, 2.3, 2.4], "rising"),
        ([2.0, 2.4, 1.9, 2.3, 2.1], "no clear trend"),
        ([2.4, 2.3, 2.2, 2.1, 2.0], "falling"),
    ],
)
def test_a_trend_is_named_only_where_its_interval_is_clear_of_level(brix, words):
    assert sugar_trend(range(5), brix).words == words


@given(st.lists(st.floats(1, 4), min_size=5, max_size=30))
def test_slope_and_interval_agree_with_scipy(brix):
    # A level line leaves the library without an error of the slope.
    assume(np.ptp(brix) > 1e-3)
    days = np.arange(len(brix)) * 1.5
    ours, theirs = sugar_trend(days, brix), stats.linregress(days, brix)
    reach = stats.t.ppf(0.975, len(brix) - 2) * theirs.stderr
    assert ours.slope == pytest.approx(theirs.slope, abs=1e-9)
    assert ours.high - ours.slope == pytest.approx(reach, abs=1e-6)


@pytest.mark.parametrize("days", [range(4), [3, 3, 3, 3, 3]])
def test_under_five_days_of_sugar_show_no_trend(days):
    assert sugar_trend(days, [2.0] * len(days)) is None


@pytest.mark.parametrize(
    ("degrees", "table"),
    [(1, 12.706), (2, 4.303), (3, 3.182), (5, 2.571), (10, 2.228), (30, 2.042), (100, 1.984)],
)
def test_t_is_that_of_the_nist_table(degrees, table):
    assert student_t(0.95, degrees) == pytest.approx(table, abs=5e-4)


@given(st.floats(0.5, 0.999), st.integers(1, 400))
def test_t_agrees_with_scipy(share, degrees):
    expected = stats.t.ppf((1 + share) / 2, degrees)
    assert student_t(share, degrees) == pytest.approx(expected, rel=1e-9)


# At 2.0 Brix the Jones rule gives 87.1 / 2 - 0.32 = 43.23 of sap to one of syrup.
SAP = Span(0, 4323, 8646)
SUGAR = Span(2.0, 2.0, 2.0)
PRICE, COST = Decimal("10.00"), Decimal("300")


def test_a_day_is_worth_its_syrup_less_its_cost():
    worth = day_worth(SAP, SUGAR, price_per_litre=PRICE, day_cost=COST)
    # 0, 100 and 200 L of syrup at 10.00, less 300.
    assert (worth.low, worth.middle, worth.high) == (-300, 700, 1700)
    assert worth.syrup_litres.middle == pytest.approx(100)
    # 30 L of syrup pay the 300: 30 x 43.23 L of sap.
    assert worth.break_even_litres == pytest.approx(1296.9)


def test_thin_sugar_goes_with_little_sap_at_the_low_end():
    worth = day_worth(SAP, Span(1.0, 2.0, 2.0), price_per_litre=PRICE, day_cost=COST)
    assert worth.low == -300
    low = day_worth(Span(4323, 4323, 4323), Span(1.0, 2.0, 2.0), price_per_litre=PRICE, day_cost=0)
    # 87.1 / 1 - 0.32 = 86.78: 49.82 L at 10.00.
    assert low.low == Decimal("498.16")


def test_a_density_without_a_published_rule_goes_by_mass_balance():
    worth = day_worth(SAP, SUGAR, price_per_litre=PRICE, day_cost=COST, syrup_brix=67.0)
    # Kept sugar: 1.3288 x 67 of syrup over 1.0060 x 2 of sap is 44.25 to one, with the densities
    # of `sugar`, which are checked against ICUMSA there.
    assert worth.syrup_litres.middle == pytest.approx(4323 / 44.25, rel=1e-3)


@pytest.mark.parametrize(
    ("sap", "words"),
    [
        (Span(0, 4323, 8646), "may go either way"),
        (Span(4323, 4323, 8646), "pays over the whole range"),
        (Span(0, 100, 1000), "costs over the whole range"),
    ],
)
def test_the_words_follow_both_ends(sap, words):
    assert day_worth(sap, SUGAR, price_per_litre=PRICE, day_cost=COST).words == words


def _worth(sap=SAP, brix=SUGAR, price=PRICE, cost=COST):
    return day_worth(sap, brix, price_per_litre=price, day_cost=cost)


@pytest.mark.parametrize(
    ("call", "value"),
    [
        (lambda: nights_left([minima([1])], 40.1), 40.1),
        (lambda: weighted_quantiles(minima(1), minima(1), [1.1]), 1.1),
        (lambda: warmth_since_freeze(minima(61), FREEZE_C), 61),
        (lambda: sugar_trend(range(5), [0.4] * 5), 0.4),
        (lambda: sugar_trend(range(5), [41] * 5), 41),
        (lambda: student_t(0.4, 3), 0.4),
        (lambda: student_t(0.95, 0), 0),
        (lambda: _worth(sap=Span(-1, 0, 1)), -1),
        (lambda: _worth(sap=Span(0, 0, 2e7)), 2e7),
        (lambda: _worth(brix=Span(0.4, 1, 2)), 0.4),
        (lambda: _worth(brix=Span(1, 2, 41)), 41),
        (lambda: _worth(price=Decimal(0)), 0),
        (lambda: _worth(cost=Decimal(-1)), -1),
    ],
)
def test_an_impossible_value_is_named(call, value):
    with pytest.raises(OutOfRange) as refusal:
        call()
    assert refusal.value.value == value


@pytest.mark.parametrize(
    "call",
    [
        lambda: nights_left([np.array([1.0])], FREEZE_C),
        lambda: weighted_quantiles(minima(1, 2), minima(1), [0.5]),
        lambda: warmth_since_freeze(minima([1, 2]), FREEZE_C),
        lambda: sugar_trend([1, 2], [2.0]),
        lambda: Span(2, 1, 3),
    ],
)
def test_an_impossible_shape_is_refused(call):
    with pytest.raises(DomainError):
        call()

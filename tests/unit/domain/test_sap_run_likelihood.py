"""The likelihood of a run on a day: what raises it, what it never says, how members are pooled.

Source: the stored fit, by its own formula worked by hand; the fit itself against the open record
is in test_sap_run_skill.py, the arithmetic of fitting in test_sap_run_fit.py.
"""

import math
from datetime import date, timedelta

import numpy as np
import pytest

from apps.domain import sap_run as sr
from apps.domain.errors import DomainError, OutOfRange
from apps.domain.sap_run.likelihood import WHATELY_2013_2014, edges

FIRST = date(2026, 3, 1)


def days(low, high):
    dates = [FIRST + timedelta(days=day) for day in range(np.shape(low)[-1])]
    return sr.days_from_extremes(dates, low, high)


def chance(low, high):
    """The likelihood of the last day."""
    return float(sr.run_probability(days(low, high))[..., -1])


def test_a_day_by_hand():
    # Two sines of -5 to 5 C: 24 x 5 / pi degree-hours each; lowest of three days -6 C.
    thaw, lowest = 2 * 24 * 5 / math.pi, -6.0
    low_slope = WHATELY_2013_2014.slopes[1]
    score = WHATELY_2013_2014.intercept + WHATELY_2013_2014.slopes[0] * math.log(1 + thaw)
    expected = 1 / (1 + math.exp(-(score + low_slope * lowest)))
    assert chance([-6, -5, -5], [-1, 5, 5]) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("case", "low", "high", "word"),
    [
        ("a mild freeze and a good thaw", [-4, -3, -3], [4, 7, 8], "high"),
        ("the second warm day after deep cold", [-18, -10, -3], [-4, 6, 8], "low"),
        (
            "the first warm day after deep cold: the trees are frozen",
            [-20, -19, -15],
            [-8, -7, 6],
            "low",
        ),
        ("frozen through", [-9, -8, -7], [-3, -2, -1], "low"),
        ("no freeze for three days", [3, 4, 5], [12, 14, 15], "low"),
    ],
)
def test_weather_told_in_words(case, low, high, word):
    assert sr.words(chance(low, high)) == word, case


@pytest.mark.parametrize("gap", range(3))
@pytest.mark.parametrize("which", ["low", "high"])
def test_an_unknown_day_among_the_three_leaves_it_unknown(gap, which):
    extremes = {"low": [-5.0, -4.0, -3.0], "high": [4.0, 5.0, 6.0]}
    extremes[which][gap] = math.nan
    assert math.isnan(chance(extremes["low"], extremes["high"]))


def test_the_first_two_days_of_a_series_are_unknown():
    found = sr.run_probability(days([-4] * 4, [6] * 4))
    assert np.isnan(found).tolist() == [True, True, False, False]


@pytest.mark.parametrize("length", [0, 1, 2])
def test_a_series_too_short_is_all_unknown(length):
    assert np.isnan(sr.run_probability(days([-4.0] * length, [6.0] * length))).all()


def test_more_warmth_never_lowers_it():
    highs = np.linspace(-2, 20, 40)
    found = [chance([-6, -5, -4], [1, high, high]) for high in highs]
    assert np.diff(found).min() >= 0


def test_a_colder_night_three_days_ago_never_raises_it():
    lows = np.linspace(-1, -25, 40)
    found = [chance([low, -1, -1], [0, 6, 6]) for low in lows]
    assert np.diff(found).max() <= 0


@pytest.mark.parametrize(
    ("thaw", "lowest", "share"),
    [(0, -5, 0), (6, -5, 0.5), (12, -5, 1), (200, 0, 1), (200, 1, 0.5), (200, 2, 0), (200, 9, 0)],
)
def test_without_a_freeze_or_a_thaw_nothing_runs(thaw, lowest, share):
    assert edges(np.array(float(thaw)), np.array(float(lowest))) == pytest.approx(share)


@pytest.mark.parametrize(
    ("probability", "word"),
    [
        (0, "low"),
        (0.333, "low"),
        (1 / 3, "medium"),
        (0.666, "medium"),
        (2 / 3, "high"),
        (1, "high"),
    ],
)
def test_words_change_at_one_and_two_in_three(probability, word):
    assert sr.words(probability) == word


@pytest.mark.parametrize("probability", [-0.01, 1.01, math.nan])
def test_words_refuse_what_is_no_probability(probability):
    with pytest.raises(OutOfRange, match=r"^probability must be between 0 and 1"):
        sr.words(probability)


def test_members_are_averaged_and_models_weigh_the_same():
    large, small = np.array([[0.2], [0.4], [0.6], [0.8]]), np.array([[0.9]])
    (day,) = sr.over_members([large, small])
    assert day.probability == pytest.approx((0.5 + 0.9) / 2)
    assert (day.members, day.models) == (5, 2)


def test_an_unknown_member_is_left_out_and_an_unknown_model_is_not_heard():
    with_gap, silent = np.array([[0.2], [np.nan]]), np.array([[np.nan]])
    (day,) = sr.over_members([with_gap, silent])
    assert (day.probability, day.members, day.models) == (0.2, 1, 1)


def test_no_member_known_is_unknown():
    (day,) = sr.over_members([np.full((12, 1), np.nan)])
    assert (day.probability, day.percentage) == (None, None)
    assert (day.members, day.models) == (0, 0)


@pytest.mark.parametrize(("members", "shown"), [(1, None), (9, None), (10, 0.5), (51, 0.5)])
def test_a_percentage_rests_on_ten_members(members, shown):
    (day,) = sr.over_members([np.full((members, 1), 0.5)])
    assert day.probability == 0.5
    assert day.percentage == shown


def test_no_models_are_no_days():
    assert sr.over_members([]) == []


def test_models_must_cover_the_same_days():
    with pytest.raises(DomainError, match=r"same days, not \[2, 3\]"):
        sr.over_members([np.zeros((1, 2)), np.zeros((1, 3))])


def test_members_side_by_side_are_judged_like_one_alone():
    low, high = np.array([[-5, -4, -3], [-15, -9, -8]]), np.array([[3, 6, 6], [-2, 1, 4]])
    together = sr.run_probability(days(low, high))[:, -1]
    alone = [chance(one, other) for one, other in zip(low, high, strict=True)]
    assert together == pytest.approx(alone)

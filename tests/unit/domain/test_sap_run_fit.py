"""The logistic fit against what is known of it: the score equations, a saturated table, a limit.

Sources: the score equations X'(y - p) = ridge x slope of a penalised likelihood (le Cessie and van
Houwelingen 1992), checked on the result; a two-by-two table, whose log odds ratio is exact
(Agresti, Categorical Data Analysis, section 3.1, from memory).
"""

import math
from datetime import date, timedelta

import numpy as np
import pytest

from apps.domain import sap_run as sr
from apps.domain.errors import DomainError, OutOfRange
from apps.domain.sap_run.logistic import Logistic, fit_logistic, sigmoid


def table(a, b, c, d):
    """a runs and b none where x is 1, c runs and d none where it is 0."""
    x = np.array([1.0] * (a + b) + [0.0] * (c + d))[:, None]
    return x, np.array([1] * a + [0] * b + [1] * c + [0] * d)


def test_a_two_by_two_table_gives_its_log_odds_ratio():
    found = fit_logistic(*table(30, 10, 12, 28), ridge=1e-6)
    assert found.slopes[0] == pytest.approx(math.log((30 * 28) / (10 * 12)), abs=1e-5)
    assert found.intercept == pytest.approx(math.log(12 / 28), abs=1e-5)


@pytest.mark.parametrize("ridge", [0.1, 1.0, 10.0])
def test_the_score_equations_hold(ridge):
    rng = np.random.default_rng(7)
    x = rng.normal(3, 2, (200, 2))
    y = rng.random(200) < sigmoid(x @ [0.8, -0.5] - 1)
    found = fit_logistic(x, y, ridge)
    missed, spread = y - found.probability(x), x.std(axis=0)
    assert missed.sum() == pytest.approx(0, abs=1e-6)
    scaled = (x - x.mean(axis=0)) / spread
    assert scaled.T @ missed == pytest.approx(ridge * np.array(found.slopes) * spread, abs=1e-6)


def test_truth_drawn_from_a_curve_is_found_again():
    rng = np.random.default_rng(11)
    x = rng.normal(0, 1, (50_000, 2))
    y = rng.random(50_000) < sigmoid(x @ [1.2, -0.7] + 0.4)
    found = fit_logistic(x, y)
    assert (found.intercept, *found.slopes) == pytest.approx((0.4, 1.2, -0.7), abs=0.05)


def test_a_clean_split_stays_finite_under_a_ridge():
    found = fit_logistic(np.arange(20.0)[:, None], np.arange(20) >= 10)
    assert 0 < found.slopes[0] < 10


def test_units_of_a_feature_do_not_matter():
    x, y = table(30, 10, 12, 28)
    small, large = fit_logistic(x, y), fit_logistic(1000 * x, y)
    assert large.probability(1000 * x) == pytest.approx(small.probability(x))


@pytest.mark.parametrize(("score", "chance"), [(0, 0.5), (800, 1.0), (-800, 0.0)])
def test_the_curve_bears_any_score(score, chance):
    assert sigmoid(np.array(float(score))) == chance


def test_an_unknown_feature_gives_an_unknown_chance():
    assert math.isnan(Logistic(0.1, (0.2, 0.3)).probability(np.array([1.0, np.nan])))


@pytest.mark.parametrize(
    ("features", "outcomes", "words"),
    [
        ([[1.0], [2.0]], [0, 0], "both runs and days without"),
        ([[1.0], [2.0]], [1, 1], "both runs and days without"),
        ([[1.0], [1.0]], [0, 1], "must vary"),
        ([[np.nan], [1.0]], [0, 1], "must be known"),
        ([[1.0], [2.0]], [0, 0.5], "outcomes 0 or 1"),
        ([[1.0], [2.0]], [0, 1, 1], "days by features"),
        ([1.0, 2.0], [0, 1], "days by features"),
    ],
)
def test_what_cannot_be_fitted_is_refused(features, outcomes, words):
    with pytest.raises(DomainError, match=words):
        fit_logistic(np.array(features), outcomes)


@pytest.mark.parametrize("ridge", [0, 1e6 + 1])
def test_a_ridge_of_nothing_or_beyond_sense_is_refused(ridge):
    with pytest.raises(OutOfRange, match=r"^ridge must be between 1e-06 and 1e\+06"):
        fit_logistic(*table(3, 1, 1, 3), ridge=ridge)


def test_the_usual_ridge_is_one():
    assert fit_logistic(*table(30, 10, 12, 28)) == fit_logistic(*table(30, 10, 12, 28), ridge=1.0)


def winter(rng, days=120):
    """Chance-made days with runs drawn from a curve of our own."""
    low = rng.normal(-5, 5, days)
    dates = [date(2026, 1, 1) + timedelta(days=day) for day in range(days)]
    return sr.days_from_extremes(dates, low, low + rng.uniform(4, 14, days))


def test_seasons_are_fitted_together_and_days_left_out_do_not_count():
    rng = np.random.default_rng(3)
    winters = [winter(rng), winter(rng)]
    runs = [np.where(rng.random(120) < sr.run_probability(one), 1.0, 0.0) for one in winters]
    whole = sr.fit_run_probability(winters, runs)
    # The first two days have no days before them: whatever is said of them changes nothing.
    runs[0][:2] = 1.0
    assert sr.fit_run_probability(winters, runs) == whole
    runs[0][50:60] = np.nan
    assert sr.fit_run_probability(winters, runs) != whole


def test_runs_and_days_must_be_as_many():
    one = winter(np.random.default_rng(1))
    with pytest.raises(DomainError, match="runs must have 120 days, not 119"):
        sr.fit_run_probability([one], [np.zeros(119)])

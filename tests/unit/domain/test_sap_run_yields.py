"""Litres per tap and day fitted to an operation's own sap, on records made by hand and by chance.

Sources: ratio and shrinkage worked by hand from the formulas named in the module (DerSimonian and
Laird 1986; Efron and Morris 1973); the rest are recoveries of a truth the records were made from.
"""

import numpy as np
import pytest

from apps.domain import sap_run as sr
from apps.domain.errors import OutOfRange
from apps.domain.sap_run.yields import _rates, _Table


def records(rates, *, seasons=(2023, 2024, 2025), days=25, noise=0.3, seed=1, driven=True):
    """Chance-made days of woodlots with the given litres per tap on a sure run day."""
    rng = np.random.default_rng(seed)
    rows = []
    for season in seasons:
        for woodlot, rate in rates.items():
            for likelihood in rng.uniform(0, 1, days):
                drive = likelihood if driven else 1.0
                litres = max(0.0, rate * drive + noise * np.sqrt(drive) * rng.normal())
                rows.append(sr.DayYield(woodlot, season, float(likelihood), float(litres)))
    return rows


@pytest.mark.parametrize(
    ("seasons", "days", "lacking"),
    [((2025,), 40, (1, 40)), ((2024, 2025), 14, (2, 28)), ((), 0, (0, 0))],
)
def test_too_few_records_offer_nothing_and_say_how_many_are_needed(seasons, days, lacking):
    found = sr.fit_yields(records({1: 3.0}, seasons=seasons, days=days))
    assert (found.seasons, found.days) == lacking
    assert (found.seasons_needed, found.days_needed) == (2, 30)


def test_two_seasons_and_thirty_days_are_enough():
    assert isinstance(sr.fit_yields(records({1: 3.0}, seasons=(2024, 2025), days=15)), sr.YieldFit)


def test_the_rates_are_found_again():
    fit = sr.fit_yields(records({1: 2.0, 2: 4.0, 3: 6.0}, days=80))
    assert fit.rule == "likelihood"
    found = [fit.rates[lot].litres_per_tap for lot in (1, 2, 3)]
    assert found == pytest.approx([2, 4, 6], rel=0.05)


def table(rows):
    return _Table(*(np.array(column) for column in zip(*rows, strict=True)))


def test_a_rate_and_its_shrinkage_by_hand():
    # Woodlot 1: 2 + 4 over likelihoods 1 + 1 = 3; woodlot 2: 7 + 9 over 2 = 8.
    rows = [(1, 2024, 1.0, 2.0), (1, 2025, 1.0, 4.0), (2, 2024, 1.0, 7.0), (2, 2025, 1.0, 9.0)]
    rates, operation = _rates(table(rows), "likelihood")
    assert operation.litres_per_tap == pytest.approx(22 / 4)
    # Scatter (1+1+1+1)/2 = 2, so weights 1 and 1, centre 5.5, Q = 12.5; spread (12.5-1)/(2-1).
    share = 11.5 / (11.5 + 2 / 2)
    assert rates[1].own_share == pytest.approx(share)
    assert rates[1].litres_per_tap == pytest.approx(share * 3 + (1 - share) * 5.5)
    assert rates[2].litres_per_tap == pytest.approx(share * 8 + (1 - share) * 5.5)


def test_unequal_likelihoods_by_hand():
    # Woodlot 1: 4 L over 1.5 = 2.667; woodlot 2: 17 L over 2.5 = 6.8. Scatter: 0.889 + 0.444 and
    # 0.64 + 0.64 + 5.12 over 5 - 2 = 2.578; weights 0.582 and 0.970, centre 5.25, Q = 6.213;
    # spread (6.213 - 1) / (1.552 - 0.824) = 7.167.
    rows = [(1, 2024, 0.5, 2.0), (1, 2025, 1.0, 2.0)]
    rows += [(2, 2024, 1.0, 6.0), (2, 2025, 1.0, 6.0), (2, 2025, 0.5, 5.0)]
    rates, operation = _rates(table(rows), "likelihood")
    assert (operation.litres_per_tap, operation.own_share) == (21 / 4, 0.0)
    assert rates[1].own_share == pytest.approx(7.167 / (7.167 + 2.578 / 1.5), abs=1e-3)
    assert rates[2].own_share == pytest.approx(7.167 / (7.167 + 2.578 / 2.5), abs=1e-3)
    assert (rates[1].days, rates[2].days, operation.days) == (2, 3, 5)


def test_a_woodlot_with_few_records_is_drawn_toward_the_operation():
    many = records({1: 3.0, 2: 3.5, 3: 2.5}, days=60, noise=0.8)
    few = [sr.DayYield(4, 2025, 0.9, 9.0), sr.DayYield(4, 2025, 0.8, 8.5)]
    fit = sr.fit_yields(many + few)
    own = (9.0 + 8.5) / 1.7
    assert fit.rates[4].own_share < fit.rates[1].own_share
    assert fit.operation.litres_per_tap < fit.rates[4].litres_per_tap < own


def mean_own_share(rates):
    fits = [sr.fit_yields(records(rates, noise=0.9, seed=seed)) for seed in range(20)]
    return np.mean([rate.own_share for fit in fits for rate in fit.rates.values()])


def test_woodlots_alike_lean_on_the_operation_and_unlike_ones_on_themselves():
    assert mean_own_share({1: 3.0, 2: 3.0, 3: 3.0}) < 0.4
    assert mean_own_share({1: 1.5, 2: 3.0, 3: 5.0}) > 0.9


def test_a_woodlot_never_seen_gets_the_operations_rate():
    fit = sr.fit_yields(records({1: 2.0, 2: 4.0}))
    stated = fit.expected(99, 0.5)
    assert stated.rate == fit.operation
    assert stated.litres_per_tap == pytest.approx(0.5 * fit.operation.litres_per_tap)


def test_one_woodlot_alone_is_the_operation():
    fit = sr.fit_yields(records({7: 3.0}))
    assert fit.rates[7].litres_per_tap == pytest.approx(fit.operation.litres_per_tap)


def test_where_the_likelihood_tells_nothing_the_average_day_is_used():
    fit = sr.fit_yields(records({1: 3.0, 2: 3.2}, driven=False))
    assert fit.rule == "average day"
    assert fit.skill.likelihood_miss > fit.skill.average_day_miss
    low, high = fit.expected(1, 0.05), fit.expected(1, 0.95)
    assert low.litres_per_tap == high.litres_per_tap == pytest.approx(3.0, abs=0.15)


def test_skill_is_measured_on_seasons_the_fit_did_not_see():
    # Each season has a rate of its own, so a season stated by the other is missed by their
    # difference; a fit that saw both would miss by half of it.
    flat = [sr.DayYield(1, season, 1.0, litres) for season, litres in ((2024, 2.0), (2025, 6.0))]
    fit = sr.fit_yields([row for row in flat for _ in range(20)])
    assert fit.skill.average_day_miss == pytest.approx(4.0)
    assert (fit.skill.days, fit.skill.seasons) == (40, 2)


def test_each_season_is_stated_by_all_the_others():
    # Seasons of 0, 3 and 6 L: stated 4.5, 3 and 1.5 by the mean of the other two.
    seasons = ((2023, 0.0), (2024, 3.0), (2025, 6.0))
    fit = sr.fit_yields(
        [sr.DayYield(1, y, 1.0, litres) for y, litres in seasons for _ in range(10)]
    )
    assert fit.skill.average_day_miss == pytest.approx((2 * 4.5**2 / 3) ** 0.5)
    # One woodlot, one rate: the misses are -4.5, 0 and 4.5 about a mean of 3.
    stated = fit.expected(1, 1.0)
    assert (stated.low, stated.high) == (0.0, pytest.approx(7.5))


def test_a_tie_goes_to_the_simple_rule():
    assert (
        sr.fit_yields([sr.DayYield(1, y, 1.0, 3.0) for y in (2024, 2025) for _ in range(20)]).rule
        == "average day"
    )


@pytest.mark.parametrize("likelihood", [0.3, 0.6, 0.95])
def test_the_interval_holds_eight_days_in_ten_of_a_season_to_come(likelihood):
    fit = sr.fit_yields(records({1: 3.0, 2: 4.0}, days=150, noise=0.4))
    rng = np.random.default_rng(8)
    came = np.maximum(0, 3.0 * likelihood + 0.4 * np.sqrt(likelihood) * rng.normal(size=4000))
    stated = fit.expected(1, likelihood)
    inside = ((came >= stated.low) & (came <= stated.high)).mean()
    assert inside == pytest.approx(0.8, abs=0.06)


def test_an_interval_is_never_under_nothing_and_holds_its_middle():
    fit = sr.fit_yields(records({1: 2.0}, noise=2.0))
    for likelihood in np.linspace(0, 1, 21):
        stated = fit.expected(1, float(likelihood))
        assert 0 <= stated.low <= stated.litres_per_tap <= stated.high


def test_sap_on_a_day_called_impossible_does_not_weigh_without_bound():
    rows = records({1: 3.0}, days=40)
    odd = [sr.DayYield(1, 2025, 0.0, 2.0)]
    before, after = sr.fit_yields(rows), sr.fit_yields(rows + odd)
    assert after.operation.litres_per_tap == pytest.approx(
        before.operation.litres_per_tap, rel=0.05
    )


@pytest.mark.parametrize(
    ("likelihood", "litres", "words"),
    [
        (1.1, 1.0, "^likelihood must be between 0 and 1"),
        (-0.1, 1.0, "^likelihood must be between 0 and 1"),
        (np.nan, 1.0, "^likelihood must be between 0 and 1"),
        (0.5, -1.0, "^litres_per_tap must be between 0 and 100"),
        (0.5, 100.5, "^litres_per_tap must be between 0 and 100"),
    ],
)
def test_an_impossible_record_is_refused(likelihood, litres, words):
    with pytest.raises(OutOfRange, match=words):
        sr.DayYield(1, 2025, likelihood, litres)


def test_an_impossible_likelihood_is_refused():
    with pytest.raises(OutOfRange, match=r"^likelihood must be"):
        sr.fit_yields(records({1: 3.0})).expected(1, 1.2)

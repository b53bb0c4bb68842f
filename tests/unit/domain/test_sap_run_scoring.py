"""Scores of stated probabilities, by hand and against pandas' ranks.

Sources: Brier (1950), Mon. Wea. Rev. 78:1, perfect 0, always wrong 1; AUC equals the rank-sum
statistic over the product of the counts (Hanley and McNeil 1982), computed here with pandas.
"""

import math

import numpy as np
import pandas as pd
import pytest

from apps.domain.errors import DomainError, OutOfRange
from apps.domain.sap_run import scoring


@pytest.mark.parametrize(
    ("stated", "came", "score"),
    [
        ([1, 0], [1, 0], 0.0),
        ([0, 1], [1, 0], 1.0),
        ([0.5, 0.5], [1, 0], 0.25),
        ([0.7, 0.2, 0.9], [1, 0, 0], (0.09 + 0.04 + 0.81) / 3),
        ([0.7, math.nan, 0.9], [1, 0, math.nan], 0.09),
    ],
)
def test_brier_score_by_hand(stated, came, score):
    assert scoring.brier(stated, came) == pytest.approx(score)


@pytest.mark.parametrize(
    ("scores", "came", "area"),
    [
        ([1, 2, 3, 4], [0, 0, 1, 1], 1.0),
        ([4, 3, 2, 1], [0, 0, 1, 1], 0.0),
        ([1, 1, 1, 1], [0, 1, 0, 1], 0.5),
        ([1, 3, 2, 4], [0, 0, 1, 1], 0.75),
        ([1, 3, 2, 4, math.nan], [0, 0, 1, 1, 1], 0.75),
    ],
)
def test_area_by_hand(scores, came, area):
    assert scoring.auc(scores, came) == pytest.approx(area)


@pytest.mark.parametrize("seed", range(5))
def test_area_equals_the_rank_sum(seed):
    rng = np.random.default_rng(seed)
    scores, came = np.round(rng.random(80), 1), rng.random(80) < 0.3
    hits, misses = came.sum(), (~came).sum()
    ranks = pd.Series(scores).rank()
    expected = (ranks[came].sum() - hits * (hits + 1) / 2) / (hits * misses)
    assert scoring.auc(scores, came) == pytest.approx(expected)


def test_what_has_no_answer_is_not_a_number():
    assert math.isnan(scoring.brier([], []))
    assert math.isnan(scoring.auc([0.1, 0.2], [1, 1]))
    assert math.isnan(scoring.auc([0.1, 0.2], [0, 0]))


@pytest.mark.parametrize(
    ("stated", "came", "error", "words"),
    [
        ([1.2], [1], OutOfRange, "^probabilities must be between 0 and 1, not 1.2"),
        ([0.2], [2], DomainError, "^outcomes must be 0, 1 or unknown"),
        ([0.2, 0.3], [1], DomainError, "^outcomes must have 2 days, not 1"),
    ],
)
def test_impossible_pairs_are_refused(stated, came, error, words):
    with pytest.raises(error, match=words):
        scoring.brier(stated, came)


def test_scores_need_as_many_outcomes():
    with pytest.raises(DomainError, match="must have 2 days, not 1"):
        scoring.auc([0.1, 0.2], [1])


@pytest.mark.parametrize(
    ("probability", "place"), [(0, 0), (0.0999, 0), (0.1, 1), (0.3, 3), (0.7, 7), (0.95, 9), (1, 9)]
)
def test_each_probability_falls_in_its_tenth(probability, place):
    counts = [tenth.count for tenth in scoring.reliability([probability], [1])]
    assert counts == [int(at == place) for at in range(10)]


def test_a_tenth_by_hand():
    tenth = scoring.reliability([0.52, 0.58, 0.55, 0.55], [1, 0, 1, 1])[5]
    assert (tenth.count, tenth.came) == (4, 0.75)
    assert tenth.stated == pytest.approx(0.55)
    assert (tenth.low, tenth.high, tenth.within) == (0.5, 0.6, True)


def test_an_empty_tenth_says_nothing():
    tenth = scoring.reliability([], [])[0]
    assert (tenth.count, tenth.stated, tenth.came, tenth.within) == (0, None, None, None)


@pytest.mark.parametrize(
    ("hits", "within"), [(300, True), (252, True), (251, False), (348, True), (349, False)]
)
def test_a_share_beyond_its_band_is_called_out(hits, within):
    # 1,000 days at 0.3: spread sqrt(210) = 14.49, so 3.3 spreads and half a day are 48.3 days.
    came = np.arange(1000) < hits
    assert scoring.reliability(np.full(1000, 0.3), came)[3].within is within


@pytest.mark.parametrize("came", [0.2, 0.4])
def test_the_limits_of_a_band_lie_within_it(came):
    tenth = scoring.Tenth(0.3, 0.4, 10, 0.3, came, band_low=0.2, band_high=0.4)
    assert tenth.within is True


@pytest.mark.parametrize(("stated", "band"), [(0.02, (0.0, 0.1)), (0.98, (0.9, 1.0))])
def test_a_band_ends_with_the_chances_there_are(stated, band):
    tenth = scoring.reliability([stated] * 4, [1] * 4)[int(stated * 10)]
    assert 0 <= tenth.band_low <= tenth.band_high <= 1
    assert (tenth.low, tenth.high) == pytest.approx(band)


def test_blocks_follow_the_calendar_and_hold_every_day_once():
    blocks = scoring.day_blocks([0, 1, 6, 7, 13, 14, 400], 7)
    assert [block.tolist() for block in blocks] == [[0, 1, 2], [3, 4], [5], [6]]


@pytest.mark.parametrize("days", [0, 367])
def test_blocks_of_no_days_or_over_a_year_are_refused(days):
    with pytest.raises(OutOfRange, match=r"^days must be between 1 and 366"):
        scoring.day_blocks([1, 2], days)


def test_a_block_may_be_one_day():
    assert [block.tolist() for block in scoring.day_blocks([4, 9], 1)] == [[0], [1]]


@pytest.mark.parametrize("share", [0.49, 1.0])
def test_an_interval_of_next_to_nothing_or_of_everything_is_refused(share):
    with pytest.raises(OutOfRange, match=r"^share must be between 0\.5 and 0\.999"):
        scoring.block_bootstrap(lambda _: 1.0, [np.array([0])], share=share)


def test_a_bootstrap_of_a_mean_spreads_as_theory_says():
    values = np.random.default_rng(5).normal(10, 2, 400)
    blocks = [np.array([at]) for at in range(400)]
    found = scoring.block_bootstrap(lambda at: float(values[at].mean()), blocks)
    # 95 % of a mean of 400: 1.96 x 2 / 20 either way, the sample's own spread a little off 2.
    assert found.value == pytest.approx(values.mean())
    assert found.high - found.low == pytest.approx(2 * 1.96 * values.std() / 20, rel=0.1)
    # Both tails are cut alike.
    assert found.high + found.low == pytest.approx(2 * found.value, abs=0.02)
    assert found.draws == 2000


def test_days_alike_in_blocks_widen_the_interval():
    values = np.repeat(np.random.default_rng(5).normal(10, 2, 40), 10)
    score = lambda at: float(values[at].mean())  # noqa: E731
    apart = scoring.block_bootstrap(score, [np.array([at]) for at in range(400)])
    blocks = scoring.block_bootstrap(score, scoring.day_blocks(range(400), 10))
    assert blocks.high - blocks.low > 2 * (apart.high - apart.low)


def test_draws_without_a_score_are_not_counted():
    came = np.array([1.0, 0.0])
    found = scoring.block_bootstrap(
        lambda at: scoring.auc(came[at], came[at]), [np.array([0]), np.array([1])], draws=400
    )
    # Half of all draws of two take the same block twice.
    assert 150 < found.draws < 250
    assert (found.value, found.low) == (1.0, 1.0)


def test_the_same_seed_draws_the_same():
    values = np.random.default_rng(9).normal(0, 1, 100)
    blocks = scoring.day_blocks(range(100), 4)
    once, again, other = (
        scoring.block_bootstrap(lambda at: float(values[at].mean()), blocks, seed=seed)
        for seed in (1, 1, 2)
    )
    assert once == again
    assert once != other


@pytest.mark.parametrize(
    ("blocks", "score"), [([], 1.0), ([np.array([0])], math.nan)], ids=["no block", "no score"]
)
def test_a_bootstrap_of_nothing_is_refused(blocks, score):
    with pytest.raises(DomainError):
        scoring.block_bootstrap(lambda _: score, blocks)


@pytest.mark.parametrize("seed", range(4))
def test_sums_of_blocks_drawn_give_what_drawing_the_days_gives(seed):
    rng = np.random.default_rng(seed)
    values, weights = rng.normal(0, 1, 90), rng.integers(0, 3, 90)
    blocks = scoring.day_blocks(range(90), 7)
    long_way = scoring.block_bootstrap(
        lambda at: values[at].sum() / weights[at].sum(), blocks, seed=seed
    )
    totals = scoring.block_totals(np.column_stack([values, weights]), blocks)
    drawn = scoring.drawn_totals(totals, seed=seed)
    middle = scoring.middle_of(drawn[:, 0] / drawn[:, 1])
    assert middle == pytest.approx((long_way.low, long_way.high))


def test_totals_of_blocks_by_hand():
    totals = scoring.block_totals([[1, 10], [2, 20], [4, 40]], scoring.day_blocks([0, 1, 7], 7))
    assert totals.tolist() == [[3, 30], [4, 40]]


def test_draws_of_one_block_are_that_block():
    assert scoring.drawn_totals([[3.0, 1.0]], draws=4).tolist() == [[3, 1]] * 4


def test_no_block_cannot_be_drawn():
    with pytest.raises(DomainError, match=r"^totals must hold at least one block"):
        scoring.drawn_totals(np.empty((0, 2)))


def test_the_middle_of_draws_leaves_out_those_without_a_score():
    # Of nought to a hundred the middle half lies between a quarter and three quarters.
    values = [*range(101), math.nan]
    assert scoring.middle_of(values, 0.5) == (25, 75)
    assert scoring.middle_of([math.nan, math.nan]) is None


@pytest.mark.parametrize("share", [0.49, 1.0])
def test_a_middle_of_next_to_nothing_or_of_everything_is_refused(share):
    with pytest.raises(OutOfRange, match=r"^share must be between 0\.5 and 0\.999"):
        scoring.middle_of([1.0], share)


def test_a_day_spoken_of_many_times_widens_the_band_as_one_day():
    # Four days of 0.5, each said ten times: 3.3 x sqrt(4 x 0.25) and half a day, over four.
    stated, came = [0.5] * 40, [1, 0, 1, 0] * 10
    once = scoring.reliability(stated[:4], came[:4])[5]
    many = scoring.reliability(stated, came, [0, 1, 2, 3] * 10)[5]
    apart = scoring.reliability(stated, came)[5]
    assert (many.count, many.band_low, many.band_high) == (40, once.band_low, once.band_high)
    # Forty days of their own: (3.3 x sqrt(10) + 0.5) / 40 either way.
    assert apart.band_low == pytest.approx(0.5 - 0.2734, abs=1e-4)


def test_days_of_unknown_ones_are_left_out_of_the_band():
    known = scoring.reliability([0.5, 0.5], [1, 0], [0, 1])[5]
    more = scoring.reliability([0.5, 0.5, 0.5], [1, 0, math.nan], [0, 1, 2])[5]
    assert (more.count, more.band_low) == (2, known.band_low)


def test_each_statement_needs_its_day():
    with pytest.raises(DomainError, match=r"^day_numbers must have 2 days, not 1"):
        scoring.reliability([0.1, 0.2], [0, 1], [4])

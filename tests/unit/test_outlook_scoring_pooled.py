"""Woodlots taken together: no more is claimed than the days they share allow.

The draws are reckoned again with scipy's bootstrap over the sums of the weeks, and how often a
span holds the truth is counted on weather drawn with spells (an autoregression, stated below).
"""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from scipy import stats

from apps.domain.sap_run.scoring import block_bootstrap, day_blocks
from apps.outlook.scoring import (
    BLOCK_DAYS,
    FEWEST_BLOCKS,
    FEWEST_DAYS,
    by_lead,
    miss,
    woodlot_days,
)
from apps.outlook.scoring_tenths import tenths
from tests.unit.test_outlook_scoring import FIRST, only, pair, pairs

WEEKS = 12
SEEDS = range(3)


def season(seed, days=WEEKS * BLOCK_DAYS):
    """One woodlot's days with errors, chances and outcomes by chance, none of them unknown."""
    rng = np.random.default_rng(seed)
    return [
        pair(
            day,
            stated_minimum_c=float(rng.normal(-4, 2)),
            probability=float(rng.random()),
            came=bool(rng.random() < 0.4),
        )
        for day in range(days)
    ]


def in_woodlots(rows, woodlots):
    return [replace(row, woodlot_id=lot) for row in rows for lot in range(woodlots)]


@pytest.mark.parametrize("woodlots", [2, 5])
@pytest.mark.parametrize("seed", SEEDS)
def test_the_same_days_in_more_woodlots_change_no_score_and_no_span(seed, woodlots):
    one, many = only(season(seed)), only(in_woodlots(season(seed), woodlots))
    assert many.days == one.days
    assert many.woodlot_days == woodlots * one.days
    for part in ("low", "high", "chances"):
        ours, theirs = vars(getattr(many, part)), vars(getattr(one, part))
        for name in ours.keys() - {"woodlot_days"}:
            assert ours[name] == pytest.approx(theirs[name])
    assert many.calls.hit_share == one.calls.hit_share
    assert many.calls.hit_span == pytest.approx(one.calls.hit_span)
    assert many.calls.false_span == pytest.approx(one.calls.false_span)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_same_days_in_more_woodlots_make_no_band_of_luck_narrower(seed):
    one, many = tenths(season(seed)), tenths(in_woodlots(season(seed), 4))
    for ours, theirs in zip(many, one, strict=True):
        assert (ours.count, ours.days) == (4 * theirs.count, theirs.days)
        assert (ours.band_low, ours.band_high) == pytest.approx((theirs.band_low, theirs.band_high))
        assert ours.as_said == theirs.as_said


def test_ten_woodlot_days_of_one_night_are_not_ten_days():
    rows = in_woodlots([pair(0), pair(1)], FEWEST_DAYS)
    score = only(rows)
    assert (score.low.days, score.low.woodlot_days, score.low.bias_c) == (2, 20, None)
    assert (score.calls.enough, score.chances.brier) == (False, None)


def test_a_woodlots_day_counts_once_whatever_the_leads():
    rows = [pair(0, lead_days=lead, woodlot_id=lot) for lead in (1, 2, 3) for lot in (1, 2)]
    assert woodlot_days(rows) == 2


@pytest.mark.parametrize(("weeks", "spanned"), [(FEWEST_BLOCKS - 1, False), (FEWEST_BLOCKS, True)])
def test_no_span_is_given_of_a_few_weeks(weeks, spanned):
    # From a day on which a block of the calendar begins.
    start = -FIRST.toordinal() % BLOCK_DAYS
    score = only(pairs(weeks * BLOCK_DAYS, start, probability=0.5))
    assert score.low.bias_c == 1.0
    for span in (score.low.bias_span_c, score.calls.hit_span, score.chances.brier_span):
        assert (span is not None) is spanned


def test_a_share_of_nothing_has_no_span():
    calls = only(pairs(60, verdict="no", came=False)).calls
    assert (calls.hit_share, calls.hit_span, calls.false_span) == (None, None, None)


@pytest.mark.parametrize("days", [42, 60, 120])
def test_all_hit_is_not_certain_to_be_hit_again(days):
    """The rule of three against the exact bound: 0.95 that a share over it would have missed."""
    calls = only(in_woodlots(pairs(days), 3)).calls
    exact = stats.binomtest(0, days).proportion_ci(0.90, method="exact").high
    assert (calls.hit_share, calls.hit_span.high) == (1.0, 1.0)
    assert 1 - calls.hit_span.low == pytest.approx(exact, rel=0.05)
    # None of them false: the same from the other end.
    assert (calls.false_share, calls.false_span.low) == (0.0, 0.0)
    assert calls.false_span.high == pytest.approx(exact, rel=0.05)


def test_all_hit_on_a_few_of_many_days_rests_on_those_few():
    # Of 60 days four came, and all four were called: three in four is no bound to speak of.
    rows = pairs(56, verdict="no", came=False) + pairs(4, 56)
    assert only(rows).calls.hit_span == (pytest.approx(0.25), 1.0)


def weekly_sums(rows, values):
    weeks = day_blocks([row.date.toordinal() for row in rows], BLOCK_DAYS)
    return [np.asarray(values)[week].sum() for week in weeks], [len(week) for week in weeks]


@pytest.mark.parametrize("seed", SEEDS)
def test_spans_agree_with_scipy_drawing_the_same_weeks(seed):
    rows = season(seed)
    sums, counts = weekly_sums(rows, [(row.probability - row.came) ** 2 for row in rows])
    theirs = stats.bootstrap(
        (sums, counts),
        lambda part, whole, axis: part.sum(axis=axis) / whole.sum(axis=axis),
        paired=True,
        vectorized=True,
        n_resamples=20_000,
        method="percentile",
        rng=np.random.default_rng(seed),
    ).confidence_interval
    ours = only(rows).chances.brier_span
    # 2,000 draws leave the ends of a span a twentieth of its width to play.
    play = 0.05 * (theirs.high - theirs.low)
    assert (ours.low, ours.high) == pytest.approx((theirs.low, theirs.high), abs=play)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_gain_is_drawn_with_its_own_base_rate_each_time(seed):
    """The long way: every draw's days put together and scored anew."""
    rows = season(seed)
    stated = np.array([row.probability for row in rows])
    came = np.array([row.came for row in rows], dtype=float)

    def gain(at):
        return ((stated[at] - came[at]) ** 2).mean() - came[at].mean() * (1 - came[at].mean())

    blocks = day_blocks([row.date.toordinal() for row in rows], BLOCK_DAYS)
    long_way = block_bootstrap(gain, blocks)
    assert only(rows).chances.gain_span == pytest.approx((long_way.low, long_way.high))


def widths(seed):
    """Of the pooled span, and of one that draws five woodlots of a night apart."""
    rows = in_woodlots(season(seed), 5)
    errors = [row.stated_minimum_c - row.minimum_c for row in rows]
    naive = stats.bootstrap((errors,), np.mean, method="percentile", rng=0).confidence_interval
    ours = only(rows).low.bias_span_c
    return ours.high - ours.low, naive.high - naive.low


def test_woodlots_drawn_one_by_one_would_claim_more():
    # The root of five, 2.2, less what twelve weeks of few draws leave out.
    ratios = [ours / naive for ours, naive in map(widths, range(8))]
    assert 1.7 < np.mean(ratios) < 2.4


TRUE_BIAS_C = 0.5


def spelled(rng, keeps, weeks=24):
    """Errors of days that hang together: each keeps a share of the day before's."""
    noise = rng.normal(0, 1, weeks * BLOCK_DAYS)
    errors = np.empty_like(noise)
    errors[0] = noise[0] / np.sqrt(1 - keeps**2)
    for day in range(1, noise.size):
        errors[day] = keeps * errors[day - 1] + noise[day]
    return [
        pair(day, stated_minimum_c=-5 + TRUE_BIAS_C + error) for day, error in enumerate(errors)
    ]


@pytest.mark.parametrize(("keeps", "least"), [(0.0, 0.87), (0.3, 0.84), (0.6, 0.80)])
def test_spans_hold_the_truth_nearly_as_often_as_they_say(keeps, least):
    """95 % is said; blocks of a week cut long spells in two and 24 weeks are not many.

    Measured over these 300 seasons: 90, 87 and 84 %. A span of independent days would hold the
    last 63 % of the time, and less with every woodlot beside it.
    """
    rng = np.random.default_rng(0)
    spans = [miss(spelled(rng, keeps), "minimum_c").bias_span_c for _ in range(300)]
    held = np.mean([span.low <= TRUE_BIAS_C <= span.high for span in spans])
    assert least <= held <= 0.98


def test_leads_are_drawn_apart():
    near, far = pairs(60), pairs(60, lead_days=5, stated_minimum_c=-2.0)
    together = by_lead(near + far)
    assert together == [only(near), only(far)]


def test_seasons_are_drawn_together_by_their_weeks():
    rows = season(0)
    later = [replace(row, date=row.date + timedelta(days=364)) for row in rows]
    one, two = only(rows).low, only(rows + later).low
    assert two.days == 2 * one.days
    assert two.bias_c == pytest.approx(one.bias_c)
    # Twice the weeks of the same: narrower by the root of two or so.
    ratio = (one.bias_span_c.high - one.bias_span_c.low) / (
        two.bias_span_c.high - two.bias_span_c.low
    )
    assert 1.2 < ratio < 1.6

"""The page's own reliability picture on 2,000 synthetic winters: as said, and otherwise.

In each winter a day has a centre of its own, a hundred members about it, and a truth. Where the
truth is drawn like a member the stated chances must be right in every tenth, within the sampling
error of the band (Murphy 1973, from memory); where it is drawn otherwise the picture must show it.
"""

from datetime import UTC, datetime
from itertools import count
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from apps.domain.freeze_thaw import judge_days, local_day_edges, member_shares, summarise_days
from apps.outlook.charts_scores import reliability_picture
from apps.outlook.scoring import by_lead
from apps.outlook.scoring_tenths import tenths
from tests.unit.test_outlook_scoring import FIRST, pair

# As many members as three ensembles pooled have. With few of them a share of none or all claims
# more than it knows: of 20, none means 1 in 22 rather than nought (Laplace's rule of succession).
WINTERS, MEMBERS = 2000, 100
ZONE = ZoneInfo("America/New_York")
MIDNIGHT = datetime(2026, 3, 16, 4, tzinfo=UTC)
EDGES = local_day_edges(MIDNIGHT, 24, ZONE)
# A day's swing of 5 C either way about its mean.
SWING = 5 * np.cos(2 * np.pi * (np.arange(24) - 15) / 24)


def winters(*, truth_warmer_c=0.0, truth_spread=1.0, seed=0):
    """Pairs of what was stated of one day of each winter and whether it came."""
    rng = np.random.default_rng(seed)
    centres = rng.uniform(-6, 8, WINTERS)
    members = centres[:, None] + rng.normal(0, 2, (WINTERS, MEMBERS))
    truths = centres + truth_warmer_c + truth_spread * rng.normal(0, 2, WINTERS)
    return [_pair(*day) for day in zip(count(FIRST.year), members, truths)]


def _pair(year, members, truth):
    (share,) = member_shares(summarise_days(members[:, None] + SWING, EDGES))
    (day,) = judge_days(truth + SWING, MIDNIGHT, ZONE)
    # A winter each: days of different winters tell of each other nothing.
    return pair(date=FIRST.replace(year=year), probability=share.share, came=day.verdict == "yes")


@pytest.fixture(scope="module")
def as_said():
    return winters()


def straying(pairs):
    return [row for row in tenths(pairs) if row.as_said is False]


def outside_luck(pairs):
    return [row for row in tenths(pairs) if row.within is False]


def test_every_tenth_has_days_to_be_judged_by(as_said):
    assert min(row.count for row in tenths(as_said)) >= 30


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_truth_drawn_like_a_member_comes_as_often_as_said(seed):
    # Not even by the stricter of the two rules, luck alone.
    assert outside_luck(winters(seed=seed)) == []


def test_chances_that_are_right_beat_always_the_average(as_said):
    (score,) = by_lead(as_said)
    assert score.chances.verdict == "better"


@pytest.mark.parametrize(
    "otherwise", [{"truth_warmer_c": 3.0}, {"truth_warmer_c": -3.0}, {"truth_spread": 2.5}]
)
def test_truth_drawn_otherwise_shows_in_the_picture(otherwise):
    pairs = winters(**otherwise)
    assert len(straying(pairs)) >= 3
    _, luck, points = reliability_picture(tenths(pairs)).spec["data"]
    bars = zip(luck["base"], luck["y"], points["y"], strict=True)
    assert sum(not low <= came <= low + height for low, height, came in bars) >= 3


def test_members_too_sure_are_said_too_high_at_the_top_and_too_low_at_the_foot():
    rows = tenths(winters(truth_spread=2.5))
    assert rows[-1].came < rows[-1].band_low
    assert rows[0].came > rows[0].band_high

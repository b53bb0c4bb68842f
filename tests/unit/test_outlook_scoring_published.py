"""The scores on two published sets of forecasts.

Finley's tornado forecasts of 1884 (American Meteorological Journal 1:85), the worked example of
every textbook: the table and the shares as in Murphy (1996), Weather and Forecasting 11:3, and on
the verification pages of the WWRP/WGNE joint working group (Finley_Tornados.html).

Probability-of-precipitation forecasts in the United States: Wilks (1995), Statistical Methods in
the Atmospheric Sciences, table 7.3, p. 246, as reprinted in the manuals of public verification
software. Shares of the forecasts and of what came are the table's, to three and four places.
"""

import numpy as np
import pytest

from apps.outlook.scoring import by_lead
from apps.outlook.scoring_tenths import tenths
from tests.unit.test_outlook_scoring import pair

HITS, FALSE_ALARMS, MISSES, RIGHT_NOES = 28, 72, 23, 2680
FORECASTS = HITS + FALSE_ALARMS + MISSES + RIGHT_NOES


@pytest.fixture(scope="module")
def finley():
    """A day for each forecast, in an order drawn by chance, stated with certainty."""
    kinds = [(1, True)] * HITS + [(1, False)] * FALSE_ALARMS
    kinds += [(0, True)] * MISSES + [(0, False)] * RIGHT_NOES
    order = np.random.default_rng(1884).permutation(FORECASTS)
    rows = [pair(day, probability=kinds[at][0], came=kinds[at][1]) for day, at in enumerate(order)]
    (score,) = by_lead(rows)
    return score


def test_finleys_table_is_counted(finley):
    calls = finley.calls
    found = (calls.hits, calls.false_alarms, calls.misses, calls.right_noes, calls.days)
    assert found == (28, 72, 23, 2680, 2803)


def test_finleys_shares_are_those_published(finley):
    # "Slightly more than half of the tornados were correctly predicted", 28 of 51; "72 % of the
    # forecasts for tornados turned out to be false alarms".
    assert finley.calls.hit_share == pytest.approx(0.549, abs=0.0005)
    assert finley.calls.false_share == pytest.approx(0.72)


def test_finleys_brier_score_is_what_was_not_correct(finley):
    # Stated with certainty, each wrong forecast costs one: 96.6 % were correct.
    assert finley.chances.brier == pytest.approx(1 - 0.966, abs=0.0005)


def test_always_no_would_have_been_more_accurate_and_the_verdict_says_worse(finley):
    # "98.2 % accuracy could be had by merely forecasting no tornado": a base rate of 1.8 %.
    assert finley.chances.base_rate == pytest.approx(1 - 0.982, abs=0.0005)
    assert finley.chances.verdict == "worse"


def test_the_spans_of_finleys_shares_agree_with_the_binomial(finley):
    # By chance order the forecasts are independent: 1.96 sqrt(p (1 - p) / n) either way.
    for share, span, of in (
        (finley.calls.hit_share, finley.calls.hit_span, HITS + MISSES),
        (finley.calls.false_share, finley.calls.false_span, HITS + FALSE_ALARMS),
    ):
        half = 1.96 * np.sqrt(share * (1 - share) / of)
        assert (span.low, span.high) == pytest.approx((share - half, share + half), abs=0.2 * half)


STATED = [0, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1]
CAME = [0.006, 0.019, 0.059, 0.15, 0.277, 0.377, 0.511, 0.587, 0.723, 0.779, 0.934, 0.933]
# Of ten thousand forecasts.
SAID = [4112, 671, 1833, 986, 616, 366, 303, 275, 245, 220, 170, 203]
BASE_RATE = 0.162


@pytest.fixture(scope="module")
def rain():
    """A day for each of the ten thousand, as often with rain as the table says."""
    outcomes = [
        (stated, place < round(share * count))
        for stated, share, count in zip(STATED, CAME, SAID, strict=True)
        for place in range(count)
    ]
    order = np.random.default_rng(1980).permutation(len(outcomes))
    return [
        pair(day, probability=outcomes[at][0], came=outcomes[at][1]) for day, at in enumerate(order)
    ]


def test_the_tenths_of_the_rain_table_hold_its_columns(rain):
    rows = tenths(rain)
    # The first tenth holds 0 and 5 %, the last 90 % and certainty.
    assert [row.count for row in rows] == [4783, *SAID[2:10], 373]
    middle = [row.came for row in rows[1:9]]
    assert middle == pytest.approx(CAME[2:10], abs=0.003)
    assert rows[0].came == pytest.approx((4112 * 0.006 + 671 * 0.019) / 4783, abs=0.001)


def test_the_rain_tables_base_rate_is_the_one_it_states(rain):
    (score,) = by_lead(rain)
    assert score.chances.base_rate == pytest.approx(BASE_RATE, abs=0.001)
    assert score.chances.average_brier == pytest.approx(BASE_RATE * (1 - BASE_RATE), abs=0.001)


def test_the_rain_tables_brier_score_agrees_with_its_partition(rain):
    """Reliability less resolution plus uncertainty (Murphy 1973), from the table's own columns."""
    stated, came, weight = np.array(STATED), np.array(CAME), np.array(SAID) / sum(SAID)
    rate = weight @ came
    partition = weight @ (stated - came) ** 2 - weight @ (came - rate) ** 2 + rate * (1 - rate)
    (score,) = by_lead(rain)
    assert score.chances.brier == pytest.approx(partition, abs=0.0005)
    assert score.chances.verdict == "better"


def test_the_rain_forecasters_were_well_calibrated_but_for_the_wet_side(rain):
    # Said 20 % and it rained on 15 %, more than luck makes of 986 days; the middle is as said.
    rows = tenths(rain)
    assert [row.as_said for row in rows[3:9]] == [True] * 6
    assert (rows[1].as_said, rows[2].as_said) == (False, False)

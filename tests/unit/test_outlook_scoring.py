"""Misses, calls and chances by lead day, by hand arithmetic.

Each expected figure is worked in the comment beside it.
"""

from datetime import date, timedelta

import pytest

from apps.outlook.scoring import (
    FEWEST_CHANCES,
    FEWEST_DAYS,
    Pair,
    by_lead,
    chances_known,
    days_by_source,
    tenths,
)

FIRST = date(2026, 3, 1)


def pair(number=0, **changes):
    fields = {
        "date": FIRST + timedelta(days=number),
        "lead_days": 1,
        "stated_minimum_c": -4.0,
        "stated_maximum_c": 5.0,
        "probability": None,
        "verdict": "yes",
        "minimum_c": -5.0,
        "maximum_c": 6.0,
        "came": True,
        "source": "measured in the woods",
    }
    return Pair(**fields | changes)


def pairs(count, **changes):
    return [pair(number, **changes) for number in range(count)]


def only(rows):
    (score,) = by_lead(rows)
    return score


def test_a_warm_forecast_has_a_mean_error_over_nought():
    # Lows stated a degree too warm on all ten days, highs a degree too cold.
    score = only(pairs(10))
    assert (score.low.bias_c, score.low.absolute_c) == (1.0, 1.0)
    assert (score.high.bias_c, score.high.absolute_c) == (-1.0, 1.0)


def test_misses_either_way_cancel_in_the_mean_and_not_in_the_absolute():
    # Five days +3 and five days -1: mean 1, mean absolute 2.
    rows = pairs(5, stated_minimum_c=-2.0) + pairs(5, stated_minimum_c=-6.0)
    assert (only(rows).low.bias_c, only(rows).low.absolute_c) == (1.0, 2.0)


@pytest.mark.parametrize(("days", "known"), [(FEWEST_DAYS - 1, False), (FEWEST_DAYS, True)])
def test_under_ten_days_nothing_is_said(days, known):
    score = only(pairs(days, probability=0.5))
    assert score.low.days == score.days == days
    assert (score.low.bias_c is not None) is known
    assert (score.chances.brier is not None) is known
    assert score.calls.enough is known


def test_a_day_without_a_stated_low_is_not_a_miss_of_nothing():
    rows = pairs(10) + pairs(3, stated_minimum_c=None)
    assert (only(rows).low.days, only(rows).high.days) == (10, 13)
    assert only(rows).low.bias_c == 1.0


@pytest.mark.parametrize(
    ("changes", "called"),
    [
        ({"probability": 0.5}, True),
        ({"probability": 0.49}, False),
        # The chance goes before the single forecast beside it.
        ({"probability": 0.9, "verdict": "no"}, True),
        ({"verdict": "yes"}, True),
        ({"verdict": "no"}, False),
        ({"verdict": "unknown"}, None),
    ],
)
def test_a_day_is_called_from_a_half_or_by_the_only_forecast(changes, called):
    assert pair(**changes).called is called


def test_hits_misses_and_false_alarms_are_counted():
    rows = (
        pairs(6)
        + pairs(2, verdict="no")
        + pairs(3, came=False)
        + pairs(4, verdict="no", came=False)
        + pairs(5, verdict="unknown")
        + pairs(7, came=None)
    )
    calls = only(rows).calls
    found = (calls.hits, calls.misses, calls.false_alarms, calls.right_noes)
    assert found == (6, 2, 3, 4)
    # Of 8 that came 6 were called; of 9 called 3 did not come. Unknown ones count nowhere.
    assert calls.days == 15
    assert (calls.hit_share, calls.false_share) == (0.75, pytest.approx(1 / 3))


def test_nothing_to_call_has_no_share():
    calls = only(pairs(10, verdict="no", came=False)).calls
    assert (calls.hit_share, calls.false_share) == (None, None)


def test_the_brier_score_stands_beside_always_the_average():
    # Eight days at 0.9 of which all came, two at 0.1 of which none did: every miss is 0.1.
    rows = pairs(8, probability=0.9) + pairs(2, probability=0.1, came=False)
    chances = only(rows).chances
    assert chances.brier == pytest.approx(0.01)
    # The share that came is 0.8: 0.8 x 0.2.
    assert chances.average_brier == pytest.approx(0.16)
    assert chances.better is True


def test_chances_that_say_the_wrong_thing_are_no_better():
    rows = pairs(5, probability=0.1) + pairs(5, probability=0.9, came=False)
    assert only(rows).chances.brier == pytest.approx(0.81)
    assert only(rows).chances.better is False


def test_without_chances_there_is_no_brier_score():
    chances = only(pairs(20)).chances
    assert (chances.days, chances.brier, chances.better) == (0, None, None)


def test_leads_are_scored_apart_and_in_order():
    rows = pairs(10, lead_days=3) + pairs(12, lead_days=1, stated_minimum_c=-5.0)
    assert [(row.lead_days, row.low.bias_c) for row in by_lead(rows)] == [(1, 0.0), (3, 1.0)]


@pytest.mark.parametrize(("count", "enough"), [(FEWEST_CHANCES - 1, False), (FEWEST_CHANCES, True)])
def test_a_picture_of_tenths_needs_fifty_chances(count, enough):
    found = tenths(pairs(count, probability=0.35) + pairs(30) + pairs(30, came=None))
    assert (found is not None) is enough


def test_tenths_say_what_was_stated_and_what_came():
    # 60 times 35 %, of which 21 came: exactly as said.
    rows = pairs(21, probability=0.35) + pairs(39, probability=0.35, came=False)
    fourth = tenths(rows)[3]
    assert (fourth.count, fourth.stated, fourth.came) == (60, pytest.approx(0.35), 0.35)
    assert fourth.within is True


def test_only_pairs_with_both_known_count_as_chances():
    rows = [pair(probability=0.2), pair(), pair(probability=0.3, came=None)]
    assert chances_known(rows) == [(0.2, True)]


def test_a_day_judged_at_many_leads_counts_once_by_its_source():
    rows = [pair(0), pair(0, lead_days=2), pair(1, source="said later")]
    assert days_by_source(rows) == {"measured in the woods": 1, "said later": 1}

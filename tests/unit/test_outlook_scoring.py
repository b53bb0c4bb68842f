"""Misses, calls and chances by lead day, by hand arithmetic.

Each expected figure is worked in the comment beside it.
"""

from datetime import date, timedelta

import pytest

from apps.outlook.scoring import BLOCK_DAYS, FEWEST_BLOCKS, FEWEST_DAYS, Pair, Span, by_lead
from apps.outlook.scoring_tenths import (
    FEWEST_CHANCES,
    SaidTenth,
    chances_said,
    judged_by,
    tenths,
)

FIRST = date(2026, 3, 1)


def pair(number=0, **changes):
    fields = {
        "woodlot_id": 1,
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


def pairs(count, start=0, **changes):
    """As many days in a row from day number `start` on."""
    return [pair(start + number, **changes) for number in range(count)]


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
    rows = pairs(5, stated_minimum_c=-2.0) + pairs(5, 5, stated_minimum_c=-6.0)
    assert (only(rows).low.bias_c, only(rows).low.absolute_c) == (1.0, 2.0)


@pytest.mark.parametrize(("days", "known"), [(FEWEST_DAYS - 1, False), (FEWEST_DAYS, True)])
def test_under_ten_days_nothing_is_said(days, known):
    score = only(pairs(days, probability=0.5))
    assert score.low.days == score.days == score.low.woodlot_days == days
    assert (score.low.bias_c is not None) is known
    assert (score.chances.brier is not None) is known
    assert score.calls.enough is known


def test_a_day_without_a_stated_low_is_not_a_miss_of_nothing():
    rows = pairs(10) + pairs(3, 10, stated_minimum_c=None)
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
        + pairs(2, 6, verdict="no")
        + pairs(3, 8, came=False)
        + pairs(4, 11, verdict="no", came=False)
        + pairs(5, 15, verdict="unknown")
        + pairs(7, 20, came=None)
    )
    calls = only(rows).calls
    found = (calls.hits, calls.misses, calls.false_alarms, calls.right_noes)
    assert found == (6, 2, 3, 4)
    # Of 8 that came 6 were called; of 9 called 3 did not come. Unknown ones count nowhere.
    assert calls.days == calls.woodlot_days == 15
    assert (calls.hit_share, calls.false_share) == (0.75, pytest.approx(1 / 3))


def test_nothing_to_call_has_no_share():
    calls = only(pairs(10, verdict="no", came=False)).calls
    assert (calls.hit_share, calls.false_share) == (None, None)


def test_the_brier_score_stands_beside_always_the_average():
    # Eight days at 0.9 of which all came, two at 0.1 of which none did: every miss is 0.1.
    rows = pairs(8, probability=0.9) + pairs(2, 8, probability=0.1, came=False)
    chances = only(rows).chances
    assert chances.brier == pytest.approx(0.01)
    # The share that came is 0.8: 0.8 x 0.2.
    assert chances.base_rate == pytest.approx(0.8)
    assert chances.average_brier == pytest.approx(0.16)


def chance_every_other_day(came, other, days=FEWEST_BLOCKS * BLOCK_DAYS + BLOCK_DAYS):
    """Days that come stated at `came`, the ones between, which do not, at `other`."""
    rows = [pair(n, probability=other if n % 2 else came, came=n % 2 == 0) for n in range(days)]
    return only(rows).chances


@pytest.mark.parametrize(
    ("came", "other", "verdict"),
    [(0.9, 0.1, "better"), (0.1, 0.9, "worse"), (0.5, 0.5, "cannot tell")],
)
def test_chances_are_better_or_worse_only_where_the_whole_span_is(came, other, verdict):
    assert chance_every_other_day(came, other).verdict == verdict


def test_a_few_weeks_tell_nothing_of_better_or_worse():
    found = chance_every_other_day(0.9, 0.1, days=2 * BLOCK_DAYS)
    assert (found.brier, found.gain_span) == (pytest.approx(0.01), None)
    assert found.verdict == "too few weeks to tell"


def test_without_chances_there_is_no_brier_score():
    chances = only(pairs(20)).chances
    assert (chances.days, chances.brier) == (0, None)
    assert chances.verdict == "too few weeks to tell"


def test_leads_are_scored_apart_and_in_order():
    rows = pairs(10, lead_days=3) + pairs(12, lead_days=1, stated_minimum_c=-5.0)
    assert [(row.lead_days, row.low.bias_c) for row in by_lead(rows)] == [(1, 0.0), (3, 1.0)]


@pytest.mark.parametrize(("count", "enough"), [(FEWEST_CHANCES - 1, False), (FEWEST_CHANCES, True)])
def test_a_picture_of_tenths_needs_fifty_chances(count, enough):
    found = tenths(pairs(count, probability=0.35) + pairs(30) + pairs(30, 60, came=None))
    assert (found is not None) is enough


def test_tenths_say_what_was_stated_and_what_came():
    # 60 times 35 %, of which 21 came: exactly as said.
    rows = pairs(21, probability=0.35) + pairs(39, 21, probability=0.35, came=False)
    fourth = tenths(rows)[3]
    assert (fourth.count, fourth.days, fourth.came) == (60, 60, 0.35)
    assert fourth.stated == pytest.approx(0.35)
    assert fourth.as_said is True


def test_a_tenth_never_said_is_neither_right_nor_wrong():
    first = tenths(pairs(60, probability=0.35))[0]
    assert (first.count, first.days, first.span, first.as_said) == (0, 0, None, None)


def test_a_tenth_that_never_came_is_said_too_high():
    # 60 days at 35 %: luck alone leaves 35 % less 3.3 x 6.2 % and half a day, 14 % at the least.
    fourth = tenths(pairs(60, probability=0.35, came=False))[3]
    assert (fourth.came, fourth.span, fourth.as_said) == (0.0, Span(0.0, 3 / 60), False)


@pytest.mark.parametrize(
    ("span", "band", "as_said"),
    [
        (Span(0.3, 0.5), (0.3, 0.4), True),
        (Span(0.2, 0.9), (0.3, 0.4), True),
        (Span(0.4, 0.5), (0.3, 0.5), True),
        (Span(0.4, 0.5), (0.3, 0.4), False),
        (None, (0.3, 0.4), False),
        (None, (0.3, 0.45), True),
    ],
)
def test_a_tenth_is_wrong_only_where_neither_luck_nor_its_span_explains_it(span, band, as_said):
    tenth = SaidTenth(0.3, 0.4, 50, 0.35, 0.45, *band, days=50, span=span)
    assert tenth.as_said is as_said


def test_only_pairs_with_both_known_count_as_chances():
    rows = [pair(probability=0.2), pair(1), pair(2, probability=0.3, came=None)]
    assert chances_said(rows) == 1


def test_chances_of_woodlots_side_by_side_count_once_and_leads_apart():
    rows = [
        pair(probability=0.2, woodlot_id=lot, lead_days=lead)
        for lot in (1, 2, 3)
        for lead in (1, 2)
    ]
    assert chances_said(rows) == 2


def test_each_source_tells_of_its_days_and_woodlots_once_whatever_the_leads():
    rows = [pair(0), pair(0, lead_days=2), pair(0, woodlot_id=2), pair(1, source="said later")]
    measured, later = judged_by(rows)
    assert (measured.source, measured.days, measured.woodlot_days) == (
        "measured in the woods",
        1,
        2,
    )
    assert measured.woodlot_ids == {1, 2}
    assert (later.source, later.days, later.woodlot_days) == ("said later", 1, 1)


def test_a_source_is_compared_on_the_nearest_leads_only():
    # A degree off a day ahead, eleven degrees off four days ahead.
    rows = pairs(10) + pairs(10, lead_days=4, stated_minimum_c=6.0)
    (judged,) = judged_by(rows)
    assert (judged.low.days, judged.low.absolute_c) == (10, 1.0)

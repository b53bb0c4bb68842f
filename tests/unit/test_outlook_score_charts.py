"""The pictures of the scores hold the numbers of their tables, in the operation's units."""

from dataclasses import replace

import pytest

from apps.outlook.charts_scores import misses_by_lead, reliability_picture, stated_and_came
from apps.outlook.scoring import by_lead
from apps.outlook.scoring_tenths import tenths
from tests.unit.test_outlook_scoring import pair, pairs


def traces(figure):
    return {trace["name"]: trace for trace in figure.spec["data"]}


@pytest.mark.parametrize(("units", "shown"), [("metric", 1.0), ("us", 1.8)])
def test_bars_say_how_far_off_and_marks_which_way(units, shown):
    # Lows a degree too warm, highs a degree too cold; 1 C is 1.8 F.
    drawn = traces(misses_by_lead(by_lead(pairs(10)), units))
    assert drawn["low: how far off"]["y"] == [shown]
    assert drawn["low: too warm (+) or too cold (-)"]["y"] == [shown]
    assert drawn["high: too warm (+) or too cold (-)"]["y"] == [-shown]


def test_a_lead_of_too_few_days_has_no_bar():
    leads = by_lead(pairs(10) + pairs(9, lead_days=2))
    assert traces(misses_by_lead(leads, "us"))["low: how far off"]["x"] == [0.8]
    assert misses_by_lead(by_lead(pairs(9)), "us") is None


def said(seen):
    """The reliability picture's traces of 40 days at 50 %, of which the first so many came."""
    rows = pairs(seen, probability=0.5) + pairs(40 - seen, seen, probability=0.5, came=False)
    # Fifty are needed for a picture: ten more that say nothing of this tenth.
    return traces(reliability_picture(tenths(rows + pairs(10, 40, probability=0.0, came=False))))


def test_the_reliability_picture_holds_said_against_came():
    points = said(30)["what came, with its span"]
    assert (points["x"], points["y"], points["customdata"]) == ([0.0, 50.0], [0.0, 75.0], [10, 40])


def test_the_grey_bar_spans_what_luck_alone_leaves():
    grey = said(30)["luck alone"]
    # 3.3 x sqrt(40 x 0.25) and half a day, over 40 days: 27.3 % either way of 50 %.
    assert grey["base"][1] == pytest.approx(22.7, abs=0.1)
    assert grey["y"][1] == pytest.approx(54.7, abs=0.1)


def test_the_blue_line_spans_what_weeks_drawn_anew_give():
    line = said(30)["what came, with its span"]["error_y"]
    # 30 days in a row came and 10 did not: a week is nearly all one or all the other.
    assert 75 + line["array"][1] == 100
    assert line["arrayminus"][1] > 27.3


def test_too_few_weeks_draw_no_line():
    rows = pairs(20, probability=0.5) + pairs(20, probability=0.5, lead_days=2)
    rows += pairs(10, probability=0.5, lead_days=3)
    line = traces(reliability_picture(tenths(rows)))["what came, with its span"]["error_y"]
    assert (line["array"], line["arrayminus"]) == ([None], [None])


def test_bars_of_misses_carry_their_spans():
    # A degree off for three weeks, three degrees off for three more: on average two.
    leads = by_lead(pairs(21) + pairs(21, 21, stated_minimum_c=-2.0))
    (score,) = leads
    line = traces(misses_by_lead(leads, "metric"))["low: how far off"]["error_y"]
    assert 2 + line["array"][0] == pytest.approx(score.low.absolute_span_c.high, abs=0.06)
    assert 2 - line["arrayminus"][0] == pytest.approx(score.low.absolute_span_c.low, abs=0.06)
    assert score.low.absolute_span_c.low < 1.7 < 2.3 < score.low.absolute_span_c.high


def test_a_lead_that_knows_only_lows_has_no_bar():
    assert misses_by_lead(by_lead(pairs(12, stated_maximum_c=None)), "us") is None


def test_no_line_is_drawn_over_days_that_are_not_known():
    drawn = traces(stated_and_came([pair(0), pair(1), pair(8)], 3, "metric"))["low, came"]
    assert drawn["x"] == ["2026-03-01", "2026-03-02", "2026-03-03", "2026-03-09"]
    assert drawn["y"] == [-5.0, -5.0, None, -5.0]


def test_said_stands_over_came_day_by_day():
    rows = pairs(2)
    rows[1] = replace(rows[1], stated_minimum_c=None)
    drawn = traces(stated_and_came(rows, 1, "metric"))
    assert drawn["low, said"]["y"] == [-4.0, None]
    assert drawn["low, came"]["y"] == [-5.0, -5.0]
    assert drawn["high, said"]["x"] == ["2026-03-01", "2026-03-02"]


@pytest.mark.parametrize(("lead", "words"), [(1, "1 day before"), (3, "3 days before")])
def test_the_title_says_how_long_before(lead, words):
    assert words in stated_and_came(pairs(1), lead, "us").title


@pytest.mark.parametrize(("later", "ticks"), [(30, "%-d %b"), (365, "%b %Y")])
def test_days_of_several_seasons_are_told_apart_by_their_year(later, ticks):
    axis = stated_and_came([pair(0), pair(later)], 3, "us").spec["layout"]["xaxis"]
    assert axis["tickformat"] == ticks


def test_no_day_draws_no_picture():
    assert stated_and_came([], 3, "us") is None

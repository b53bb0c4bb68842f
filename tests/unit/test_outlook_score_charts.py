"""The pictures of the scores hold the numbers of their tables, in the operation's units."""

from dataclasses import replace

import pytest

from apps.domain.sap_run.scoring import reliability
from apps.outlook.charts_scores import misses_by_lead, reliability_picture, stated_and_came
from apps.outlook.scoring import by_lead
from tests.unit.test_outlook_scoring import pairs


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
    assert traces(misses_by_lead(leads, "us"))["low: how far off"]["x"] == [1]
    assert misses_by_lead(by_lead(pairs(9)), "us") is None


def test_the_reliability_picture_spans_what_luck_alone_leaves():
    # 40 times 50 %, of which 30 came.
    tenths = reliability([0.5] * 40, [1] * 30 + [0] * 10)
    points = traces(reliability_picture(tenths))["What came"]
    assert (points["x"], points["y"], points["customdata"]) == ([50.0], [75.0], [40])
    # 3.3 x sqrt(40 x 0.25) and half a day, over 40 days: 27.3 % either way of 50 %.
    assert points["error_y"]["array"] == pytest.approx([77.3 - 75], abs=0.1)
    assert points["error_y"]["arrayminus"] == pytest.approx([75 - 22.7], abs=0.1)


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


def test_no_day_draws_no_picture():
    assert stated_and_came([], 3, "us") is None

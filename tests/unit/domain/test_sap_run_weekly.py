"""The published weekly rule, by its own arithmetic and at the edges of a week.

Source: Houle et al. (2015), PLOS ONE 10(12) e0144844, coefficients and limit as seen restated; what
the paper itself prints was not reached.
"""

import math
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from apps.domain import sap_run as sr
from apps.domain.errors import DomainError, OutOfRange

NEW_YEAR = date(2026, 1, 1)


def days(low, high, first=NEW_YEAR):
    dates = [first + timedelta(days=day) for day in range(len(low))]
    return sr.days_from_extremes(dates, low, high)


def alternating(crossing_days, days_in_all):
    """Crossing days first (-2 to 6 C, mean 2 C), then days that stay frozen."""
    rest = days_in_all - crossing_days
    return days([-2.0] * crossing_days + [-9.0] * rest, [6.0] * crossing_days + [-3.0] * rest)


@pytest.mark.parametrize(
    ("crossings", "degree_days", "score"),
    [(0, 0, -5.09), (8, 0, -0.21), (9, 0, 0.274), (20, 0, 3.75), (20, 60, -0.45), (26, 10, 3.518)],
)
def test_the_chance_by_the_restated_coefficients(crossings, degree_days, score):
    expected = 1 / (1 + math.exp(-score))
    assert sr.weekly_chance(crossings, degree_days) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("crossings", "degree_days", "words"),
    [
        (-1, 0, "^crossings must be between 0 and 366, not -1"),
        (367, 0, "^crossings must be between 0 and 366, not 367"),
        (math.nan, 0, "^crossings must be between 0 and 366, not nan"),
        (0, -0.1, "^growing_degree_days must be between 0 and 10000, not -0.1"),
        (0, 10_000.5, "^growing_degree_days must be between 0 and 10000, not 10000.5"),
    ],
)
def test_counts_no_year_has_are_refused(crossings, degree_days, words):
    with pytest.raises(OutOfRange, match=words):
        sr.weekly_chance(crossings, degree_days)


@pytest.mark.parametrize(("chance", "producing"), [(0.51, True), (0.5099, False)])
def test_the_limit_itself_produces(chance, producing):
    assert sr.Week(NEW_YEAR, NEW_YEAR, 9, 0.0, chance, 0).producing is producing


@pytest.mark.parametrize("field", ["minimum_c", "maximum_c", "mean_c"])
def test_a_day_with_any_figure_unknown_counts_as_unknown(field):
    known = days([-2.0] * 7, [6.0] * 7)
    gap = getattr(known, field).copy()
    gap[3] = math.nan
    (week,) = sr.season_open_weekly(replace(known, **{field: gap}), 2026)
    assert week.unknown_days == 1


@pytest.mark.parametrize(("crossings", "producing"), [(8, False), (9, True)])
def test_nine_crossings_make_a_producing_week(crossings, producing):
    weeks = sr.season_open_weekly(alternating(crossings, 14), 2026)
    assert weeks[1].crossings == crossings
    assert weeks[1].producing is producing


def test_weeks_run_from_new_year_and_only_whole_ones_count():
    weeks = sr.season_open_weekly(alternating(3, 20), 2026)
    assert [(week.start, week.end) for week in weeks] == [
        (date(2026, 1, 1), date(2026, 1, 7)),
        (date(2026, 1, 8), date(2026, 1, 14)),
    ]


def test_december_is_passed_over():
    low, high = [-2.0] * 21, [6.0] * 21
    weeks = sr.season_open_weekly(days(low, high, date(2025, 12, 25)), 2026)
    assert [week.crossings for week in weeks] == [7, 14]


@pytest.mark.parametrize(
    ("low", "high", "crossings"), [(3.0, 9.0, 0), (-4.0, 3.0, 0), (2.9, 3.1, 7), (4.0, 9.0, 0)]
)
def test_a_crossing_goes_from_under_three_to_over_it(low, high, crossings):
    (week,) = sr.season_open_weekly(days([low] * 7, [high] * 7), 2026)
    assert week.crossings == crossings


def test_growing_degrees_are_of_daily_means_over_five():
    (week,) = sr.season_open_weekly(days([4.0] * 7, [10.0] * 7), 2026)
    assert week.growing_degree_days == pytest.approx(7 * 2)


def test_warmth_closes_what_crossings_opened():
    low, high = [-1.0] * 14 + [5.0] * 28, [7.0] * 14 + [12.0] * 28
    weeks = sr.season_open_weekly(days(low, high), 2026)
    assert [week.producing for week in weeks] == [False, True, True, False, False, False]


@pytest.mark.parametrize(("unknown", "producing"), [(7, True), (8, None)])
def test_more_than_a_week_unknown_leaves_the_rule_unknown(unknown, producing):
    low = [math.nan] * unknown + [-2.0] * (21 - unknown)
    week = sr.season_open_weekly(days(low, [6.0] * 21), 2026)[-1]
    assert (week.unknown_days, week.crossings) == (unknown, 21 - unknown)
    assert week.producing is producing


def test_the_first_producing_week_is_found():
    weeks = sr.season_open_weekly(alternating(28, 28), 2026)
    assert sr.first_producing(weeks) is weeks[1]


def test_no_producing_week_is_none():
    assert sr.first_producing(sr.season_open_weekly(alternating(2, 28), 2026)) is None


def test_an_unknown_week_before_it_hides_it():
    low = [math.nan] * 14 + [-2.0] * 14
    weeks = sr.season_open_weekly(days(low, [6.0] * 28), 2026)
    assert sr.first_producing(weeks) is None


def test_a_winter_must_begin_by_new_year():
    with pytest.raises(DomainError, match="2026-01-01"):
        sr.season_open_weekly(days([-2.0], [6.0], date(2026, 1, 2)), 2026)


def test_members_are_refused():
    many = sr.days_from_extremes([NEW_YEAR], np.zeros((2, 1)), np.ones((2, 1)))
    with pytest.raises(DomainError, match="one series, not 2 axes"):
        sr.season_open_weekly(many, 2026)

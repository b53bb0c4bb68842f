"""First-run dates ordered within their season, against numpy's order statistics.

`Spread.by` is the type 1 sample quantile of Hyndman and Fan (1996), The American Statistician
50:361 (numpy's inverted_cdf): the least date that so large a share of the seasons had reached.
"""

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.domain.sap_run import InferredRun
from apps.domain.tapping import season_of
from apps.outlook.first_runs import PastFirstRuns, Spread

FIRST = date(2025, 12, 1)
PLACES = st.lists(st.integers(0, 150), min_size=1, max_size=40)
SHARES = st.sampled_from([0.05, 0.1, 0.2, 0.25, 0.3, 0.5, 0.7, 0.75, 0.8, 0.9, 1.0])


def past(recorded=(), inferred=(), season=2026):
    return PastFirstRuns(
        woodlot=None,
        season=season,
        recorded={season_of(day): day for day in recorded},
        own=True,
        inferred={season_of(day): InferredRun(day, "fitted", 0) for day in inferred},
    )


@given(PLACES, SHARES)
def test_a_share_is_numpys_inverted_distribution(places, share):
    ordered = sorted(places)
    spread = Spread(tuple(FIRST + timedelta(days=place) for place in ordered))
    theirs = int(np.quantile(ordered, share, method="inverted_cdf"))
    assert (spread.by(share) - FIRST).days == theirs


@given(PLACES)
def test_marks_never_go_back(places):
    marks = Spread(tuple(FIRST + timedelta(days=place) for place in sorted(places))).marks
    assert marks == sorted(marks)
    assert (marks[0] - FIRST).days == min(places)
    assert (marks[-1] - FIRST).days == max(places)


def test_a_warm_december_comes_before_january():
    # 28 December 2023 is of the season 2024, and earlier in it than any date of its spring.
    found = past([date(2022, 3, 1), date(2023, 12, 28), date(2025, 2, 3)])
    ((name, spread),) = found.spreads
    assert name == "Recorded"
    assert spread.placed == (date(2025, 12, 28), date(2026, 2, 3), date(2026, 3, 1))


def test_seasons_stand_newest_first_with_a_gap_where_one_kind_is_missing():
    found = past([date(2024, 3, 5)], [date(2023, 3, 1), date(2024, 3, 1)])
    assert [(season, day, run and run.date) for season, day, run in found.rows] == [
        (2024, date(2024, 3, 5), date(2024, 3, 1)),
        (2023, None, date(2023, 3, 1)),
    ]


def test_only_seasons_of_both_kinds_are_compared():
    found = past(
        [date(2022, 3, 10), date(2023, 3, 1), date(2024, 3, 5)],
        [date(2023, 3, 4), date(2024, 3, 1), date(2025, 2, 1)],
    )
    assert found.apart_days == [-3, 4]


def test_a_winter_without_a_run_has_no_date_and_no_place():
    found = past([], [])
    found.inferred[2020] = InferredRun(None, "fitted", 40)
    assert (found.inferred_dates, found.spreads, found.apart_days) == ({}, [], [])
    assert found.rows == [(2020, None, found.inferred[2020])]


@pytest.mark.parametrize(("basis", "said"), [("weekly rule", True), ("fitted", False)])
def test_the_weekly_rule_is_named_where_it_was_used(basis, said):
    found = past([], [date(2024, 3, 1)])
    found.inferred[2023] = InferredRun(date(2023, 3, 1), basis, 0)
    assert found.by_weekly_rule is said

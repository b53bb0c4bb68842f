"""When the first run may come: members, then past seasons, weighed by hand."""

from datetime import date, timedelta
from math import sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.domain import start_guidance as sg
from apps.domain import tapping
from apps.domain.errors import OutOfRange
from apps.domain.start_guidance import DaySeen, Past, Seen
from apps.domain.tapping import BackPlanInput, WoodlotWork

DAY = timedelta(days=1)
TODAY = date(2026, 2, 16)
# Ten first runs, 20 February to 29 March by threes, each in a season of its own.
TEN = Past({2016 + n: date(2016 + n, 2, 20) + 4 * n * DAY for n in range(10)}, "recorded")


def members(*firsts, known=7):
    """Members of equal weight with these first runs (-1 none), all known as far."""
    size = len(firsts)
    days = tuple(DaySeen(TODAY + n * DAY, size, 0.0, 0.0, 0.0, 0.0) for n in range(known))
    return Seen(
        days,
        np.full(size, 1 / size),
        np.full(size, known),
        np.array(firsts),
        np.zeros((size, known), dtype=bool),
    )


def dates(seen=None, past=None):
    return sg.first_run_dates(seen, past, TODAY, 2026)


@pytest.mark.parametrize(
    ("morning", "share"),
    [(date(2026, 2, 20), 1.0), (date(2026, 2, 21), 0.9), (date(2026, 3, 9), 0.5)],
)
def test_without_members_the_past_alone_is_counted(morning, share):
    told = dates(past=TEN).all_in_by(morning)
    assert (told.weight, told.percent, told.members, told.seasons) == (share, share, 0, 10)


def test_past_first_runs_gone_by_no_longer_count():
    late = sg.first_run_dates(None, TEN, date(2026, 3, 20), 2026)
    assert sum(late.weights.values()) == pytest.approx(1)
    assert min(late.weights) >= date(2026, 3, 20)


def test_members_without_a_first_run_leave_the_rest_to_the_past_beyond_them():
    told = dates(members(*[-1] * 10), TEN)
    assert told.all_in_by(TODAY + 7 * DAY).weight == 1.0
    # Of the ten, 20 February lies inside the forecast and is ruled out: nine are left.
    assert told.all_in_by(date(2026, 2, 25)).weight == pytest.approx(8 / 9)


def test_later_than_every_past_first_run_it_is_taken_for_imminent():
    day = date(2026, 4, 10)
    told = sg.first_run_dates(None, TEN, day, 2026)
    assert told.weights == {day: 1.0}
    assert told.all_in_by(day + DAY).weight == 0.0


def test_without_a_past_only_the_forecast_is_known():
    told = dates(members(2, *[-1] * 9))
    assert told.all_in_by(TODAY + 2 * DAY).weight == 1.0
    assert told.all_in_by(TODAY + 3 * DAY).weight == pytest.approx(0.9)
    assert told.all_in_by(TODAY + 8 * DAY).weight is None


def test_without_anything_nothing_is_known():
    told = dates()
    assert told.all_in_by(TODAY + DAY).weight is None
    assert told.day_reached(0.5) is None


def test_nine_members_carry_no_percentage():
    told = dates(members(*[-1] * 9), TEN).all_in_by(TODAY)
    assert (told.weight, told.percent, told.carries_percent) == (1.0, None, False)


def test_few_members_are_weighed_with_the_past_by_hand():
    # 3 of 10 members run on day 2; 1 of 10 past first runs falls inside the seven days.
    stated, before = 3.5 / 11, 1.5 / 11
    yes, no = sqrt(stated * before), sqrt((1 - stated) * (1 - before))
    told = dates(members(2, 2, 2, *[-1] * 7), TEN)
    assert told.weights[TODAY + 2 * DAY] == pytest.approx(yes / (yes + no))
    assert sum(told.weights.values()) == pytest.approx(1)


def test_members_that_all_run_are_still_held_against_the_past():
    told = dates(members(*[3] * 10), TEN)
    assert 0.5 < told.weights[TODAY + 3 * DAY] < 1
    assert sum(told.weights.values()) == pytest.approx(1)


@pytest.mark.parametrize(
    ("share", "members_", "come", "to_come", "expected"),
    [(0.5, 30, 5, 10, 0.5), (0.0, 0, 0, 0, 0.5), (1.0, 1, 0, 1, 0.5)],
)
def test_the_pool_of_even_odds_is_even(share, members_, come, to_come, expected):
    assert sg.pooled(share, members_, come, to_come) == pytest.approx(expected)


@given(st.floats(0, 1), st.integers(1, 200), st.integers(0, 20), st.integers(0, 20))
def test_the_pool_lies_between_the_two(share, size, come, later):
    ours, theirs = (share * size + 0.5) / (size + 1), (come + 0.5) / (come + later + 1)
    told = sg.pooled(share, size, come, come + later)
    assert min(ours, theirs) - 1e-9 <= told <= max(ours, theirs) + 1e-9


@pytest.mark.parametrize("wrong", [(1.1, 10, 1, 2), (0.5, 10, 3, 2), (0.5, 10, -1, 2)])
def test_an_impossible_pool_is_refused(wrong):
    with pytest.raises(OutOfRange):
        sg.pooled(*wrong)


@given(st.lists(st.integers(-1, 6), min_size=1, max_size=40))
def test_weights_sum_to_one_and_a_later_morning_is_never_safer(firsts):
    told = dates(members(*firsts), TEN)
    assert sum(told.weights.values()) == pytest.approx(1)
    chances = [told.all_in_by(TODAY + n * DAY).weight for n in range(60)]
    assert chances == sorted(chances, reverse=True)


def one_start(taps=4800, already=0.0):
    """Four days of work from the Monday on: ready on Friday 20 February."""
    plan = BackPlanInput((WoodlotWork("North", taps, 0.0),), TODAY, lost_days=0)
    return sg.possible_starts(plan, TODAY, already)[0]


def test_the_share_caught_weighs_each_day_by_the_taps_in():
    told = dates(members(0, 1, 2, 3, 4, 5, 6, -1, -1, -1))
    # A tenth each: nothing in on the first day, a quarter more on each, all in from the fifth.
    assert told.share_caught(one_start()) == pytest.approx(0.1 * (0.25 + 0.5 + 0.75) + 0.6)


def test_the_share_caught_is_unknown_where_the_first_run_is():
    told = dates(members(*[-1] * 10, known=2))
    assert told.share_caught(one_start()) is None
    assert dates(members(*[-1] * 10)).share_caught(one_start()) == 1.0


@pytest.mark.parametrize(("share", "day"), [(0.1, 20), (0.11, 24), (0.2, 24)])
def test_the_day_reached_is_the_first_with_that_share(share, day):
    assert dates(past=TEN).day_reached(share) == date(2026, 2, day)


def test_a_share_over_one_is_refused():
    with pytest.raises(OutOfRange):
        dates(past=TEN).day_reached(1.5)


@given(st.dates(date(2025, 12, 1), date(2026, 5, 31)))
def test_seasons_missed_are_those_of_the_back_plan(morning):
    assert TEN.missed(morning, 2026) == tuple(tapping.seasons_missed(TEN.first_runs, morning, 2026))


def test_before_december_no_season_is_missed():
    assert TEN.missed(date(2025, 11, 30), 2026) == ()

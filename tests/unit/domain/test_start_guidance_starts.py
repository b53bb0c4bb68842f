"""Every possible start worked forward, against the back-plan and calendars on paper."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.domain import start_guidance as sg
from apps.domain import tapping
from apps.domain.errors import OutOfRange
from apps.domain.tapping import BackPlanInput, WoodlotWork

DAY = timedelta(days=1)
MONDAY = date(2026, 2, 16)
LETTERS = {"tapping": "T", "lost": "L", "rest": "R", "ruled out": "X"}


def plan(taps=3600, **changes):
    return BackPlanInput((WoodlotWork("North", taps, 0.0),), MONDAY, **changes)


def letters(start):
    return "".join(LETTERS[day.kind] for day in start.days)


@st.composite
def plans(draw):
    reach = draw(st.none() | st.integers(0, 20))
    away = draw(st.sets(st.integers(0, 20), max_size=8))
    return plan(
        draw(st.integers(0, 9000)),
        pairs=draw(st.integers(1, 3)),
        rest_weekdays=draw(st.sets(st.integers(0, 6), max_size=3).map(frozenset)),
        lost_days=draw(st.integers(0, 4)),
        forecast_until=None if reach is None else MONDAY + reach * DAY,
        blocked_days=frozenset(MONDAY + n * DAY for n in away if reach is not None and n <= reach),
    )


# 3,600 taps are 36 pair-hours, three days of 12. From Monday 16 February 2026.
@pytest.mark.parametrize(
    ("changes", "calendar", "ready"),
    [
        ({"lost_days": 0}, "TTT", date(2026, 2, 19)),
        ({"lost_days": 2}, "LLTTT", date(2026, 2, 21)),
        ({"lost_days": 4}, "LLLLTTRT", date(2026, 2, 24)),
        ({"forecast_until": date(2026, 2, 18)}, "TTT", date(2026, 2, 19)),
        ({"forecast_until": date(2026, 2, 17)}, "TTLLT", date(2026, 2, 21)),
        (
            {"forecast_until": date(2026, 2, 18), "blocked_days": frozenset({date(2026, 2, 17)})},
            "TXTLLT",
            date(2026, 2, 22),
        ),
    ],
)
def test_a_start_is_worked_forward_as_on_paper(changes, calendar, ready):
    first = sg.possible_starts(plan(**changes), MONDAY)[0]
    assert (letters(first), first.ready_morning) == (calendar, ready)


def test_the_share_set_grows_by_the_days_work():
    first = sg.possible_starts(plan(lost_days=0), MONDAY, set_share=0.4)[0]
    shares = [first.share_set(MONDAY + n * DAY) for n in range(-1, 5)]
    assert shares == pytest.approx([0.4, 0.4, 0.6, 0.8, 1.0, 1.0])


def test_the_last_day_may_be_a_part_of_one():
    first = sg.possible_starts(plan(1500, lost_days=0), MONDAY)[0]
    assert [first.share_set(MONDAY + n * DAY) for n in range(3)] == [0, 0.8, 1.0]


def test_rest_days_and_days_ruled_out_are_no_days_to_start_on():
    blocked = frozenset({date(2026, 2, 18)})
    starts = sg.possible_starts(
        plan(blocked_days=blocked, forecast_until=date(2026, 2, 20)), MONDAY, days=7
    )
    assert [one.start.day for one in starts] == [16, 17, 19, 20, 21]


def test_with_nothing_left_every_tap_is_in_at_once():
    first = sg.possible_starts(plan(0), MONDAY)[0]
    assert (first.ready_morning, first.days, first.share_set(MONDAY)) == (MONDAY, (), 1.0)


@pytest.mark.parametrize("wrong", [{"set_share": 1.1}, {"set_share": -0.1}, {"days": 0}])
def test_impossible_input_is_refused(wrong):
    with pytest.raises(OutOfRange):
        sg.possible_starts(plan(), MONDAY, **wrong)


@given(plans())
def test_each_ready_morning_is_the_first_whose_back_plan_starts_no_earlier(given_plan):
    for one in sg.possible_starts(given_plan, MONDAY, days=10):
        back = tapping.back_plan(replace(given_plan, ready_morning=one.ready_morning))
        assert back.start_date >= one.start
        if one.ready_morning > one.start:
            eve = replace(given_plan, ready_morning=one.ready_morning - DAY)
            assert tapping.back_plan(eve).start_date < one.start


@given(plans())
def test_a_later_start_is_never_ready_earlier(given_plan):
    mornings = [one.ready_morning for one in sg.possible_starts(given_plan, MONDAY)]
    assert mornings == sorted(mornings)


@given(plans(), st.floats(0, 1))
def test_shares_rise_to_all_of_the_taps(given_plan, already):
    for one in sg.possible_starts(given_plan, MONDAY, already, days=5):
        assert list(one.shares) == sorted(one.shares)
        assert one.share_set(one.ready_morning) == pytest.approx(1.0)

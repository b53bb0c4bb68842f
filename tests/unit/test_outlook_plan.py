"""The start date put together from what is known; the back-plan itself is tested in the domain.

Checked against calendars on paper: 2026 begins on a Thursday, 1 February and 1 March are Sundays.
"""

from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from apps.domain.tapping import BackPlanInput, SnowPaces, WoodlotWork
from apps.outlook import plan
from apps.outlook.plan import Question, Ready

DAY = timedelta(days=1)
FIVE_RUNS = {
    2021: date(2021, 3, 6),
    2022: date(2022, 3, 1),
    2023: date(2023, 2, 27),
    2024: date(2024, 2, 20),
    2025: date(2025, 3, 9),
}


def feb(day) -> date:
    return date(2026, 2, day)


def question(**changes) -> Question:
    """2,400 taps at 100 an hour are 24 pair-hours: two days of 12."""
    defaults = {
        "season": 2026,
        "today": feb(2),
        "works": (WoodlotWork("Tamarack Hollow", 2400, 0.0),),
        "paces": SnowPaces(),
        "pairs": 2,
        "hours_per_day": 6,
        "lost_days": 2,
        "rest_weekdays": frozenset({6}),
        "blocked_days": frozenset(),
        "forecast_until": None,
        "run_days": frozenset(),
        "next_day": feb(2),
        "ready": Ready(feb(24), "typed"),
        "first_runs": FIVE_RUNS,
    }
    return Question(**defaults | changes)


@pytest.mark.parametrize(
    ("accept", "seasons", "misses"),
    [(2, 10, 2), (2, 9, 1), (2, 5, 1), (2, 4, 0), (0, 10, 0), (9, 1, 0), (9, 10, 9), (3, 20, 6)],
)
def test_misses_in_ten_are_rounded_down_to_the_seasons_there_are(accept, seasons, misses):
    assert plan.accepted_misses(accept, seasons) == misses


def test_however_many_misses_are_accepted_a_first_run_is_left_to_choose():
    for seasons in range(1, 30):
        assert plan.accepted_misses(9, seasons) < seasons


def test_the_ready_morning_is_the_next_earliest_after_the_misses_accepted():
    # In order: 20 Feb (2024), 27 Feb (2023), 1, 6 and 9 March; one of five may be missed.
    ready = plan.ready_from_history(FIVE_RUNS, 2, 2026)
    assert (ready.date, ready.k, ready.n) == (feb(27), 1, 5)


def test_without_history_no_morning_is_made_up():
    assert plan.ready_from_history({}, 2, 2026) is None
    assert plan.choose_ready(None, None) is None


@pytest.mark.parametrize(
    ("planned", "morning", "source"),
    [(feb(21), feb(21), "crew plan"), (None, feb(27), "first runs")],
)
def test_the_date_planned_goes_before_the_history(planned, morning, source):
    history = plan.ready_from_history(FIVE_RUNS, 2, 2026)
    assert plan.choose_ready(planned, history) == Ready(morning, source)


def test_counted_back_with_the_allowance_beyond_the_forecast():
    # Ready Tue 24: tapping Mon 23 and Sat 21, Sunday off, Fri 20 and Thu 19 for weather.
    back = plan.answer(question()).back
    assert (back.start_date, back.working_days, back.lost_days) == (feb(19), 2, 2)


def test_inside_the_forecast_ruled_out_days_stand_in_place_of_the_allowance():
    # Ready Tue 24: tapping Mon 23, Sat 21 too cold, tapping Fri 20; no further day.
    cold = question(blocked_days=frozenset({feb(21)}), forecast_until=feb(28), today=feb(16))
    back = plan.answer(cold).back
    assert (back.start_date, back.lost_days) == (feb(20), 0)


@pytest.mark.parametrize("today", [feb(24), feb(25)])
def test_looking_back_from_the_ready_morning_on_the_forecast_is_not_used(today):
    late = question(today=today, next_day=today, forecast_until=date(2026, 3, 7))
    assert plan.answer(late).back.start_date == feb(19)


def test_nothing_is_counted_back_without_a_ready_morning():
    answer = plan.answer(question(ready=None))
    assert (answer.back, answer.others) == (None, ())
    assert answer.forward.work.working_days == 2


def test_nothing_is_said_without_work():
    assert plan.answer(question(works=())) == plan.Answer(forward=None)


@pytest.mark.parametrize(("taps", "too_long"), [(86_400, False), (86_401, True)])
def test_a_plan_longer_than_a_winter_is_refused_in_words(taps, too_long):
    # 86,400 taps at the slowest pace of 60 are 1,440 pair-hours: 120 days of 12.
    works = (WoodlotWork("Tamarack Hollow", taps, 0.0),)
    assert plan.answer(question(works=works)).too_long is too_long


def test_the_seasons_missed_are_those_with_sap_before_the_ready_morning():
    assert plan.answer(question()).missed == (2024,)


@pytest.mark.parametrize(
    ("morning", "missed"),
    [
        (date(2025, 11, 20), ()),
        (feb(20), ()),
        (feb(21), (2024,)),
        (date(2026, 3, 10), (2021, 2022, 2023, 2024, 2025)),
    ],
)
def test_seasons_missed_by_a_morning(morning, missed):
    assert question().missed_by(morning) == missed


def test_forward_counts_from_the_next_day_at_the_planned_hours():
    # From Mon 2 Feb: two days, ready on Wed 4.
    forward = plan.answer(question()).forward
    assert (forward.work.finish_date, forward.work.ready_morning) == (feb(3), feb(4))
    assert (forward.pair_hours_per_day, forward.hours_are_observed) == (12, False)


def test_forward_goes_by_the_hours_observed():
    # 24 pair-hours at 5 a day are five days: Thu 5 to Tue 10, Sunday off.
    observed = question(next_day=feb(5), observed_pair_hours_per_day=5.0)
    forward = plan.answer(observed).forward
    assert (forward.work.finish_date, forward.hours_are_observed) == (feb(10), True)


def back_plan_input(**changes) -> BackPlanInput:
    works = (WoodlotWork("Tamarack Hollow", 2400, 0.0),)
    return BackPlanInput(woodlots=works, ready_morning=feb(24), **changes)


@pytest.mark.parametrize(
    ("start", "morning"),
    [
        # Two days of work and two for weather, Sundays off.
        (feb(19), feb(24)),  # Thu, Fri, Sat, Mon
        (feb(18), feb(22)),  # Wed, Thu, Fri, Sat
        (feb(22), feb(27)),  # a Sunday: Mon, Tue, Wed, Thu
        (feb(23), feb(27)),
    ],
)
def test_worked_forward_by_the_rules_of_the_back_plan(start, morning):
    assert plan.ready_if_started(back_plan_input(), start) == morning


def test_forward_and_back_agree_on_every_start():
    for offset in range(40):
        start = feb(1) + timedelta(days=offset)
        morning = plan.ready_if_started(back_plan_input(), start)
        if start.weekday() == 6:
            continue
        again = question(ready=Ready(morning, "typed"), first_runs={})
        assert plan.answer(again).back.start_date == start


def test_other_starts_stand_around_the_plan_which_is_marked():
    rows = plan.answer(question(also_start=feb(10))).others
    assert [row.start for row in rows] == [
        feb(5),
        feb(10),
        feb(12),
        feb(16),
        feb(19),
        feb(22),
        feb(26),
        date(2026, 3, 5),
    ]
    assert [row.start for row in rows if row.chosen] == [feb(19)]


def test_starting_later_never_misses_fewer_first_runs():
    missed = [len(row.missed) for row in plan.answer(question()).others]
    assert missed == sorted(missed)
    # A week later, Thu 26: Fri, Sat and Mon follow, all in by Tue 3 March.
    assert plan.answer(question()).others[-2].missed == (2022, 2023, 2024)


def test_a_start_already_past_is_not_helped_by_the_forecast():
    # From Thu 5 to Tue 10 with two days for weather, whatever the forecast of the 16th reaches.
    seen = question(today=feb(16), next_day=feb(16), forecast_until=feb(28), also_start=feb(5))
    (row,) = (row for row in plan.answer(seen).others if row.start == feb(5))
    assert row.ready_morning == feb(10)


def test_runs_between_start_and_ready_are_named_with_the_start_after_them():
    seen = question(run_days=frozenset({feb(18), feb(20), feb(24)}))
    runs = plan.answer(seen).runs
    assert (runs.days, runs.start_after) == ((feb(20),), feb(21))


@pytest.mark.parametrize(
    ("run", "here"),
    [
        (date(2025, 3, 1), date(2026, 3, 1)),
        (date(2024, 2, 28), feb(28)),
        (date(2024, 3, 1), date(2026, 3, 2)),
        (date(2022, 12, 20), date(2025, 12, 20)),
    ],
)
def test_a_past_run_on_this_calendar_is_as_far_from_december(run, here):
    assert plan.same_place(run, 2026) == here


# The same claims on plans nobody thought of.

PLANS = st.fixed_dictionaries(
    {
        "lost_days": st.integers(0, 6),
        "rest_weekdays": st.frozensets(st.integers(0, 6), max_size=3),
        "works": st.integers(1, 20_000).map(lambda taps: (WoodlotWork("Lot", taps, 0.0),)),
        "forecast_until": st.none() | st.dates(feb(1), feb(28)),
    }
)


def with_cold(changes, days) -> Question:
    until = changes["forecast_until"]
    cold = frozenset(day for day in days if until and day <= until)
    # Before the plan begins, so that no part of it counts as looking back.
    return question(**changes, blocked_days=cold, today=date(2025, 12, 1))


@settings(max_examples=60, deadline=None)
@given(changes=PLANS, days=st.frozensets(st.dates(feb(1), feb(28)), max_size=10))
def test_a_day_is_never_both_ruled_out_and_allowed_for(changes, days):
    asked = with_cold(changes, days)
    for day in plan.answer(asked).back.calendar:
        inside = asked.forecast_until is not None and day.date <= asked.forecast_until
        assert day.kind != "lost" or not inside
        assert day.kind != "ruled out" or inside
        assert (day.kind == "rest") is (day.date.weekday() in asked.rest_weekdays)


@settings(max_examples=60, deadline=None)
@given(changes=PLANS, days=st.frozensets(st.dates(feb(1), feb(28)), max_size=10))
def test_as_many_days_of_tapping_as_the_work_takes(changes, days):
    back = plan.answer(with_cold(changes, days)).back
    kinds = [day.kind for day in back.calendar]
    assert kinds.count("tapping") == back.working_days
    assert kinds.count("lost") <= changes["lost_days"]


@settings(max_examples=40, deadline=None)
@given(changes=PLANS, offset=st.integers(-20, 20))
def test_ready_by_the_answer_and_not_a_morning_earlier(changes, offset):
    start = feb(1) + timedelta(days=offset)
    row = plan.answer(with_cold(changes | {"also_start": start}, frozenset())).others
    (asked,) = (one for one in row if one.start == start)
    for morning, early_enough in ((asked.ready_morning, True), (asked.ready_morning - DAY, False)):
        again = with_cold(changes | {"ready": Ready(morning, "typed")}, frozenset())
        if morning > start:
            assert (plan.answer(again).back.start_date >= start) is early_enough

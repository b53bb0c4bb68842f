"""What the members of a forecast say of the days ahead, by hand."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from apps.domain import sap_run as sr
from apps.domain import start_guidance as sg
from apps.domain.errors import DomainError, OutOfRange

DAY = timedelta(days=1)
TODAY = date(2026, 2, 16)
FROZEN, RUN, MILD, HARD = (-6.0, -2.0), (-4.0, 8.0), (-3.0, 3.0), (-12.0, -4.0)
NAN = (float("nan"), float("nan"))


def model(*members, before=2):
    """(members, days) of (minimum, maximum) pairs, frozen for `before` days before today."""
    temps = np.array([[FROZEN] * before + list(days) for days in members])
    dates = [TODAY + (n - before) * DAY for n in range(temps.shape[1])]
    return sr.days_from_extremes(dates, temps[..., 0], temps[..., 1])


def seen(*models, signs=sg.USUAL_SIGNS, **changes):
    return sg.look_ahead(models, TODAY, signs, **changes)


def test_the_days_start_today():
    assert [day.date for day in seen(model([FROZEN] * 3)).days] == [
        TODAY,
        TODAY + DAY,
        TODAY + 2 * DAY,
    ]


@pytest.mark.parametrize(
    ("day", "thaw", "warm", "freeze_thaw"),
    [
        (FROZEN, 0, 0, 0),
        (MILD, 1, 0, 1),
        (RUN, 1, 1, 1),
        ((1.0, 6.0), 1, 1, 0),
        ((-1.1, 2.2), 1, 0, 1),
        ((-1.0, 2.2), 1, 0, 0),
        ((-4.0, 2.1), 0, 0, 0),
    ],
)
def test_a_day_is_judged_by_the_limits(day, thaw, warm, freeze_thaw):
    told = seen(model([FROZEN, day])).days[1]
    assert (told.thaw, told.warm, told.freeze_thaw) == (thaw, warm, freeze_thaw)


def test_each_model_weighs_the_same_however_many_members_it_has():
    told = seen(model([RUN]), model(*[[FROZEN]] * 9))
    assert told.days[0].warm == 0.5
    assert told.weight.tolist() == pytest.approx([0.5] + [0.5 / 9] * 9)


@pytest.mark.parametrize(("members", "fit"), [(1, False), (9, False), (10, True)])
def test_under_ten_members_no_percentage_is_fit(members, fit):
    assert seen(model(*[[FROZEN]] * members)).fit_for_percent is fit


# Each run day is worth some 78 degree-hours, so the second of them reaches 100.
@pytest.mark.parametrize(
    ("days", "first"),
    [
        ([FROZEN, RUN, RUN, RUN, RUN, FROZEN], 2),
        ([FROZEN, RUN, FROZEN, FROZEN, FROZEN, FROZEN], -1),
        ([FROZEN, RUN, RUN, FROZEN, FROZEN, FROZEN], -1),
        ([RUN, RUN, *[HARD] * 6, *[RUN] * 6], 10),
        ([FROZEN] * 6, -1),
    ],
)
def test_a_first_run_takes_warmth_and_a_spell(days, first):
    signs = replace(sg.USUAL_SIGNS, trusted_days=14)
    assert seen(model(days), signs=signs).first_run.tolist() == [first]


def test_a_single_warm_day_in_january_is_no_first_run():
    assert seen(model([FROZEN, (-5.0, 12.0), *[FROZEN] * 8])).first_run.tolist() == [-1]


def test_warmth_gathered_before_the_forecast_counts_until_a_hard_freeze():
    days = [(-4.0, -1.0), RUN, RUN, RUN, RUN]
    mild = sr.days_from_extremes(
        [TODAY + (n - 2) * DAY for n in range(7)],
        np.array([[-4.0, -4.0] + [low for low, _ in days]]),
        np.array([[-1.0, -1.0] + [high for _, high in days]]),
    )
    assert seen(mild).first_run.tolist() == [2]
    assert seen(mild, gathered_degree_hours=50.0).first_run.tolist() == [1]
    hard = model([HARD, FROZEN, FROZEN, RUN, RUN, RUN, RUN])
    assert seen(hard, gathered_degree_hours=50.0).first_run.tolist() == [4]


def test_a_first_run_beyond_the_days_trusted_is_left_to_the_past():
    days = [FROZEN] * 5 + [RUN] * 8
    told = seen(model(days), signs=replace(sg.USUAL_SIGNS, trusted_days=6))
    assert (told.first_run.tolist(), told.known_days.tolist()) == ([-1], [6])
    assert told.runs[0, 5:].all()


def test_a_member_is_known_up_to_its_first_unknown_day():
    told = seen(model([FROZEN, NAN, RUN, RUN, RUN], [FROZEN] * 5))
    assert told.known_days.tolist() == [1, 5]
    assert told.runs[0].tolist() == [False] * 5
    assert [day.members for day in told.days] == [2, 1, 1, 1, 1]


def test_members_and_models_that_do_not_know_today_are_left_out():
    told = seen(model([NAN], [FROZEN]), model([NAN]))
    assert told.weight.tolist() == [1.0]
    assert seen(model([NAN])) is None
    assert sg.look_ahead([], TODAY) is None


def test_a_model_that_begins_after_today_is_left_out():
    late = sr.days_from_extremes([TODAY + DAY], np.array([[-3.0]]), np.array([[3.0]]))
    assert seen(late) is None


def test_a_model_without_days_is_left_out():
    none = sr.days_from_extremes([], np.empty((1, 0)), np.empty((1, 0)))
    assert seen(none) is None


def test_without_the_two_days_before_a_thaw_stands_in_for_a_run():
    told = seen(model([RUN, RUN, RUN], before=0)).days
    assert [day.run for day in told[:2]] == [None, None]
    assert told[2].run is not None
    assert [day.sap_likely for day in told] == [True, True, True]


def test_models_of_different_length_are_matched_by_date():
    told = seen(model([FROZEN] * 2), model([RUN] * 4))
    assert [day.warm for day in told.days] == [0.5, 0.5, 1.0, 1.0]
    assert told.runs.shape == (2, 4)


def test_gathering_starts_again_at_a_hard_freeze():
    weather = model([RUN, RUN, (-10.0, 4.0), RUN], before=0)
    warmth = weather.thaw_degree_hours[0]
    told = sg.gathered_since_hard_freeze(weather)[0]
    assert told == pytest.approx([warmth[0], warmth[:2].sum(), warmth[2], warmth[2:].sum()])


def test_gathering_of_one_series_equals_that_of_the_inferred_first_run():
    rng = np.random.default_rng(4)
    low = rng.uniform(-16, 3, 90)
    dates = [date(2026, 1, 1) + n * DAY for n in range(90)]
    weather = sr.days_from_extremes(dates, low, low + rng.uniform(1, 12, 90))
    # 1e-9: sums in another order.
    ours, theirs = sg.gathered_since_hard_freeze(weather), sr.since_hard_freeze(weather)
    assert ours == pytest.approx(theirs, abs=1e-9)


def test_less_than_no_warmth_is_refused():
    with pytest.raises(OutOfRange):
        sg.gathered_since_hard_freeze(model([RUN]), -1.0)


@pytest.mark.parametrize(
    ("wrong", "error"),
    [
        ({"freeze_c": -50.0}, OutOfRange),
        ({"warm_c": 1.0}, DomainError),
        ({"freeze_c": 3.0}, DomainError),
        ({"first_run_degree_hours": -1.0}, OutOfRange),
        ({"trusted_days": 31}, OutOfRange),
        ({"wait_out_days": -1}, OutOfRange),
    ],
)
def test_impossible_signs_are_refused(wrong, error):
    with pytest.raises(error):
        sg.Signs(**wrong)


def test_the_last_day_known_is_that_of_the_longest_member():
    assert seen(model([FROZEN, FROZEN, NAN], [FROZEN] * 3)).until == TODAY + 2 * DAY

"""The edges of tapping's arithmetic: calm air, the warmest chill, one cold hour, lost days."""

from datetime import date

import numpy as np
import pytest

from apps.domain import tapping
from apps.domain.errors import DomainError
from apps.domain.tapping import pace
from apps.domain.units import celsius_from_fahrenheit, kmh_from_mph

NOON_C, CALM_MPH = -10.0, 3.0


class TestWindChill:
    # The index is defined for wind over 3 mph at 50 F and under (NWS 2001; 50 F from memory).
    def test_at_three_miles_an_hour_the_air_is_calm(self):
        assert tapping.wind_chill_c(NOON_C, kmh_from_mph(CALM_MPH)) == NOON_C

    def test_just_over_three_miles_an_hour_it_is_not(self):
        assert tapping.wind_chill_c(NOON_C, kmh_from_mph(3.5)) < NOON_C - 1

    def test_at_fifty_fahrenheit_the_index_still_holds(self):
        # 35.74 + 0.6215 x 50 - 35.75 x 20^0.16 + 0.4275 x 50 x 20^0.16 = 43.6 F by hand.
        felt = tapping.wind_chill_c(10.0, kmh_from_mph(20.0))
        assert felt == pytest.approx(celsius_from_fahrenheit(43.6), abs=0.05)


def test_one_hour_too_cold_is_enough_to_rule_out_a_day_that_has_too_few_left():
    temps, winds = np.array([-30.0, -5.0, -5.0]), np.array([0.0, 0.0, 0.0])
    found = tapping.judge_work_hours(temps, winds, 3.0)
    assert (found.too_cold, found.workable, found.ruled_out) == (1, 2, True)


def test_a_crew_that_never_works_cannot_be_forecast():
    with pytest.raises(DomainError, match="at least one weekday"):
        tapping.ReforecastInput((), date(2026, 3, 6), 5.0, rest_weekdays=frozenset(range(7)))


def test_after_an_early_run_tapping_may_start_on_a_day_held_for_losing():
    # 600 taps at 100 an hour take 6 pair-hours, one day of 12; the two days before may be lost.
    work = pace.WoodlotWork("A", 600, 0.1)
    plan = tapping.back_plan(tapping.BackPlanInput((work,), date(2026, 3, 14)))
    kinds = [day.kind for day in plan.calendar]
    assert kinds == ["lost", "lost", "tapping"]
    found = tapping.runs_before_ready(plan, [plan.start_date])
    assert found.start_after == plan.calendar[1].date


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (
            lambda: tapping.seasons_missed({}, date(2026, 12, 1), 2026),
            "^ready_morning must be between 2025-12-01 and 2026-11-30 in season 2026",
        ),
        (
            lambda: tapping.ready_morning_from_history({2025: date(2026, 3, 1)}, 0, 2026),
            "^first_runs must be between 2024-12-01 and 2025-11-30 in season 2025",
        ),
    ],
)
def test_a_date_outside_its_season_is_refused_by_name(call, message):
    with pytest.raises(DomainError, match=message):
        call()

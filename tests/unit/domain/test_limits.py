"""Every limit of the leak ranking and of tapping: reached it is taken, a hair past it is refused.

The limits themselves are ours; what they keep out is a figure typed in the wrong unit.
"""

import math
from datetime import date

import numpy as np
import pytest

from apps.domain import leak_ranking, tapping
from apps.domain.errors import OutOfRange
from apps.domain.leak_ranking import MOST_TAPS, LineState

FIRST_RUNS = {2024: date(2024, 2, 20), 2025: date(2025, 3, 1), 2026: date(2026, 2, 25)}
READY = date(2026, 3, 11)
ONE_HOUR = np.array([1.0])
WHOLE = ("taps", "pairs", "lost_days", "taps_left", "accept_missing")


def _line(**known):
    return LineState(**{"line_id": "A", "taps": 100, "reading_kpa": 80.0} | known)


def _rank(**known):
    return leak_ranking.rank([_line()], **{"target_kpa": 85.0} | known)


def _rank_arrays(taps=100.0, minutes=45.0, **known):
    arrays = (np.array([taps]), np.array([80.0]), np.array([minutes]))
    return leak_ranking.rank_arrays(*arrays, **{"target_kpa": 85.0} | known)


def _plan(**known):
    return tapping.BackPlanInput(**{"woodlots": (), "ready_morning": READY} | known)


def _evening(hours):
    return tapping.ReforecastInput((), READY, hours)


def _work(**known):
    return tapping.WoodlotWork(**{"name": "A", "taps_left": 1, "snow_depth_m": 0.1} | known)


LIMITS = (
    (lambda value: _line(taps=value), "taps", 0, MOST_TAPS),
    (lambda value: _line(walk_minutes=value), "walk_minutes", 0, 1440),
    (lambda value: _line(fix_minutes=value), "fix_minutes", 0, 1440),
    (lambda value: _line(reading_kpa=value), "reading_kpa", 0, 200),
    (lambda value: _rank(target_kpa=value), "target_kpa", 1, 110),
    (
        lambda value: _rank(sap_litres_per_tap_day=value),
        "sap_litres_per_tap_day",
        0,
        100,
    ),
    (lambda value: _rank_arrays(taps=value), "taps", 0, MOST_TAPS),
    (lambda value: _rank_arrays(minutes=value), "minutes", 0.001, 2880),
    (
        lambda value: _rank_arrays(sap_litres_per_tap_day=value),
        "sap_litres_per_tap_day",
        0,
        100,
    ),
    (lambda value: _plan(pairs=value), "pairs", 1, 100),
    (lambda value: _plan(hours_per_day=value), "hours_per_day", 0.5, 24),
    (lambda value: _plan(lost_days=value), "lost_days", 0, 60),
    (_evening, "pair_hours_per_day", 0.5, 2400),
    (lambda value: tapping.SnowPaces(light=value), "light", 1, 1000),
    (lambda value: tapping.SnowPaces(middle=value), "middle", 1, 1000),
    (lambda value: tapping.SnowPaces(deep=value), "deep", 1, 1000),
    (
        lambda value: tapping.SnowPaces(middle_from_m=value, deep_over_m=5),
        "middle_from_m",
        0,
        5,
    ),
    (lambda value: tapping.SnowPaces(deep_over_m=value), "deep_over_m", 0.3048, 5),
    (lambda value: _work(taps_left=value), "taps_left", 0, 1_000_000),
    (lambda value: _work(snow_depth_m=value), "snow_depth_m", 0, 5),
    (lambda value: _work(observed_pace=value), "observed_pace", 1, 1000),
    (tapping.pace_taps_per_pair_hour, "snow_depth_m", 0, 5),
    (lambda value: tapping.ColdLimits(air_c=value), "air_c", -60, 20),
    (lambda value: tapping.ColdLimits(wind_chill_c=value), "wind_chill_c", -80, 20),
    (lambda value: tapping.wind_chill_c(value, 10.0), "temp_c", -90, 60),
    (lambda value: tapping.wind_chill_c(0.0, value), "wind_kmh", 0, 400),
    (
        lambda value: tapping.judge_work_hours(ONE_HOUR, ONE_HOUR, value),
        "hours_needed",
        0.5,
        24,
    ),
    (tapping.taps_for_diameter, "diameter_cm", 1, 300),
    (tapping.diameter_cm_from_circumference, "circumference_cm", 3, 950),
    (
        lambda value: tapping.ready_morning_from_history(FIRST_RUNS, value, 2026),
        "accept_missing",
        0,
        2,
    ),
)
EACH = pytest.mark.parametrize(
    ("call", "name", "low", "high"), LIMITS, ids=[f"{at}-{row[1]}" for at, row in enumerate(LIMITS)]
)


@EACH
def test_a_value_at_either_limit_is_taken(call, name, low, high):
    for value in (low, high):
        call(value)


@EACH
def test_a_value_past_either_limit_is_refused_by_name_and_range(call, name, low, high):
    for value in (_past(name, low, -1), _past(name, high, 1)):
        with pytest.raises(OutOfRange) as refusal:
            call(value)
        assert refusal.value.name == name
        assert (refusal.value.low, refusal.value.high) == (low, high)


def _past(name, limit, direction):
    if name in WHOLE:
        return limit + direction
    return math.nextafter(limit, direction * math.inf)

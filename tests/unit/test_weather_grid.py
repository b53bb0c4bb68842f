"""Hours moved to a woodlot's height by hand: 6.5 C a kilometre (ISO 2533, 1975), none invented."""

from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.domain.errors import OutOfRange
from apps.weather.queries.grid import possible_only, to_woodlot

LAPSE = 0.0065
NAN = float("nan")


def moved(temps_c, used_m, elevation_m=400.0, offset_c=0.0):
    lot = SimpleNamespace(elevation_m=elevation_m)
    return to_woodlot(np.array(temps_c, dtype=float), used_m, lot, LAPSE, offset_c).tolist()


@pytest.mark.parametrize(
    ("used_m", "there_c"),
    [(400.0, 0.0), (100.0, -1.95), (700.0, 1.95), (None, 0.0)],
)
def test_three_hundred_metres_are_two_degrees_either_way(used_m, there_c):
    assert moved([0.0], used_m) == [pytest.approx(there_c)]


def test_the_woodlots_own_offset_is_added_once():
    assert moved([0.0], 100.0, offset_c=-1.5) == [pytest.approx(-3.45)]
    assert moved([0.0], None, offset_c=-1.5) == [pytest.approx(-1.5)]


def test_a_missing_hour_stays_missing():
    assert np.isnan(moved([NAN, 1.0], 100.0)).tolist() == [True, False]


def test_only_the_hours_that_no_air_has_had_go_missing():
    # 8,600 m down: 55.9 C warmer, so that 6 C would be 61.9 and -5 C is 50.9.
    there = moved([6.0, -5.0], 9000.0)
    assert np.isnan(there[0])
    assert there[1] == pytest.approx(50.9)


@pytest.mark.parametrize("used_m", [-501.0, 9001.0])
def test_a_height_off_the_earth_is_refused(used_m):
    with pytest.raises(OutOfRange, match="from_elevation_m"):
        moved([0.0], used_m)


@given(st.lists(st.one_of(st.just(NAN), st.floats(-200, 200)), min_size=1, max_size=30))
def test_what_is_possible_is_left_as_it_is(values):
    kept = possible_only(np.array(values))
    for before, after in zip(values, kept.tolist(), strict=True):
        if -90 <= before <= 60:
            assert after == before
        else:
            assert np.isnan(after)

"""The offset suggested: own reading less grid, by hand."""

from datetime import timedelta

import numpy as np
import pytest

from apps.operation.queries import constants
from apps.weather.packing import pack
from apps.weather.queries.offset import offset_suggestions
from tests.factories import readings as made
from tests.factories import weather as forecasts
from tests.factories.woods import woodlot

pytestmark = pytest.mark.django_db
NOW = made.NOW
START = NOW - timedelta(days=5)


def suggested(lot, now=NOW):
    found = offset_suggestions(lot, constants(), now)
    return {one.against: (one.hours, one.median_c) for one in found}


def forecast(lot, temps_c, *, fetched_at=START, start_at=START, model="by hand", **changes):
    run = forecasts.run(fetched_at=fetched_at, model=model)
    return forecasts.stored(run, lot, temps_c, start_at=start_at, **changes)


def test_nothing_is_suggested_without_own_readings_or_without_a_grid():
    lot, other = woodlot("Beech Ledge"), woodlot("Cold Brook")
    forecast(lot, [1.0] * 24)
    made.imported(other, START, [1.0] * 24)
    assert suggested(lot) == suggested(other) == {}


def test_hours_that_do_not_overlap_suggest_nothing():
    lot = woodlot()
    forecast(lot, [1.0] * 24)
    made.imported(lot, START - timedelta(days=3), [1.0] * 24)
    assert suggested(lot) == {}


@pytest.mark.parametrize(
    ("used_m", "median_c"),
    # By hand: read at 5 C; the grid's 3 C moved to 400 m at 6.5 C per km.
    [(400.0, 2.0), (700.0, 2.0 - 1.95), (100.0, 2.0 + 1.95), (None, 2.0)],
)
def test_the_grid_is_moved_to_the_woodlot_and_its_offset_left_out(used_m, median_c):
    lot = woodlot(elevation_m=400.0, temperature_offset_c=3.0)
    forecast(lot, [3.0] * 24, elevation_used_m=used_m)
    made.imported(lot, START, [5.0] * 24)
    assert suggested(lot) == {"made-up forecast, by hand": (24, pytest.approx(median_c))}


def test_the_median_is_not_moved_by_a_few_wild_hours():
    lot = woodlot()
    forecast(lot, [0.0] * 24)
    made.imported(lot, START, [1.0] * 13 + [30.0] * 11)
    (one,) = offset_suggestions(lot, constants(), NOW)
    assert (one.median_c, one.lower_c, one.upper_c) == (1.0, 1.0, 30.0)


def test_only_the_first_day_of_a_forecast_is_compared():
    lot = woodlot()
    forecast(lot, [0.0] * 72)
    made.imported(lot, START, [1.0] * 72)
    assert suggested(lot) == {"made-up forecast, by hand": (24, 1.0)}


def test_a_newer_forecast_has_the_word_on_an_hour():
    lot = woodlot()
    later = START + timedelta(hours=12)
    forecast(lot, [0.0] * 24)
    forecast(lot, [2.0] * 24, fetched_at=later, start_at=later)
    made.imported(lot, START, [3.0] * 36)
    (one,) = offset_suggestions(lot, constants(), NOW)
    assert (one.hours, one.median_c, one.upper_c) == (36, 1.0, 3.0)


def test_models_are_compared_each_by_itself():
    lot = woodlot()
    forecast(lot, [0.0] * 24)
    forecast(lot, [1.0] * 24, model="another", fetched_at=START + timedelta(minutes=1))
    made.archive_winter(lot, 2026, [2.0] * 24, start_at=START)
    made.imported(lot, START, [3.0] * 24)
    assert suggested(lot) == {
        "made-up forecast, by hand": (24, 3.0),
        "made-up forecast, another": (24, 2.0),
        "made-up archive, era5_seamless": (24, 1.0),
    }


def test_an_ensemble_is_compared_by_the_median_of_the_members_that_have_the_hour():
    lot = woodlot()
    members = np.array([[0.0] * 24, [1.0] * 24, [5.0] * 24])
    members[2, :4] = np.nan
    members[:, 4] = np.nan
    forecast(lot, [0.0] * 24, members=3, packed=pack(members))
    made.imported(lot, START, [2.0] * 24)
    (one,) = offset_suggestions(lot, constants(), NOW)
    assert (one.hours, one.median_c, one.upper_c) == (23, 1.0, 1.0)


def test_a_forecast_of_a_clock_since_put_back_is_left_out():
    lot = woodlot()
    forecast(lot, [0.0] * 24)
    made.imported(lot, START, [1.0] * 24)
    assert suggested(lot, now=START - timedelta(minutes=1)) == {}


@pytest.mark.parametrize(("hours", "enough"), [(71, False), (72, True)])
def test_three_days_are_enough(hours, enough):
    lot = woodlot()
    made.archive_winter(lot, 2026, [0.0] * hours, start_at=START)
    made.imported(lot, START, [1.0] * hours)
    (one,) = offset_suggestions(lot, constants(), NOW)
    assert one.enough == enough

"""What the weather tables refuse, whoever writes to them."""

import pytest
from django.db import IntegrityError, transaction

from apps.weather.models import (
    ForecastRun,
    GridCell,
    HourlySeries,
    RefreshAttempt,
    SourceAttempt,
)
from tests.factories import weather as made
from tests.factories.woods import woodlot

pytestmark = pytest.mark.django_db


def refuses(constraint, make):
    with pytest.raises(IntegrityError, match=constraint), transaction.atomic():
        make()


@pytest.mark.parametrize(
    ("changes", "constraint"),
    [
        ({"provider": ""}, "forecast_run_has_a_provider"),
        ({"product": ""}, "forecast_run_has_a_product"),
        ({"model": ""}, "forecast_run_has_a_model"),
        ({"attribution": ""}, "forecast_run_names_its_source"),
        ({"payload_sha256": "a" * 63}, "forecast_run_sha256_whole"),
        ({"run_time": made.hours_ago(-1)}, "forecast_run_began_before_it_was_fetched"),
        ({"run_time_is_exact": True}, "forecast_run_exact_time_is_known"),
        ({"native_step_hours": 0}, "forecast_run_native_step_range"),
        ({"native_step_hours": 25}, "forecast_run_native_step_range"),
    ],
)
def test_a_run_names_who_forecast_it(changes, constraint):
    refuses(constraint, lambda: made.run(**changes))
    assert not ForecastRun.objects.exists()


@pytest.mark.parametrize(
    ("changes", "constraint"),
    [
        ({"hours": 0, "packed": b""}, "hourly_series_hours_range"),
        ({"hours": 9601, "packed": bytes(9601 * 4)}, "hourly_series_hours_range"),
        ({"members": 0, "packed": b""}, "hourly_series_members_range"),
        ({"members": 201, "packed": bytes(201 * 2 * 4)}, "hourly_series_members_range"),
        ({"packed": bytes(7)}, "hourly_series_packed_whole"),
        ({"members": 2}, "hourly_series_packed_whole"),
        ({"grid_latitude": 90.1}, "hourly_series_latitude_range"),
        ({"grid_longitude": -180.1}, "hourly_series_longitude_range"),
        ({"elevation_used_m": 9000.1}, "hourly_series_elevation_range"),
        ({"elevation_used_m": -500.1}, "hourly_series_elevation_range"),
        ({"coarse_from": 1}, "hourly_series_coarse_step_range"),
        ({"coarse_step_hours": 6}, "hourly_series_coarse_step_range"),
        ({"coarse_from": 2, "coarse_step_hours": 6}, "hourly_series_coarse_step_range"),
        ({"coarse_from": 1, "coarse_step_hours": 1}, "hourly_series_coarse_step_range"),
        ({"coarse_from": 1, "coarse_step_hours": 25}, "hourly_series_coarse_step_range"),
    ],
)
def test_hours_are_whole_and_in_range(changes, constraint):
    run, lot = made.run(), woodlot()
    refuses(constraint, lambda: made.stored(run, lot, [1.0, 2.0], **changes))
    assert not HourlySeries.objects.exists()


def test_a_run_has_one_series_for_a_woodlot():
    run, lot = made.run(), woodlot()
    made.stored(run, lot, [1.0])
    with pytest.raises(IntegrityError), transaction.atomic():
        made.stored(run, lot, [2.0])
    assert HourlySeries.objects.count() == 1


@pytest.mark.parametrize(
    ("changes", "constraint"),
    [
        ({"outcome": "splendid"}, "refresh_attempt_outcome_known"),
        ({"detail": ""}, "refresh_attempt_says_how_it_went"),
    ],
)
def test_an_attempt_says_how_it_went(changes, constraint):
    refuses(constraint, lambda: made.attempt(**changes))
    assert not RefreshAttempt.objects.exists()


def test_only_one_attempt_runs_at_a_time():
    made.attempt(outcome="running", detail="")
    with pytest.raises(IntegrityError), transaction.atomic():
        made.attempt(outcome="running", detail="")
    made.attempt(outcome="ok")
    assert RefreshAttempt.objects.count() == 2


@pytest.mark.parametrize(
    ("changes", "constraint"),
    [
        ({"outcome": "splendid"}, "source_attempt_outcome_known"),
        ({"detail": ""}, "source_attempt_says_how_it_went"),
    ],
)
def test_every_source_asked_says_how_it_went(changes, constraint):
    asked = made.attempt()
    refuses(constraint, lambda: made.source_attempt(attempt=asked, **changes))
    assert not SourceAttempt.objects.exists()


def test_a_model_is_asked_once_in_a_refresh():
    asked = made.attempt()
    made.source_attempt(attempt=asked)
    with pytest.raises(IntegrityError), transaction.atomic():
        made.source_attempt(attempt=asked)
    made.source_attempt(attempt=asked, model="another")
    assert asked.sources.count() == 2


def cell(**changes):
    fields = {"latitude": 43.9, "longitude": -75.3, "grid": "BTV/1,2", "found_at": made.NOW}
    return GridCell.objects.create(**fields | changes)


def test_a_place_has_one_cell_of_the_grid_and_it_has_a_name():
    cell()
    with pytest.raises(IntegrityError), transaction.atomic():
        cell(grid="BTV/3,4")
    refuses("grid_cell_is_named", lambda: cell(latitude=44.0, grid=""))
    assert GridCell.objects.count() == 1

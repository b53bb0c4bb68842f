"""What the weather tables refuse, whoever writes to them."""

import pytest
from django.db import IntegrityError, transaction

from apps.weather.models import ForecastRun, HourlySeries, RefreshAttempt
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
        ({"not_before": made.NOW}, "refresh_attempt_waits_forward"),
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

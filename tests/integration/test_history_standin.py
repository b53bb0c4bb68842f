"""Past winters through the real client, from a service that obeys the archive's contract."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from apps.demo.weather_story import temperature_c
from apps.weather import actions_history as actions
from apps.weather.client.archive import Archive
from apps.weather.models import ArchiveWinter, HistoryFetch
from apps.weather.queries.history import history_hours
from tests.factories.weather import QUICK
from tests.factories.woods import woodlot
from tests.standin.server import StandIn

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 3, 16, 11, 0, tzinfo=UTC)


@pytest.fixture
def service():
    with StandIn(now=NOW) as standin:
        yield standin


def run(service, *, now=NOW, winters=2):
    return actions.fetch_history(
        clock=lambda: now,
        rest=lambda: None,
        told=lambda _: None,
        fetch=Archive(base_url=service.url, pace=QUICK).fetch,
        winters=winters,
    )


def test_each_winter_is_one_request_for_all_woodlots_in_utc_by_the_pinned_model(service):
    for name, latitude in (("Beech Ledge", 43.95), ("Cold Brook", 43.85)):
        woodlot(name, latitude=latitude)
    fetched = run(service)
    assert fetched.detail == "4 winters stored, 0 still to fetch."
    asked = [seen for seen in service.seen if seen.path == "/v1/archive"]
    assert [(one.query["start_date"], one.query["end_date"]) for one in asked] == [
        ("2024-11-30", "2025-06-01"),
        ("2023-11-30", "2024-06-01"),
    ]
    assert {one.sites for one in asked} == {2}
    assert {one.query["models"] for one in asked} == {"era5_seamless"}
    assert {one.query["timezone"] for one in asked} == {"GMT"}


def test_the_hours_at_the_woodlot_are_those_of_the_story_moved_once(service):
    lot = woodlot(elevation_m=700.0)
    run(service, winters=1)
    row = ArchiveWinter.objects.get()
    cell = [float(np.floor(v / 0.125) * 0.125 + 0.0625) for v in (lot.latitude, lot.longitude)]
    stamps = int(row.start_at.timestamp()) + 3600 * np.arange(row.hours)
    at_700_m = temperature_c(*cell, 700.0, stamps)
    # The service rounds to 0.1 C.
    assert history_hours(lot)[2025].temps_c == pytest.approx(at_700_m, abs=0.051)


def test_the_days_the_archive_does_not_know_yet_are_missing_and_come_later():
    woodlot()
    # The archive lags more than it says: on 10 June it stands where 4 June should have left it.
    june_10 = datetime(2026, 6, 10, 1, tzinfo=UTC)
    with StandIn(now=datetime(2026, 6, 4, tzinfo=UTC)) as behind:
        run(behind, now=june_10, winters=1)
    row = ArchiveWinter.objects.get()
    # Five days back from 4 June: 30 May is the first day missing, 1 June the last asked for.
    assert (row.winter, row.hours - row.known_hours) == (2026, 72)
    assert np.isnan(row.temps_c()[-72:]).all()
    with StandIn(now=june_10 + timedelta(days=2)) as caught_up:
        run(caught_up, now=june_10 + timedelta(days=2), winters=1)
    row.refresh_from_db()
    assert row.known_hours == row.hours


@pytest.mark.parametrize(
    ("fault", "waits"),
    [
        ("overloaded_503", False),
        ("bad_gateway", False),
        ("page_200", False),
        ("mid_stream", False),
        ("limit_hour", True),
    ],
)
def test_a_fault_of_the_service_stops_the_fetching_and_keeps_what_came(service, fault, waits):
    woodlot()
    service.fail(fault, after=1)
    fetched = run(service, winters=3)
    assert fetched.outcome == HistoryFetch.Outcome.STOPPED
    assert "1 winters came before that." in fetched.detail
    assert (fetched.not_before is not None) == waits
    assert ArchiveWinter.objects.count() == 1


@pytest.mark.parametrize("fault", ["implausible", "fahrenheit", "length_mismatch", "nulls_all"])
def test_hours_that_cannot_be_believed_are_not_kept(service, fault):
    woodlot()
    service.fail(fault)
    run(service, winters=1)
    assert not ArchiveWinter.objects.exists()

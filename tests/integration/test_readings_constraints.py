"""What the tables of readings and past winters refuse, whoever writes to them."""

import pytest
from django.db import IntegrityError, transaction

from apps.operation.models import Device
from apps.weather.models import (
    ArchiveWinter,
    HistoryFetch,
    RecordedYear,
    SetAside,
    Thermometer,
    ThermometerReading,
)
from tests.factories import readings as made
from tests.factories.woods import woodlot

pytestmark = pytest.mark.django_db
NOW = made.NOW


def refuses(constraint, make):
    with pytest.raises(IntegrityError, match=constraint), transaction.atomic():
        make()


def a_device(**changes):
    fields = {"name": "North wall", "token_sha256": "a" * 64, "added_at": NOW}
    return Device.objects.create(**fields | changes)


@pytest.mark.parametrize(
    ("changes", "constraint"),
    [
        ({"name": ""}, "device_has_a_name"),
        ({"token_sha256": "a" * 63}, "device_token_hash_whole"),
        ({"token_sha256": ""}, "device_token_hash_whole"),
    ],
)
def test_a_device_has_a_name_and_a_whole_hash(changes, constraint):
    refuses(constraint, lambda: a_device(**changes))
    assert not Device.objects.exists()


@pytest.mark.parametrize(
    ("changes", "column"),
    [({"token_sha256": "b" * 64}, "name"), ({"name": "South wall"}, "token_sha256")],
)
def test_a_name_and_a_token_are_one_devices_own(changes, column):
    a_device()
    refuses(column, lambda: a_device(**changes))


def test_a_device_stands_in_one_woodlot():
    device = a_device()
    Thermometer.objects.create(device=device, woodlot=woodlot("Beech Ledge"))
    other = woodlot("Cold Brook")
    refuses("device_id", lambda: Thermometer.objects.create(device=device, woodlot=other))


def test_a_thermometer_has_one_reading_for_a_moment():
    thermometer = made.thermometer(woodlot())
    made.reading(thermometer, temp_c=1.0)
    with pytest.raises(IntegrityError), transaction.atomic():
        made.reading(thermometer, temp_c=2.0)
    assert ThermometerReading.objects.count() == 1


@pytest.mark.parametrize("temp_c", [-60.01, 60.01, -85.0])
def test_a_reading_nobody_believes_is_no_reading(temp_c):
    thermometer = made.thermometer(woodlot())
    refuses("thermometer_reading_believable", lambda: made.reading(thermometer, temp_c=temp_c))


def a_year(lot, **changes):
    fields = {"woodlot": lot, "year": 2025, "packed": bytes(8760 * 4), "imported_at": NOW}
    return RecordedYear.objects.create(**fields | changes)


@pytest.mark.parametrize(
    ("changes", "constraint"),
    [
        ({"year": 1899}, "recorded_year_range"),
        ({"year": 2201}, "recorded_year_range"),
        ({"packed": bytes(8760 * 4 - 1)}, "recorded_year_whole"),
        ({"packed": b""}, "recorded_year_whole"),
    ],
)
def test_a_recorded_year_is_whole(changes, constraint):
    lot = woodlot()
    refuses(constraint, lambda: a_year(lot, **changes))


def test_a_woodlot_has_one_record_of_a_year():
    lot = woodlot()
    a_year(lot)
    with pytest.raises(IntegrityError), transaction.atomic():
        a_year(lot)


def doubted(lot, **changes):
    fields = {"source": "import", "at": NOW, "value_c": -85.0, "reason": "broken"}
    return SetAside.objects.create(woodlot=lot, noted_at=NOW, **fields | changes)


@pytest.mark.parametrize(
    ("changes", "constraint"),
    [({"source": "rumour"}, "set_aside_source_known"), ({"reason": ""}, "set_aside_says_why")],
)
def test_a_value_set_aside_says_from_where_and_why(changes, constraint):
    lot = woodlot()
    refuses(constraint, lambda: doubted(lot, **changes))


def test_a_value_is_set_aside_once():
    lot = woodlot()
    doubted(lot)
    with pytest.raises(IntegrityError), transaction.atomic():
        doubted(lot)
    doubted(lot, value_c=-127.0)
    assert SetAside.objects.count() == 2


@pytest.mark.parametrize(
    ("changes", "constraint"),
    [
        ({"provider": ""}, "archive_winter_names_its_source"),
        ({"model": ""}, "archive_winter_names_its_source"),
        ({"attribution": ""}, "archive_winter_names_its_source"),
        ({"hours": 3}, "archive_winter_whole"),
        ({"known_hours": 3}, "archive_winter_known_within_hours"),
        ({"elevation_used_m": 9000.1}, "archive_winter_elevation_range"),
        ({"elevation_used_m": -500.1}, "archive_winter_elevation_range"),
    ],
)
def test_an_archive_winter_is_whole_and_names_its_source(changes, constraint):
    lot = woodlot()
    refuses(constraint, lambda: made.archive_winter(lot, 2025, [1.0, 2.0], **changes))
    assert not ArchiveWinter.objects.exists()


@pytest.mark.parametrize("winter", [1899, 2201])
def test_an_archive_winter_is_of_a_believable_year(winter):
    lot, start = woodlot(), made.winter_start(2025)
    refuses("archive_winter_range", lambda: made.archive_winter(lot, winter, [1.0], start_at=start))


def test_a_woodlot_has_a_winter_once_a_model():
    lot = woodlot()
    made.archive_winter(lot, 2025, [1.0])
    with pytest.raises(IntegrityError), transaction.atomic():
        made.archive_winter(lot, 2025, [2.0])
    made.archive_winter(lot, 2025, [2.0], model="era5_land")
    assert ArchiveWinter.objects.count() == 2


@pytest.mark.parametrize(
    ("changes", "constraint"),
    [
        ({"outcome": "splendid"}, "history_fetch_outcome_known"),
        ({"detail": ""}, "history_fetch_says_how_it_went"),
    ],
)
def test_a_fetch_says_how_it_went(changes, constraint):
    refuses(constraint, lambda: made.history_fetch(**changes))
    assert not HistoryFetch.objects.exists()


def test_only_one_fetch_runs_at_a_time():
    made.history_fetch(outcome="running", detail="")
    with pytest.raises(IntegrityError), transaction.atomic():
        made.history_fetch(outcome="running", detail="")

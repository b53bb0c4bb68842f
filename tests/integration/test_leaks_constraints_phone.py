"""What the database itself refuses about places, parts, obstructions and photos."""

import pytest
from django.db import IntegrityError, transaction
from django.db.models import ProtectedError

from apps.leaks.models import LeakCheck, Photo
from tests.factories import leaks, woods

pytestmark = pytest.mark.django_db
NOW = leaks.hours_ago(0)
HERE = {"latitude": 43.9, "longitude": -75.3, "position_accuracy_m": 8.0}

NO_PLACE = [
    {"latitude": 43.9},
    {"latitude": 43.9, "longitude": -75.3},
    {"position_accuracy_m": 8.0},
    HERE | {"latitude": 90.1},
    HERE | {"latitude": -90.1},
    HERE | {"longitude": 180.1},
    HERE | {"longitude": -180.1},
    HERE | {"position_accuracy_m": -0.1},
    HERE | {"position_accuracy_m": 100_001.0},
    HERE | {"latitude": float("nan")},
    HERE | {"longitude": float("inf")},
]
PLACES = [
    HERE,
    {"latitude": 90.0, "longitude": -180.0, "position_accuracy_m": 0.0},
    {"latitude": -90.0, "longitude": 180.0, "position_accuracy_m": 100_000.0},
    {},
]


def refused(write, *args, **fields) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        write(*args, **fields)


@pytest.fixture
def line():
    return leaks.a_line("L7")


@pytest.mark.parametrize("make", [leaks.bare_check, leaks.obstruction])
@pytest.mark.parametrize("place", NO_PLACE)
def test_half_a_position_or_one_off_the_earth_is_refused(line, make, place):
    refused(make, line, **place)


@pytest.mark.parametrize("make", [leaks.bare_check, leaks.obstruction])
@pytest.mark.parametrize("place", PLACES)
def test_a_position_at_its_limits_is_kept_or_none_at_all(line, make, place):
    row = make(line, **place)
    assert row.position == (tuple(place.values()) or None)


@pytest.mark.parametrize(
    ("part", "count"), [("tee", 0), ("tee", 501), ("tee", -1), ("gasket of the moon", 1), ("", 1)]
)
def test_a_part_nobody_knows_or_none_of_it_is_refused(line, part, count):
    refused(leaks.part_used, leaks.bare_check(line), part[:12], count)


def test_each_part_is_counted_once_a_check(line):
    check = leaks.bare_check(line)
    leaks.part_used(check, "tee", 500)
    refused(leaks.part_used, check, "tee", 1)
    assert leaks.part_used(check, "spout").pk


@pytest.mark.parametrize(
    "fields",
    [
        {"work": "helicopter"[:8]},
        {"place_drops": 5001},
        {"place_drops": -1},
        {"voided_at": NOW},
    ],
)
def test_an_obstruction_that_cannot_be_is_refused(line, fields):
    refused(leaks.obstruction, line, **fields)


def test_obstruction_and_clearing_are_taken_back_by_somebody(line):
    there = leaks.obstruction(line)
    refused(leaks.obstruction, line, voided_by=leaks.somebody())
    refused(leaks.clearing, there, voided_at=NOW)
    assert leaks.clearing(there, voided_at=NOW, voided_by=leaks.somebody()).pk


def test_one_uuid_is_one_record_of_its_kind(line):
    there = leaks.obstruction(line)
    gone = leaks.clearing(there)
    picture = leaks.photo(obstruction=there)
    reading = leaks.reading(woods.pump_house(line.woodlot))
    refused(leaks.obstruction, line, uuid=there.uuid)
    refused(leaks.clearing, there, uuid=gone.uuid)
    refused(leaks.photo, obstruction=there, uuid=picture.uuid, file_name="other.jpg")
    refused(leaks.reading, reading.pump_house, hours=9, uuid=reading.uuid)


@pytest.mark.parametrize(
    "fields",
    [
        {"sha256": "ab" * 31},
        {"sha256": ""},
        {"size_bytes": 0},
        {"size_bytes": 4 * 1024 * 1024 + 1},
        {"width_px": 0},
        {"width_px": 65_536},
        {"height_px": 0},
        {"height_px": 65_536},
        {"kind": "gif"},
    ],
)
def test_a_photo_that_cannot_be_is_refused(line, fields):
    refused(leaks.photo, leak_check=leaks.bare_check(line), **fields)


def test_a_photo_is_of_one_check_or_one_obstruction(line):
    check, there = leaks.bare_check(line), leaks.obstruction(line)
    assert leaks.photo(leak_check=check).pk
    assert leaks.photo(obstruction=there, size_bytes=4 * 1024 * 1024, width_px=65_535).pk
    refused(leaks.photo)
    refused(leaks.photo, leak_check=check, obstruction=there)


def test_two_photos_never_share_a_file(line):
    first = leaks.photo(leak_check=leaks.bare_check(line))
    refused(leaks.photo, obstruction=leaks.obstruction(line), file_name=first.file_name)
    assert Photo.objects.count() == 1


def test_a_check_with_a_photo_stays(line):
    check = leaks.bare_check(line)
    leaks.photo(leak_check=check)
    with pytest.raises(ProtectedError):
        check.delete()
    assert LeakCheck.objects.exists()


def test_rows_are_called_what_people_call_them(line):
    there = leaks.obstruction(line, "hung")
    assert str(there) == "L7: Hung tree: leave it"
    assert str(leaks.clearing(there)) == "L7: Hung tree: leave it, cleared"
    assert str(leaks.photo(obstruction=there)) == "Photo of L7: Hung tree: leave it"
    assert str(leaks.part_used(leaks.bare_check(line), "tee", 2)) == "2 x Tee"

"""What must always hold in the woods is held by the database, whoever writes to it."""

from datetime import date
from decimal import Decimal

import pytest
from django.db import IntegrityError
from django.db.models import ProtectedError

from apps.woods.models import Landowner, Lease, Line, PumpHouse, TapCount, Woodlot
from tests.factories import operation as people
from tests.factories import woods

pytestmark = pytest.mark.django_db

WOODLOT = {"name": "North", "latitude": 43.9, "longitude": -75.3, "elevation_m": 400.0}
LINE = {"label": "M1", "kind": "main"}
FIXED = {"rule": "fixed", "rate_per_tap": Decimal("0.80")}
TERM = {"starts_on": date(2022, 5, 1), "ends_on": date(2027, 4, 30)}


@pytest.mark.parametrize(
    "wrong",
    [
        {"name": ""},
        {"latitude": 90.01},
        {"latitude": -90.01},
        {"longitude": 180.01},
        {"longitude": -180.01},
        {"elevation_m": -100.1},
        {"elevation_m": 5000.1},
        {"elevation_m": None},
        {"area_ha": 0},
        {"area_ha": -1},
        {"maple_share": -0.01},
        {"maple_share": 1.01},
        {"temperature_offset_c": 10.1},
        {"temperature_offset_c": -10.1},
    ],
)
def test_a_woodlot_that_cannot_be_is_refused(wrong):
    with pytest.raises(IntegrityError):
        Woodlot.objects.create(**WOODLOT | wrong)


@pytest.mark.parametrize(
    "edge",
    [
        {"latitude": 90, "longitude": -180},
        {"latitude": -90, "longitude": 180},
        {"elevation_m": -100},
        {"elevation_m": 5000},
        {"maple_share": 0},
        {"maple_share": 1},
        {"temperature_offset_c": -10},
        {"area_ha": 0.001},
    ],
)
def test_a_woodlot_at_the_edge_is_kept(edge):
    assert Woodlot.objects.create(**WOODLOT | edge).pk


@pytest.mark.parametrize(
    "wrong",
    [
        {"label": ""},
        {"kind": "pipe"},
        {"kind": ""},
        {"diameter_mm": 0},
        {"diameter_mm": -1},
        {"length_m": 0},
        {"length_m": -5},
        {"walk_minutes": 0},
        {"walk_minutes": 1440.1},
        {"installed_season": 1899},
        {"installed_season": 2201},
        {"drops_installed_season": 1899},
        {"drops_installed_season": 2201},
    ],
)
def test_a_line_that_cannot_be_is_refused(wrong):
    lot = woods.woodlot()
    with pytest.raises(IntegrityError):
        Line.objects.create(woodlot=lot, **LINE | wrong)


@pytest.mark.parametrize(
    "edge",
    [
        {"walk_minutes": 1440},
        {"walk_minutes": 0.1},
        {"installed_season": 1900, "drops_installed_season": 2200},
        {"label": "x" * 24},
    ],
)
def test_a_line_at_the_edge_is_kept(edge):
    assert Line.objects.create(woodlot=woods.woodlot(), **LINE | edge).pk


def test_a_line_is_never_its_own_parent():
    line = woods.line(woods.woodlot())
    with pytest.raises(IntegrityError):
        Line.objects.filter(pk=line.pk).update(parent=line.pk)


def test_a_label_stands_once_in_a_woodlot_and_may_stand_in_another():
    lot = woods.woodlot("North")
    woods.line(lot, "M1")
    assert woods.line(woods.woodlot("South"), "M1").pk
    with pytest.raises(IntegrityError):
        woods.line(lot, "M1")


@pytest.mark.parametrize(
    "wrong",
    [
        {"rule": "barter"},
        {"ends_on": TERM["starts_on"]},
        {"ends_on": date(2022, 4, 30)},
        {"rate_per_tap": None},
        {"rate_per_tap": Decimal("-0.01")},
        {"rule": "indexed"},
        {"rule": "indexed", "index_then": Decimal(0)},
        {"rule": "indexed", "index_then": Decimal(100), "rate_per_tap": None},
        {"rule": "share"},
        {"rule": "share", "gross_share": Decimal(0)},
        {"rule": "share", "gross_share": Decimal("1.01")},
    ],
)
def test_a_lease_without_the_terms_of_its_rule_is_refused(wrong):
    lot, owner = woods.woodlot(), woods.landowner()
    with pytest.raises(IntegrityError):
        Lease.objects.create(woodlot=lot, landowner=owner, **FIXED | TERM | wrong)


@pytest.mark.parametrize(
    "terms",
    [
        FIXED,
        {"rule": "fixed", "rate_per_tap": Decimal(0)},
        {"rule": "indexed", "rate_per_tap": Decimal("0.80"), "index_then": Decimal("310.326")},
        {"rule": "share", "gross_share": Decimal("0.12")},
        {"rule": "share", "gross_share": Decimal(1)},
    ],
)
def test_a_lease_with_its_terms_is_kept(terms):
    assert woods.lease(woods.woodlot(), **terms).pk


def test_a_woodlot_has_one_lease_that_starts_on_a_day():
    lot = woods.woodlot()
    woods.lease(lot)
    with pytest.raises(IntegrityError):
        woods.lease(lot, landowner=woods.landowner("Hemlock Ridge Farm"))


@pytest.mark.parametrize("wrong", [{"name": ""}, {"elevation_m": -101}, {"elevation_m": 5001}])
def test_a_pump_house_that_cannot_be_is_refused(wrong):
    lot = woods.woodlot()
    with pytest.raises(IntegrityError):
        PumpHouse.objects.create(woodlot=lot, **{"name": "Lower"} | wrong)


def test_a_pump_house_name_stands_once_in_a_woodlot():
    lot = woods.woodlot("North")
    woods.pump_house(lot, "Lower")
    assert woods.pump_house(woods.woodlot("South"), "Lower").pk
    with pytest.raises(IntegrityError):
        woods.pump_house(lot, "Lower")


@pytest.mark.parametrize(
    "wrong",
    [
        {"season": 1899},
        {"season": 2201},
        {"planned_taps": -1},
        {"planned_taps": 20_001},
        {"planned_taps": None},
    ],
)
def test_a_count_that_cannot_be_is_refused(wrong):
    line = woods.line(woods.woodlot())
    with pytest.raises(IntegrityError):
        TapCount.objects.create(line=line, **{"season": 2026, "planned_taps": 1} | wrong)


def test_a_line_is_counted_once_a_season():
    line = woods.line(woods.woodlot(), planned_taps=5, season=2026)
    assert TapCount.objects.create(line=line, season=2027, planned_taps=5).pk
    with pytest.raises(IntegrityError):
        TapCount.objects.create(line=line, season=2026, planned_taps=6)


def test_a_landowner_has_a_name():
    with pytest.raises(IntegrityError):
        Landowner.objects.create(name="")


@pytest.mark.parametrize(
    ("make", "name"), [(woods.landowner, "Beech Hill Trust"), (woods.woodlot, "North")]
)
def test_landowners_and_woodlots_go_by_one_name_each(make, name):
    make(name)
    with pytest.raises(IntegrityError):
        make(name)


def test_what_others_stand_on_cannot_be_taken_away():
    owner = woods.landowner()
    lot = woods.woodlot(landowner=owner)
    main = woods.line(lot, "M1", pump_house=woods.pump_house(lot))
    woods.line(lot, "L1", parent=main)
    for row in [owner, lot, main, main.pump_house]:
        with pytest.raises(ProtectedError):
            row.delete()


def test_rows_are_called_what_people_call_them():
    lot = woods.woodlot("North")
    line = woods.line(lot, "M1", planned_taps=5)
    assert str(woods.pump_house(lot, "Lower")) == "Lower"
    assert str(line.tap_counts.get()) == "M1 2026: 5"
    assert str(woods.lease(lot)) == "North: Fixed rate per counted tap"


@pytest.mark.parametrize("fields", [{"text": ""}, {"voided_at": people.FIXED_NOW}])
def test_a_note_says_something_and_is_taken_back_by_somebody(crew, fields):
    with pytest.raises(IntegrityError):
        woods.note(crew, **fields)


def test_a_note_is_of_a_line_or_of_a_woodlot_and_never_of_both(crew):
    lot = woods.woodlot()
    for place in ({}, {"woodlot": lot}, {"line": woods.line(lot)}):
        assert woods.note(crew, **place).pk
    with pytest.raises(IntegrityError):
        woods.note(crew, woodlot=lot, line=lot.lines.get())


def test_one_uuid_is_one_note(crew):
    first = woods.note(crew)
    with pytest.raises(IntegrityError):
        woods.note(crew, uuid=first.uuid)


def test_what_was_noted_holds_its_line_fast(crew):
    line = woods.line(woods.woodlot())
    woods.note(crew, line=line)
    with pytest.raises(ProtectedError):
        line.delete()

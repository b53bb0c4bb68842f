from uuid import uuid4

import pytest
from django.db import IntegrityError, transaction
from django.db.models import F

from apps.sugarhouse.models import SapIn
from tests.factories import sugarhouse, woods

pytestmark = pytest.mark.django_db

BARE = {"diameter_mm": None, "height_mm": None}


def refused(make, *args, **fields):
    with pytest.raises(IntegrityError) as caught, transaction.atomic():
        make(*args, **fields)
    return str(caught.value)


@pytest.mark.parametrize(
    ("fields", "constraint"),
    [
        ({"name": ""}, "tank_has_a_name"),
        ({"shape": "cone"}, "tank_has_the_measures_its_shape_needs"),
        ({"diameter_mm": None}, "tank_has_the_measures_its_shape_needs"),
        ({"width_mm": 900.0}, "tank_has_the_measures_its_shape_needs"),
        ({"shape": "horizontal"}, "tank_has_the_measures_its_shape_needs"),
        ({"shape": "box", "length_mm": 900.0}, "tank_has_the_measures_its_shape_needs"),
        ({"shape": "table", "diameter_mm": 900.0}, "tank_has_the_measures_its_shape_needs"),
        ({"diameter_mm": 0.0}, "tank_diameter_range"),
        ({"height_mm": 200_000.0}, "tank_height_range"),
        (
            {"shape": "horizontal", "length_mm": -1.0} | BARE | {"diameter_mm": 9.0},
            "tank_length_range",
        ),
        (
            {"shape": "box", "width_mm": 0.5, "length_mm": 9.0} | BARE | {"height_mm": 9.0},
            "tank_width_range",
        ),
    ],
)
def test_database_refuses_a_tank_that_cannot_be(fields, constraint):
    # The factory adds a standing tank's measures only to a standing tank.
    measures = {"diameter_mm": 1000.0, "height_mm": 1000.0}
    if fields.get("shape") in {"box", "horizontal", "table"}:
        measures = {}
    assert constraint in refused(sugarhouse.tank, **measures | fields)


def test_database_refuses_two_tanks_of_one_name():
    sugarhouse.tank("Big one")
    assert "name" in refused(sugarhouse.tank, "Big one")


@pytest.mark.parametrize(
    ("points", "constraint"),
    [
        (((10.0, 1.0), (10.0, 2.0)), "depth_mm"),
        (((-1.0, 1.0),), "dip_point_depth_range"),
        (((1.0, -1.0),), "dip_point_litres_not_negative"),
    ],
)
def test_database_refuses_a_bad_line_of_a_dip_table(points, constraint):
    assert constraint in refused(sugarhouse.tank, shape="table", points=points)


@pytest.mark.parametrize(
    ("fields", "constraint"),
    [
        ({"depth_mm": -1.0, "volume_litres": 0.0}, "dip_depth_range"),
        ({"depth_mm": 1.0, "volume_litres": -1.0}, "dip_volume_not_negative"),
    ],
)
def test_database_refuses_an_impossible_dip(fields, constraint):
    assert constraint in refused(sugarhouse.dip, sugarhouse.tank(), **fields)


def test_database_refuses_two_dips_of_one_tank_at_one_moment():
    tank = sugarhouse.tank()
    sugarhouse.dip(tank)
    assert "tank_id" in refused(sugarhouse.dip, tank)


def test_a_dip_struck_out_leaves_its_moment_to_the_right_one(crew):
    tank = sugarhouse.tank()
    sugarhouse.dip(tank, voided_at=sugarhouse.AT, voided_by=crew)
    assert sugarhouse.dip(tank).pk


def test_database_keeps_who_struck_a_dip_out_with_when():
    both = refused(sugarhouse.dip, sugarhouse.tank(), voided_at=sugarhouse.AT)
    assert "dip_voided_by_somebody" in both


METER = {"method": "meter", "start_reading": 10.0, "end_reading": 20.0}
DUMPS = METER | {"method": "dump_counter", "litres_per_count": 13.0}


@pytest.mark.parametrize(
    ("fields", "constraint"),
    [
        ({"season": 1800}, "sap_in_season_range"),
        ({"seller": "Somebody"}, "sap_in_from_a_woodlot_or_a_seller"),
        ({"woodlot": None, "seller": ""}, "sap_in_from_a_woodlot_or_a_seller"),
        ({"volume_litres": 0.0}, "sap_in_volume_positive"),
        ({"remaining_litres": -0.5}, "sap_in_remaining_within_volume"),
        ({"remaining_litres": 1000.5}, "sap_in_remaining_within_volume"),
        ({"brix": 0.4}, "sap_in_brix_range"),
        ({"brix": 41.0}, "sap_in_brix_range"),
        ({"share": 0.5}, "sap_in_share_says_its_rule"),
        ({"share": 0.0, "share_rule": "by taps"}, "sap_in_share_says_its_rule"),
        ({"share": 1.5, "share_rule": "by taps"}, "sap_in_share_says_its_rule"),
        ({"method": "guess"}, "sap_in_has_the_readings_its_method_needs"),
        ({"litres_per_count": 5.0}, "sap_in_has_the_readings_its_method_needs"),
        (METER | {"start_reading": None}, "sap_in_has_the_readings_its_method_needs"),
        (METER | {"end_reading": None}, "sap_in_has_the_readings_its_method_needs"),
        (METER | {"method": "tank_rise"}, "sap_in_has_the_readings_its_method_needs"),
        (METER | {"method": "dump_counter"}, "sap_in_has_the_readings_its_method_needs"),
        (METER | {"end_reading": 10.0}, "sap_in_readings_rise_or_roll_over"),
        (METER | {"end_reading": 5.0}, "sap_in_readings_rise_or_roll_over"),
        (METER | {"end_reading": 5.0, "rolls_over_at": 9.0}, "sap_in_readings_rise_or_roll_over"),
        (METER | {"rolls_over_at": 99.0}, "sap_in_readings_rise_or_roll_over"),
        (METER | {"start_reading": -1.0}, "sap_in_start_reading_range"),
        (
            METER | {"end_reading": -1.0, "rolls_over_at": 99.0},
            "sap_in_end_reading_range",
        ),
        (DUMPS | {"litres_per_count": 0.0}, "sap_in_litres_per_count_range"),
    ],
)
def test_database_refuses_impossible_sap(fields, constraint):
    woodlot = woods.woodlot()
    fields = {"woodlot": woodlot} | fields
    fields = {"seller": ""} | fields
    assert constraint in refused(sugarhouse.sap_in, **fields)


@pytest.mark.parametrize("fields", [METER, DUMPS, METER | {"end_reading": 5, "rolls_over_at": 99}])
def test_database_takes_readings_that_rise_or_roll_over(fields):
    assert sugarhouse.sap_in(woods.woodlot(), **fields).pk


def test_database_refuses_to_let_more_sap_go_than_is_there():
    row = sugarhouse.sap_in(woods.woodlot(), volume_litres=100.0)
    drawn = SapIn.objects.filter(pk=row.pk)
    error = refused(drawn.update, remaining_litres=F("remaining_litres") - 100.5)
    assert "sap_in_remaining_within_volume" in error


@pytest.mark.parametrize(
    ("fields", "constraint"),
    [
        ({"kind": "lost"}, "sap_out_kind_known"),
        ({"volume_litres": 0.0}, "sap_out_volume_positive"),
        ({"reason": ""}, "sap_out_says_where_or_why"),
    ],
)
def test_database_refuses_impossible_sap_out(fields, constraint):
    row = sugarhouse.sap_in(woods.woodlot())
    assert constraint in refused(sugarhouse.sap_out, row, **fields)


@pytest.mark.parametrize(
    ("fields", "constraint"),
    [
        ({"season": 2300}, "batch_season_range"),
        ({"number": 0}, "batch_number_from_one"),
        ({"syrup_litres": 0.0}, "batch_syrup_positive"),
        ({"syrup_brix": 59.0}, "batch_brix_range"),
        ({"syrup_brix": 71.0}, "batch_brix_range"),
    ],
)
def test_database_refuses_an_impossible_batch(fields, constraint):
    assert constraint in refused(sugarhouse.batch, **fields)


def test_database_refuses_a_batch_number_twice_in_a_season():
    sugarhouse.batch(7)
    assert "number" in refused(sugarhouse.batch, 7)
    assert sugarhouse.batch(7, season=2025).pk


@pytest.mark.parametrize(
    ("amounts", "constraint"),
    [((0.0,), "batch_sap_volume_positive"), ((1.0, 2.0), "sap_in_id")],
)
def test_database_refuses_impossible_sap_in_a_batch(amounts, constraint):
    row = sugarhouse.sap_in(woods.woodlot())
    assert constraint in refused(sugarhouse.batch, sap=[(row, litres) for litres in amounts])


@pytest.mark.parametrize("make", ["tank", "dip", "sap_in", "sap_out", "batch"])
def test_database_refuses_one_form_sent_twice(make):
    first, second = sugarhouse.tank("First"), sugarhouse.tank("Second")
    load = sugarhouse.sap_in(woods.woodlot())
    calls = {
        "tank": [("Third",), ("Fourth",)],
        "dip": [(first,), (second,)],
        "sap_in": [(), ()],
        "sap_out": [(load,), (load,)],
        "batch": [(1,), (2,)],
    }[make]
    uuid = uuid4()
    getattr(sugarhouse, make)(*calls[0], uuid=uuid)
    assert "uuid" in refused(getattr(sugarhouse, make), *calls[1], uuid=uuid)

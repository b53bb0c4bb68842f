"""Every question's limits, in the units typed: the last value taken and the first refused."""

from decimal import Decimal
from uuid import uuid4

import pytest
from django.urls import reverse

from apps.domain.units import litres_from_us_gallons as gallons
from apps.sugarhouse.forms import SAP_FORMS, BatchForm, DipForm, SapOutForm, TankForm
from apps.sugarhouse.models import SapIn
from tests.factories import operation as people
from tests.factories import sugarhouse, woods

pytestmark = pytest.mark.django_db

FIXED = {"uuid": str(uuid4()), "at": "2026-03-16T06:30"}
SAP = FIXED | {"seller": "Neighbours", "brix": "2", "share": "100"}
OWN = {
    "load": {"volume": "100"},
    "meter": {"start": "1", "end": "2"},
    "dump_counter": {"start": "1", "end": "2", "per_count": "3"},
}


def errors(form_class, typed, unit_system="us", **fields):
    if form_class is not TankForm:
        fields["now"] = people.FIXED_NOW
    return form_class(typed, unit_system=unit_system, **fields).errors


def sap_errors(method, unit_system="us", **typed):
    return errors(SAP_FORMS[method], SAP | OWN[method] | typed, unit_system)


# A limit is given in litres: a million litres are 264,172.05 gal, a tenth of a litre 0.026 gal.
@pytest.mark.parametrize(
    ("unit_system", "typed", "said"),
    [
        ("us", "264172.05", None),
        ("us", "264173", "Must not be over 264,172 gal."),
        ("us", "0.03", None),
        ("us", "0.02", "Must not be under 0.03 gal."),
        ("us", "0", "Must not be under 0.03 gal."),
        ("metric", "1000000", None),
        ("metric", "1000001", "Must not be over 1,000,000 L."),
        ("metric", "0.1", None),
        ("metric", "0.09", "Must not be under 0.1 L."),
    ],
)
def test_load_takes_a_tenth_of_a_litre_to_a_million(unit_system, typed, said):
    found = sap_errors("load", unit_system, volume=typed).get("volume")
    assert found == ([said] if said else None)


@pytest.mark.parametrize(
    ("field", "typed", "taken"),
    [
        ("brix", "0.5", True),
        ("brix", "0.4", False),
        ("brix", "40", True),
        ("brix", "40.1", False),
        ("share", "0.1", True),
        ("share", "0.09", False),
        ("share", "100", True),
        ("share", "100.1", False),
        ("share", "", False),
        ("seller", "S" * 120, True),
        ("seller", "S" * 121, False),
        ("share_rule", "R" * 120, True),
        ("share_rule", "R" * 121, False),
        ("at", "2026-03-16T06:30", True),
        ("at", "16 March, half past six", False),
        ("at", "", False),
        ("uuid", "", False),
        ("uuid", "not-one", False),
    ],
)
def test_questions_of_every_load_have_their_limits(field, typed, taken):
    typed = {"share_rule": "by taps", field: typed}
    assert (field not in sap_errors("load", **typed)) is taken


@pytest.mark.parametrize(
    ("method", "field", "typed", "taken"),
    [
        ("meter", "start", "0", True),
        ("meter", "start", "-0.01", False),
        ("meter", "end", "264172052", True),
        ("meter", "end", "264173000", False),
        ("dump_counter", "start", "0", True),
        ("dump_counter", "start", "-1", False),
        ("dump_counter", "end", "1000000010", False),
        ("dump_counter", "per_count", "0.003", True),
        ("dump_counter", "per_count", "0.002", False),
        ("dump_counter", "per_count", "2641.7", True),
        ("dump_counter", "per_count", "2642", False),
    ],
)
def test_instruments_have_their_limits(method, field, typed, taken):
    start = str(max(0.0, float(typed) - 1)) if field == "end" else "1"
    typed = {"start": start, field: typed}
    assert (field not in sap_errors(method, **typed)) is taken


@pytest.mark.parametrize(
    ("start", "end", "rolls_over_at", "litres"),
    [
        # A meter of five figures in gallons, a thousand gallons on.
        ("99500", "500", "100000", gallons(1000)),
        ("99500", "0", "100000", gallons(500)),
        ("100000", "1", "100000", gallons(1)),
        # A figure that rose did not roll over, whatever was typed beside it.
        ("100", "300", "100000", gallons(200)),
    ],
)
def test_meter_that_passed_its_largest_figure(start, end, rolls_over_at, litres):
    typed = SAP | {"start": start, "end": end, "rolls_over_at": rolls_over_at}
    form = SAP_FORMS["meter"](typed, unit_system="us", now=people.FIXED_NOW)
    assert form.is_valid(), form.errors
    assert form.measured().litres == pytest.approx(litres)


@pytest.mark.parametrize(
    ("start", "end", "rolls_over_at"),
    [
        ("500", "400", ""),
        ("500", "400", "0"),
        ("500", "400", "450"),
        ("500", "500", "1000"),
        ("100001", "1", "100000"),
    ],
)
def test_fall_that_no_roll_over_explains_is_refused_at_the_end(start, end, rolls_over_at):
    found = sap_errors("meter", start=start, end=end, rolls_over_at=rolls_over_at)
    assert list(found) == ["end"]


def test_roll_over_is_kept_only_where_the_reading_fell():
    for end, kept in (("300", None), ("50", 1000.0)):
        typed = SAP | {"start": "100", "end": end, "per_count": "3", "rolls_over_at": "1000"}
        form = SAP_FORMS["dump_counter"](typed, unit_system="us", now=people.FIXED_NOW)
        assert form.is_valid(), form.errors
        assert form.measured().rolls_over_at == kept


@pytest.mark.parametrize(
    ("typed", "errors_at"),
    [
        ({"share": "60", "share_rule": "by taps"}, []),
        ({"share": "60"}, ["share_rule"]),
        ({"share": "99.9"}, ["share_rule"]),
        ({"share": "100"}, []),
        ({"share": "60", "share_rule": "   "}, ["share_rule"]),
    ],
)
def test_anything_under_the_whole_says_its_rule(typed, errors_at):
    assert list(sap_errors("load", **typed)) == errors_at


def test_rule_of_a_whole_measurement_is_not_kept():
    typed = SAP | {"volume": "10", "share_rule": "left over in the field"}
    form = SAP_FORMS["load"](typed, unit_system="us", now=people.FIXED_NOW)
    assert form.is_valid()
    assert form.measured().share_rule == ""


def test_two_sources_of_one_reading_add_up_to_it(crew_client):
    # 1,000 gal in one tank from two woodlots by set taps, 1,200 and 800 of 2,000.
    for name, share in (("North", "60"), ("South", "40")):
        typed = {"uuid": uuid4(), "woodlot": woods.woodlot(name).pk, "seller": "", "share": share}
        typed |= {"volume": "1000", "share_rule": "by set taps"}
        crew_client.post(reverse("sugarhouse:sap"), SAP | typed)
    litres = dict(SapIn.objects.values_list("woodlot__name", "volume_litres"))
    assert litres == pytest.approx({"North": gallons(600), "South": gallons(400)})


@pytest.mark.parametrize("field", ["volume", "brix", "share"])
@pytest.mark.parametrize("typed", ["nan", "inf", "-inf", "1e400", "2,1", "two", "0x10"])
def test_no_number_is_ever_guessed(field, typed):
    assert field in sap_errors("load", **{field: typed})


BATCH = FIXED | {"sap": "100", "syrup": "2", "syrup_brix": "66"}


@pytest.mark.parametrize(
    ("field", "typed", "taken"),
    [
        ("syrup_brix", "60", True),
        ("syrup_brix", "59.9", False),
        ("syrup_brix", "70", True),
        ("syrup_brix", "70.1", False),
        ("syrup_brix", "", False),
        ("syrup", "0.01", True),
        ("syrup", "0", False),
        ("syrup", "", False),
        ("syrup", "264173", False),
        ("sap", "-1", False),
        ("sap", "264173", False),
        ("note", "N" * 200, True),
        ("note", "N" * 201, False),
        ("at", "", False),
    ],
)
def test_batch_has_its_limits(field, typed, taken):
    sugarhouse.sap_in(woods.woodlot(), volume_litres=1000.0)
    assert (field not in errors(BatchForm, BATCH | {field: typed}, loads=())) is taken


@pytest.mark.parametrize(
    ("draws", "sap", "taken"),
    [
        (["10", ""], "", True),
        (["10", "10"], "", True),
        (["0", "10"], "", True),
        (["0", "0"], "", False),
        (["", ""], "", False),
        (["10", ""], "10", False),
        (["0", "0"], "10", True),
        (["-1", ""], "", False),
    ],
)
def test_sap_is_one_figure_or_some_loads(draws, sap, taken):
    woodlot = woods.woodlot()
    loads = tuple(sugarhouse.sap_in(woodlot) for _ in draws)
    named = {f"draw_{load.pk}": typed for load, typed in zip(loads, draws, strict=True)}
    assert (errors(BatchForm, BATCH | {"sap": sap} | named, loads=loads) == {}) is taken


def test_only_the_twelve_oldest_loads_are_listed():
    woodlot = woods.woodlot()
    loads = tuple(sugarhouse.sap_in(woodlot) for _ in range(13))
    form = BatchForm(unit_system="us", now=people.FIXED_NOW, loads=loads)
    listed = [name for name in form.fields if name.startswith("draw_")]
    assert listed == [f"draw_{load.pk}" for load in loads[:12]]


# A standing tank 1,000 mm high.
@pytest.mark.parametrize(
    ("unit_system", "typed", "said"),
    [
        ("us", "0", None),
        ("us", "39.37", None),
        ("us", "39.38", "This tank reads from 0.00 in. to 39.37 in., not 39.38 in."),
        ("us", "-0.01", "Must not be under 0.00 in."),
        ("metric", "100", None),
        ("metric", "100.1", "This tank reads from 0.0 cm to 100.0 cm, not 100.1 cm."),
        ("metric", "20000", "Must not be over 10,000.0 cm."),
    ],
)
def test_dip_ends_at_the_tanks_own_height(unit_system, typed, said):
    tank = sugarhouse.tank()
    found = errors(DipForm, FIXED | {"tank": tank.pk, "depth": typed}, unit_system).get("depth")
    assert found == ([said] if said else None)


TABLE = ((100.0, 50.0), (900.0, 700.0))


@pytest.mark.parametrize(("typed", "taken"), [("10", True), ("9.9", False), ("90", True)])
def test_dip_table_is_read_from_its_first_point_to_its_last(typed, taken):
    tank = sugarhouse.tank(shape="table", points=TABLE)
    found = errors(DipForm, FIXED | {"tank": tank.pk, "depth": typed}, "metric")
    assert ("depth" not in found) is taken


@pytest.mark.parametrize("typed", ["", "999999"])
def test_dip_needs_a_tank_of_the_list(typed):
    assert "tank" in errors(DipForm, FIXED | {"tank": typed, "depth": "5"})


TANK = {"uuid": FIXED["uuid"], "name": "Roof tank", "shape": "box"}
SIDES = {"width": "100", "height": "100", "length": "100"}


@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize(
    ("typed", "taken"),
    [("0.1", True), ("0.09", False), ("10000", True), ("10001", False), ("", False), ("-5", False)],
)
def test_each_side_of_a_tank_has_its_limits(side, typed, taken):
    found = errors(TankForm, TANK | SIDES | {side: typed}, "metric")
    assert (side not in found) is taken


NEEDED = {
    "vertical": {"diameter", "height"},
    "horizontal": {"diameter", "length"},
    "oval": {"width", "height", "length"},
    "box": {"width", "height", "length"},
    "table": {"table"},
}


@pytest.mark.parametrize("shape", NEEDED)
def test_each_shape_asks_exactly_for_its_own_measures(shape):
    assert set(errors(TankForm, TANK | {"shape": shape})) == NEEDED[shape]


@pytest.mark.parametrize(
    ("lines", "taken"),
    [
        ("0 0\n10 100", True),
        ("0, 0\n10, 100", True),
        ("0;0\n10;100\n\n", True),
        ("10 100\n0 0", False),
        ("0 0", False),
        ("0 0\n0 100", False),
        ("0 0\n10 0", False),
        ("0 0\n10 100 1000", False),
        ("0 0\n10", False),
        ("0 0\nten 100", False),
        ("0 0\n10 nan", False),
        ("-1 0\n10 100", False),
        ("0 -5\n10 100", False),
    ],
)
def test_dip_table_is_two_rising_columns(lines, taken):
    found = errors(TankForm, TANK | {"shape": "table", "table": lines})
    assert ("table" not in found) is taken


def test_bad_line_of_a_dip_table_is_named_by_its_number():
    typed = TANK | {"shape": "table", "table": "0 0\n\nten 100"}
    said = "Line 3 is not two numbers, depth then volume: “ten 100”."
    assert errors(TankForm, typed)["table"] == [said]


@pytest.mark.parametrize(("name", "taken"), [("T" * 80, True), ("T" * 81, False), ("  ", False)])
def test_tank_has_a_name_of_some_length(name, taken):
    assert ("name" not in errors(TankForm, TANK | SIDES | {"name": name})) is taken


OUT = FIXED | {"kind": "sold", "volume": "10", "reason": "Tanker"}


@pytest.mark.parametrize(
    ("field", "typed", "taken"),
    [
        ("kind", "dumped", True),
        ("kind", "lost", False),
        ("kind", "", False),
        ("volume", "0.02", False),
        ("volume", "0.03", True),
        ("volume", "", False),
        ("reason", "R" * 200, True),
        ("reason", "R" * 201, False),
        ("reason", "", False),
    ],
)
def test_sap_that_leaves_has_its_limits(field, typed, taken):
    assert (field not in errors(SapOutForm, OUT | {field: typed}, there_litres=100.0)) is taken


@pytest.mark.parametrize(
    ("unit_system", "typed", "litres"),
    [
        # 100.4 gal are shown as 100 and as 100.40: either means all of it.
        ("us", "100", gallons(100.4)),
        ("us", "100.4", gallons(100.4)),
        ("us", "100.40", gallons(100.4)),
        ("us", "101", gallons(101.0)),
        ("us", "99", gallons(99.0)),
        ("metric", "380", gallons(100.4)),
        ("metric", "380.06", gallons(100.4)),
        ("metric", "379", 379.0),
    ],
)
def test_rounded_figure_of_a_load_means_the_whole_load(unit_system, typed, litres):
    there = {"there_litres": gallons(100.4), "now": people.FIXED_NOW}
    form = SapOutForm(OUT | {"volume": typed}, unit_system=unit_system, **there)
    assert form.is_valid(), form.errors
    assert form.cleaned_data["volume"] == pytest.approx(float(litres), rel=1e-12)


def test_decimal_and_spaces_are_read_as_typed():
    typed = SAP | {"volume": f" {Decimal('12.50')} "}
    form = SAP_FORMS["load"](typed, unit_system="metric", now=people.FIXED_NOW)
    assert form.is_valid()
    assert form.measured().litres == 12.5

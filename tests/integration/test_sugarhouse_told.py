"""What the sugarhouse's pages say, figure by figure, worked by hand in either system of units."""

import re
from datetime import timedelta

import pytest
from django.urls import reverse

from apps.domain.units import litres_from_us_gallons as gallons
from apps.sugarhouse.models import SapIn
from tests.factories import operation as people
from tests.factories import sugarhouse, woods

pytestmark = pytest.mark.django_db

HOUR = timedelta(hours=1)
NOW = people.FIXED_NOW
US_AND_METRIC = pytest.mark.parametrize("system", ["us", "metric"])


def text(response):
    plain = re.sub(r"<[^>]+>", " ", response.content.decode())
    plain = re.sub(r"\s+", " ", plain).replace("\u2212", "-").replace("\u00d7", "x")
    return re.sub(r" ([,.;:])", r"\1", plain)


def told(client, name, *args):
    return text(client.get(reverse(f"sugarhouse:{name}", args=args)))


METER = {"method": "meter", "start_reading": 1000.0, "end_reading": 1600.0}
DUMPS = {
    "method": "dump_counter",
    "start_reading": 400.0,
    "end_reading": 520.0,
    "litres_per_count": 5.0,
}


@pytest.mark.parametrize(
    ("fields", "system", "said"),
    [
        ({}, "metric", "How measured Load hauled Entered"),
        ({"share": 0.25, "share_rule": "by taps"}, "metric", "x 25.0 % (by taps) = 600 L of sap"),
        # 1,600 L are 422.68 gal and 1,000 L 264.17 gal; 600 L are 158.50.
        (METER, "metric", "Meter: 1,600.00 L - 1,000.00 L = 600 L of sap"),
        (METER, "us", "Meter: 422.68 gal - 264.17 gal = 159 gal of sap"),
        (DUMPS, "metric", "Dumps: (520 - 400) x 5.00 L = 600 L of sap"),
        # 5 L are 1.32 gal.
        (DUMPS, "us", "Dumps: (520 - 400) x 1.32 gal = 159 gal of sap"),
        (
            METER | {"end_reading": 500.0, "rolls_over_at": 1100.0},
            "metric",
            "Meter: 500.00 L - 1,000.00 L + 1,100.00 L (rolled over) = 600 L of sap",
        ),
        (
            DUMPS | {"end_reading": 20.0, "rolls_over_at": 500.0},
            "metric",
            "Dumps: (20 - 400 + 500, rolled over) x 5.00 L = 600 L of sap",
        ),
    ],
)
def test_receipt_shows_its_arithmetic(crew_client, fields, system, said):
    people.operation(unit_system=system)
    row = sugarhouse.sap_in(woods.woodlot(), volume_litres=600.0, **fields)
    assert said in told(crew_client, "sap_receipt", row.pk)


@pytest.mark.parametrize(
    ("system", "said"),
    [
        ("us", "Roof tank from 4.00 in. to 20.00 in., by its shape = 84 gal of sap"),
        ("metric", "Roof tank from 10.2 cm to 50.8 cm, by its shape = 319 L of sap"),
    ],
)
def test_receipt_of_a_rise_names_the_tank_and_both_depths(crew_client, system, said):
    # 16 in. of a standing tank 1,000 mm across: pi / 4 x 406.4 L = 319.2 L, 84.3 gal.
    people.operation(unit_system=system)
    rise = {"method": "tank_rise", "start_reading": 101.6, "end_reading": 508.0}
    row = sugarhouse.sap_in(
        woods.woodlot(), volume_litres=319.2, from_tank=sugarhouse.tank("Roof tank"), **rise
    )
    assert said in told(crew_client, "sap_receipt", row.pk)


def test_receipt_names_who_entered_it_or_says_nobody_did(crew_client, crew):
    by_sol = sugarhouse.sap_in(woods.woodlot(), crew=crew)
    by_nobody = sugarhouse.sap_in(None)
    assert "Entered by Sol" in told(crew_client, "sap_receipt", by_sol.pk)
    assert "Entered by not recorded" in told(crew_client, "sap_receipt", by_nobody.pk)


def test_receipt_lists_each_way_its_sap_went(crew_client):
    row = sugarhouse.sap_in(
        woods.woodlot(), volume_litres=1000.0, remaining_litres=20.0, at=NOW - 9 * HOUR
    )
    people.operation(unit_system="metric")
    sugarhouse.sap_out(row, volume_litres=180.0, reason="Ledge Road", at=NOW - 4 * HOUR)
    sugarhouse.batch(4, sap=[(row, 800.0)], boiled_at=NOW - 2 * HOUR)
    words = told(crew_client, "sap_receipt", row.pk)
    assert "Boiled in batch 4 Mon 16 Mar, 05:00 800 L" in words
    assert "Sold as sap: Ledge Road Mon 16 Mar, 03:00 180 L" in words
    assert "Still here 20.00 L" in words


def test_used_up_receipt_has_no_form_to_let_more_go(crew_client):
    row = sugarhouse.sap_in(woods.woodlot(), remaining_litres=0.0)
    words = told(crew_client, "sap_receipt", row.pk)
    assert "Still here none" in words
    assert "Sell or dump some of it" not in words


@pytest.mark.parametrize(
    ("shape", "measures", "said"),
    [
        # pi / 4 x 1 m2 x 1 m; the same lying; 1 x 1 x 1 m; a circle of 1 m and 1 x 1 m between.
        ("vertical", ("diameter", "height"), "Round, standing Full, to the brim 785 L"),
        ("horizontal", ("diameter", "length"), "Round, on its side Full, to the brim 785 L"),
        ("box", ("width", "height", "length"), "Four upright sides Full, to the brim 1,000 L"),
    ],
)
def test_tank_page_tells_its_shape_measures_and_content(crew_client, shape, measures, said):
    people.operation(unit_system="metric")
    tank = sugarhouse.tank(shape=shape, **{f"{side}_mm": 1000.0 for side in measures})
    words = told(crew_client, "tank", tank.pk)
    assert said in words
    for side in ("diameter", "width", "height", "length"):
        assert (f"Inside {side} 100.0 cm" in words) is (side in measures)


def test_oval_tank_holds_its_two_half_rounds_and_what_lies_between(crew_client):
    people.operation(unit_system="metric")
    measures = {"width_mm": 2000.0, "height_mm": 1000.0, "length_mm": 1000.0}
    tank = sugarhouse.tank(shape="oval", **measures)
    # pi / 4 x 1 m2 + 1 x 1 m2, times 1 m.
    assert "Full, to the brim 1,785 L" in told(crew_client, "tank", tank.pk)


def test_table_tank_shows_its_table_by_depth(crew_client):
    people.operation(unit_system="metric")
    tank = sugarhouse.tank(shape="table", points=[(1000.0, 900.0), (0.0, 0.0), (500.0, 300.0)])
    words = told(crew_client, "tank", tank.pk)
    assert "Full, to the brim 900 L" in words
    assert "0.0 cm 0.00 L 50.0 cm 300.00 L 100.0 cm 900.00 L" in words


def test_tank_of_an_unfinished_table_has_an_unknown_content(crew_client):
    tank = sugarhouse.tank(shape="table", points=[(0.0, 0.0)])
    assert "Full, to the brim unknown" in told(crew_client, "tank", tank.pk)


def test_tank_without_a_dip_says_what_to_do(crew_client):
    assert "No dip yet. Dip it once" in told(crew_client, "tank", sugarhouse.tank().pk)


@pytest.mark.parametrize(
    ("system", "said"),
    [
        # 400 and 500 L two hours apart: 50 L or 13.2 gal an hour; (970 - 500) / 50 = 9.4 h on
        # from the dip an hour ago, 06:00 local: 15:24.
        ("metric", "Full in 8.4 h at 15:24, Mon 16 Mar, filling 50 L an hour"),
        ("us", "Full in 8.4 h at 15:24, Mon 16 Mar, filling 13 gal an hour"),
    ],
)
def test_tanks_page_tells_when_each_is_full(crew_client, system, said):
    people.operation(unit_system=system)
    measures = {"width_mm": 1000.0, "length_mm": 1000.0, "height_mm": 1000.0}
    tank = sugarhouse.tank(shape="box", **measures)
    for hours, depth_mm in ((3, 400.0), (1, 500.0)):
        sugarhouse.dip(tank, at=NOW - hours * HOUR, depth_mm=depth_mm)
    assert said in told(crew_client, "tanks")


def test_tank_dipped_in_the_form_is_chosen_already_when_named(crew_client):
    tank = sugarhouse.tank()
    page = crew_client.get(reverse("sugarhouse:tanks"), {"tank": tank.pk}).content.decode()
    assert f'<option value="{tank.pk}" selected>' in page


@pytest.mark.parametrize(
    ("who", "said"), [("owner_client", "Add one by its inside"), ("crew_client", "Ask the owner")]
)
def test_no_tank_yet_tells_each_what_they_can_do(request, who, said):
    assert said in told(request.getfixturevalue(who), "tanks")


def test_crew_sees_no_button_that_would_be_refused(crew_client):
    tank = sugarhouse.tank()
    assert "Add a tank" not in told(crew_client, "tanks")
    assert "Correct its measures" not in told(crew_client, "tank", tank.pk)


@pytest.mark.parametrize(
    ("system", "said"),
    [
        # 1,000 L at 2.0: 1,000 / 43.23 = 23.13 L predicted, 22 drawn: 95.1 %.
        ("metric", "Sun 15 Mar, 14:00 1,000 L 2.00 Brix 23.13 L 22.00 L 95.1 % 1 source"),
        ("us", "Sun 15 Mar, 14:00 264 gal 2.00 Brix 6.11 gal 5.81 gal 95.1 % 1 source"),
    ],
)
def test_list_of_batches_tells_predicted_beside_drawn(crew_client, system, said):
    people.operation(unit_system=system)
    row = sugarhouse.sap_in(woods.woodlot(), volume_litres=1000.0, remaining_litres=0.0)
    sugarhouse.batch(1, syrup_litres=22.0, sap=[(row, 1000.0)])
    assert said in told(crew_client, "batches")


def test_batch_page_shares_its_sugar_among_the_sources(crew_client):
    people.operation(unit_system="metric")
    # 300 L at 2.0 and 200 L at 3.0: equal sugar but for density, 1.0059 and 1.0099.
    north = sugarhouse.sap_in(woods.woodlot("North"), brix=2.0)
    south = sugarhouse.sap_in(woods.woodlot("South"), brix=3.0)
    batch = sugarhouse.batch(1, sap=[(north, 300.0), (south, 200.0)])
    assert "North 300 L 49.9 % South 200 L 50.1 %" in told(crew_client, "batch", batch.pk)


def test_bought_sap_of_two_sellers_is_one_source_and_last(crew_client):
    people.operation(unit_system="metric")
    parts = [(sugarhouse.sap_in(None, seller=name), 100.0) for name in ("Kettle Road", "Ledge")]
    parts.append((sugarhouse.sap_in(woods.woodlot("Zinc Hill")), 200.0))
    batch = sugarhouse.batch(1, sap=parts)
    words = told(crew_client, "batch", batch.pk)
    assert "Zinc Hill 200 L 50.0 % Bought sap 200 L 50.0 %" in words
    assert "the sap bought from Kettle Road" in words


@US_AND_METRIC
def test_page_of_an_older_season_lists_its_own_sap_and_batches(crew_client, system):
    people.operation(unit_system=system)
    at = sugarhouse.AT - timedelta(days=365)
    load = sugarhouse.sap_in(woods.woodlot("Old lot"), season=2025, at=at, remaining_litres=0.0)
    sugarhouse.batch(9, season=2025, boiled_at=at, sap=[(load, 1000.0)])
    for name, said in (("sap", "Sat 15 Mar, 14:00 Old lot"), ("batches", "9 Sat 15 Mar, 14:00")):
        page = crew_client.get(reverse(f"sugarhouse:{name}"), {"season": 2025})
        assert said in text(page)
        assert said not in told(crew_client, name)


@pytest.mark.parametrize(
    ("season", "shown"), [("2025", 2025), ("25", 2026), ("next", 2026), ("\u0662\u0660", 2026)]
)
def test_address_that_names_no_season_shows_this_one(crew_client, season, shown):
    page = crew_client.get(reverse("sugarhouse:sap"), {"season": season})
    assert page.context["season"] == shown


def test_rows_are_told_apart_in_words():
    tank, load = sugarhouse.tank("Roof tank"), sugarhouse.sap_in(woods.woodlot("North"))
    batch = sugarhouse.batch(3, sap=[(load, 250.4)])
    out = sugarhouse.sap_out(load, kind="dumped", volume_litres=12.6)
    assert str(tank) == "Roof tank"
    assert str(load) == "North 2026-03-15 18:00"
    assert (str(batch), str(batch.sap.get())) == ("Batch 3 of 2026", "Batch 3 of 2026: 250 L")
    assert str(out) == "Dumped: 13 L"


def test_untouched_means_every_litre_is_still_there():
    lots = woods.woodlot()
    assert sugarhouse.sap_in(lots, volume_litres=gallons(100)).untouched
    assert not sugarhouse.sap_in(lots, volume_litres=100.0, remaining_litres=99.9).untouched
    assert SapIn.objects.in_stock().count() == 2


@pytest.mark.parametrize(
    ("woodlot", "said"), [("North", "from North"), (None, "bought from Beech Hill neighbours")]
)
def test_sap_is_called_by_where_it_came_from(crew_client, woodlot, said):
    row = sugarhouse.sap_in(woodlot and woods.woodlot(woodlot))
    page = crew_client.get(reverse("sugarhouse:sap_receipt", args=[row.pk])).content.decode()
    assert f"<h1>Sap {said}</h1>" in page
    label = crew_client.get(reverse("sugarhouse:batches")).context["form"][f"draw_{row.pk}"].label
    assert label == f"Sap {said}, 15 Mar (gal)"

"""A wrong entry has a way out that the page names, and the books balance after it."""

import re
from datetime import timedelta
from uuid import uuid4

import pytest
from django.urls import reverse

from apps.operation.models import CrewMember
from apps.sugarhouse import actions, queries
from apps.sugarhouse.models import Batch, Dip, SapIn, SapOut
from tests.factories import operation as people
from tests.factories import sugarhouse, woods

pytestmark = pytest.mark.django_db

AT = sugarhouse.AT


def text(response):
    plain = re.sub(r"<[^>]+>", " ", response.content.decode())
    return re.sub(r"\s+", " ", plain)


@pytest.fixture
def load():
    return sugarhouse.sap_in(woods.woodlot(), volume_litres=1000.0)


def receipt(row):
    return reverse("sugarhouse:sap_receipt", args=[row.pk])


def let_go(load, litres=300.0, **fields):
    plain = {"uuid": uuid4(), "kind": "sold", "at": AT, "reason": "Tanker"}
    return actions.record_sap_out(sap_in=load, volume_litres=litres, **plain | fields)


def boil(litres, number=None):
    return actions.record_batch(
        uuid=uuid4(),
        season=2026,
        boiled_at=AT + timedelta(hours=1),
        syrup_litres=10.0,
        syrup_brix=66.0,
        crew=None,
        sap_litres=litres,
    )


def remaining(load):
    return SapIn.objects.get(pk=load.pk).remaining_litres


def undo(client, out):
    return client.post(reverse("sugarhouse:undo_sap_out", args=[out.pk]), follow=True)


def test_untouched_sap_offers_to_be_removed(crew_client, load):
    words = text(crew_client.get(receipt(load)))
    assert "Remove this sap" in words
    assert "strike that out first" not in words


def test_sap_that_went_on_names_what_to_strike_out_first(crew_client, load):
    batch = boil(200.0)
    let_go(load, reason="Ledge Road neighbours")
    page = crew_client.get(receipt(load))
    assert "Remove this sap" not in text(page)
    assert "Sold as sap, 79 gal: Ledge Road neighbours Strike this out" in text(page)
    there = reverse("sugarhouse:batch", args=[batch.pk])
    assert f'href="{there}#wrong"' in page.content.decode()


def test_the_way_named_leads_to_removing_the_sap(crew_client, load):
    batch, out = boil(200.0), let_go(load)
    crew_client.post(reverse("sugarhouse:undo_batch", args=[batch.pk]))
    page = undo(crew_client, out)
    assert "Remove this sap" in text(page)
    crew_client.post(reverse("sugarhouse:remove_sap", args=[load.pk]))
    assert not SapIn.objects.exists()


@pytest.mark.parametrize("kind", SapOut.Kind.values)
def test_striking_out_a_sale_or_dumping_gives_its_sap_back(crew_client, load, kind):
    page = undo(crew_client, let_go(load, kind=kind))
    assert "back in its load" in text(page)
    assert remaining(load) == 1000.0
    assert not SapOut.objects.exists()


def test_striking_out_twice_gives_back_once(load):
    out, _ = let_go(load, 300.0), let_go(load, 200.0)
    for _ in range(2):
        actions.undo_sap_out(out=out)
    assert remaining(load) == pytest.approx(800.0)


@pytest.mark.parametrize(
    ("volume", "first", "second"),
    [
        # As floats, 78.2 - 12.5 - 1.9 + 12.5 + 1.9 comes out a hair over 78.2.
        (78.2, 12.5, 1.9),
        # And 127.7 - 2.4 - 19.6 + 2.4 + 19.6 a hair under, which would look used.
        (127.7, 2.4, 19.6),
    ],
)
def test_load_given_back_in_parts_is_whole_to_the_last_bit(volume, first, second):
    load = sugarhouse.sap_in(woods.woodlot(), volume_litres=volume)
    outs = [let_go(load, first), let_go(load, second)]
    for out in outs:
        actions.undo_sap_out(out=out)
    assert remaining(load) == volume
    actions.remove_sap_in(sap_in=load)
    assert not SapIn.objects.exists()


def test_striking_out_leaves_the_other_loads_alone(load):
    other = sugarhouse.sap_in(woods.woodlot("Other"), volume_litres=500.0)
    let_go(other, 100.0)
    actions.undo_sap_out(out=let_go(load, 300.0))
    assert remaining(other) == 400.0


def test_struck_out_sale_is_gone_from_the_ledger(load):
    out = let_go(load, 300.0)
    actions.undo_sap_out(out=out)
    (ledger,) = queries.sap_by_woodlot(2026, 66.0).values()
    assert ledger.litres == {"boiled": 0.0, "sold": 0.0, "dumped": 0.0, "stock": 1000.0}


def test_batch_page_says_how_to_take_it_out(crew_client, load):
    batch = boil(200.0)
    words = text(crew_client.get(reverse("sugarhouse:batch", args=[batch.pk])))
    assert "Entered wrong?" in words
    assert "its sap goes back to the loads it came from" in words


def test_struck_out_batch_can_be_entered_again_with_the_same_sap(load):
    actions.undo_batch(batch=boil(1000.0))
    boil(1000.0)
    assert Batch.objects.count() == 1
    assert remaining(load) == 0.0


def test_number_of_a_struck_out_last_batch_is_given_again(load):
    boil(100.0)
    actions.undo_batch(batch=boil(100.0))
    assert boil(100.0).number == 2


def test_number_of_a_struck_out_earlier_batch_stays_empty(load):
    first, _ = boil(100.0), boil(100.0)
    actions.undo_batch(batch=first)
    assert boil(100.0).number == 3


def test_list_of_sap_says_where_a_wrong_entry_is_mended(crew_client, load):
    assert "A wrong entry? Open it by its date" in text(crew_client.get(reverse("sugarhouse:sap")))


@pytest.fixture
def tank():
    return sugarhouse.tank("Roof tank")


def test_wrong_dip_is_struck_out_and_the_tank_stands_as_before(crew_client, tank):
    hour = timedelta(hours=1)
    sugarhouse.dip(tank, at=people.FIXED_NOW - 2 * hour, depth_mm=300.0)
    wrong = sugarhouse.dip(tank, at=people.FIXED_NOW - hour, depth_mm=900.0)
    page = crew_client.post(reverse("sugarhouse:void_dip", args=[wrong.pk]), follow=True)
    assert "Roof tank: the dip of 16 Mar, 06:00 is struck out" in text(page)
    (row,) = queries.tanks_now(people.FIXED_NOW, 1.0)
    assert row.last.depth_mm == 300.0


def test_each_dip_has_a_button_of_its_own(crew_client, tank):
    dips = [sugarhouse.dip(tank, at=AT - timedelta(hours=hours)) for hours in (1, 2)]
    page = crew_client.get(reverse("sugarhouse:tank", args=[tank.pk])).content.decode()
    for dip in dips:
        assert reverse("sugarhouse:void_dip", args=[dip.pk]) in page
    assert page.count("Strike out the dip of") == 2


def test_struck_out_dip_leaves_its_moment_free(tank):
    wrong = sugarhouse.dip(tank)
    strike_out(wrong)
    again = {"uuid": uuid4(), "tank": tank, "at": wrong.at, "crew": None}
    assert actions.record_dip(depth_mm=400.0, **again).depth_mm == 400.0
    assert Dip.objects.count() == 2
    assert Dip.objects.standing().get().depth_mm == 400.0


def strike_out(dip):
    by = CrewMember.objects.first() or people.crew("wren")
    actions.void_dip(dip=dip, by=by, at=people.FIXED_NOW)


def test_struck_out_dip_stays_with_who_and_when(crew_client, crew, tank):
    wrong = sugarhouse.dip(tank, depth_mm=900.0)
    crew_client.post(reverse("sugarhouse:void_dip", args=[wrong.pk]))
    page = text(crew_client.get(reverse("sugarhouse:tank", args=[tank.pk])))
    assert "counts for nothing" in page
    assert "struck out by Sol, 16 Mar, 07:00" in page
    wrong.refresh_from_db()
    assert (wrong.depth_mm, wrong.voided_by) == (900.0, crew)


def test_dip_struck_out_twice_keeps_the_first_who(tank):
    wrong = sugarhouse.dip(tank)
    strike_out(wrong)
    actions.void_dip(dip=wrong, by=people.owner(), at=people.FIXED_NOW + timedelta(hours=1))
    wrong.refresh_from_db()
    assert (wrong.voided_by.username, wrong.voided_at) == ("wren", people.FIXED_NOW)


def test_struck_out_dip_sent_again_is_not_entered_anew(tank):
    sent = {"uuid": uuid4(), "tank": tank, "at": AT, "depth_mm": 900.0, "crew": None}
    strike_out(actions.record_dip(**sent))
    assert actions.record_dip(**sent).voided_at is not None
    assert Dip.objects.count() == 1


def test_struck_out_dip_never_stands_in_the_way_of_a_smaller_tank(tank):
    strike_out(sugarhouse.dip(tank, depth_mm=990.0))
    sides = {"diameter_mm": 1000.0, "height_mm": 800.0, "shape": "vertical", "name": tank.name}
    actions.save_tank(tank=tank, points=[], values=sides)
    assert Dip.objects.get().volume_litres == pytest.approx(777.5, abs=0.1)


NAMES = ["undo_sap_out", "void_dip", "remove_sap", "undo_batch"]


@pytest.mark.parametrize("name", NAMES)
def test_striking_out_is_never_a_plain_link(crew_client, name):
    assert crew_client.get(reverse(f"sugarhouse:{name}", args=[1])).status_code == 405


@pytest.mark.parametrize("name", NAMES)
def test_striking_out_what_is_not_there_is_not_found(crew_client, name):
    assert crew_client.post(reverse(f"sugarhouse:{name}", args=[999_999])).status_code == 404


@pytest.mark.parametrize("name", NAMES)
def test_stranger_strikes_nothing_out(client, load, tank, name):
    rows = {"undo_sap_out": let_go(load), "void_dip": sugarhouse.dip(tank), "remove_sap": load}
    row = rows.get(name) or boil(100.0)
    response = client.post(reverse(f"sugarhouse:{name}", args=[row.pk]))
    assert reverse("operation:sign_in") in response["Location"]
    assert type(row).objects.filter(pk=row.pk).exists()

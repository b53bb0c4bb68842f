import re
from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from apps.domain.errors import DomainError
from apps.sugarhouse import actions, queries
from apps.sugarhouse.models import Dip, Tank
from tests.factories import operation as people
from tests.factories import sugarhouse, woods

pytestmark = pytest.mark.django_db

HERE = reverse("sugarhouse:tanks")
NOW = people.FIXED_NOW
INCH = 25.4


def text(response):
    plain = re.sub(r"<[^>]+>", " ", response.content.decode())
    return re.sub(r"\s+", " ", plain)


def hours_ago(hours):
    return NOW - timedelta(hours=hours)


def only(usable_share=1.0):
    (row,) = queries.tanks_now(NOW, usable_share)
    return row


@pytest.fixture
def tank():
    """A box of 1,000 mm by 1,000 mm by 1,000 mm: a litre a millimetre."""
    measures = {"width_mm": 1000.0, "length_mm": 1000.0, "height_mm": 1000.0}
    return sugarhouse.tank("Feed tank", shape="box", **measures)


def test_level_rate_and_time_to_full_by_hand(tank):
    # 400 to 500 L in 2 h is 50 L/h; 970 usable leave 470 L, 9.4 h from the dip an hour ago.
    sugarhouse.dip(tank, at=hours_ago(3), depth_mm=400.0)
    sugarhouse.dip(tank, at=hours_ago(1), depth_mm=500.0)
    row = only(usable_share=0.97)
    assert row.inflow_litres_per_hour == pytest.approx(50.0)
    assert row.hours_left == pytest.approx(8.4)
    assert row.full_at == hours_ago(1) + timedelta(hours=9.4)
    assert (row.state, row.share_full) == ("filling", pytest.approx(0.5))


@pytest.mark.parametrize(
    ("dips", "hauled", "state"),
    [
        ((), None, "no dip yet"),
        (((1, 500.0),), None, "rate unknown"),
        (((3, 500.0), (1, 400.0)), None, "not filling"),
        (((3, 500.0), (1, 500.0)), None, "not filling"),
        (((3, 300.0), (1, 500.0)), None, "filling"),
        (((9, 100.0), (8, 500.0)), None, "full"),
        (((3, 300.0), (1, 1000.0)), None, "full"),
        (((3, 300.0), (1, 500.0)), 0.5, "dip again"),
        (((3, 300.0), (1, 500.0)), 2, "rate unknown"),
        (((3, 300.0), (1, 500.0)), 5, "filling"),
    ],
)
def test_state_claims_no_more_than_the_dips_show(tank, dips, hauled, state):
    for hours, depth_mm in dips:
        sugarhouse.dip(tank, at=hours_ago(hours), depth_mm=depth_mm)
    if hauled is not None:
        sugarhouse.sap_in(woods.woodlot(), from_tank=tank, at=hours_ago(hauled))
    assert only().state == state


@pytest.mark.parametrize(
    ("depth_mm", "said"), [(400.0, "It fell 26 gal an hour"), (500.0, "It rose 0")]
)
def test_tank_that_does_not_fill_says_how_it_moved(crew_client, tank, depth_mm, said):
    # 100 L lost in an hour are 26.4 gal.
    sugarhouse.dip(tank, at=hours_ago(2), depth_mm=500.0)
    sugarhouse.dip(tank, at=hours_ago(1), depth_mm=depth_mm)
    assert said in text(crew_client.get(HERE))


def test_dips_yet_to_come_are_not_known(tank):
    sugarhouse.dip(tank, at=NOW + timedelta(hours=1))
    assert only().last is None


def test_rate_too_slow_to_plan_by_promises_no_hour(tank):
    sugarhouse.dip(tank, at=hours_ago(24), depth_mm=100.0)
    sugarhouse.dip(tank, at=hours_ago(0), depth_mm=100.5)
    assert only().full_at is None


def test_tank_by_an_unfinished_table_has_no_size():
    sugarhouse.tank(shape="table", points=[(0.0, 0.0)])
    row = only()
    assert (row.full_litres, row.share_full) == (None, None)


def test_dip_table_is_read_between_its_points():
    tank = sugarhouse.tank(shape="table", points=[(500.0, 800.0), (0.0, 0.0), (1000.0, 1000.0)])
    assert tank.measure().volume_litres(250.0) == 400.0


def dip(client, tank, depth, **fields):
    typed = {"uuid": uuid4(), "tank": tank.pk, "depth": depth, "at": "2026-03-16T06:30"}
    return client.post(HERE, typed | fields, follow=True)


def test_dip_is_kept_in_si_and_told_as_sap(crew_client, tank):
    page = dip(crew_client, tank, "20")
    assert Dip.objects.get().depth_mm == pytest.approx(20 * INCH)
    # 20 in. of a litre a millimetre: 508 L, 134.2 gal.
    assert "Feed tank: 20.00 in. is 134 gal of sap." in text(page)
    assert "134 gal of sap , 51 % of 264 gal" in text(page)


@pytest.mark.parametrize(
    ("depth", "said"),
    [
        ("50", "This tank reads from 0.00 in. to 39.37 in., not 50.00 in."),
        ("deep", "Enter a number."),
        ("-1", "Must not be under 0.00 in."),
    ],
)
def test_bad_dip_is_refused_and_what_was_typed_stays(crew_client, tank, depth, said):
    page = dip(crew_client, tank, depth)
    assert said in text(page)
    assert f'value="{depth}"' in page.content.decode()
    assert not Dip.objects.exists()


def test_same_dip_sent_twice_is_one_dip(crew_client, tank):
    uuid = uuid4()
    for _ in range(2):
        dip(crew_client, tank, "20", uuid=uuid)
    assert Dip.objects.count() == 1


def test_second_dip_of_one_minute_is_refused(crew_client, tank):
    dip(crew_client, tank, "20")
    page = dip(crew_client, tank, "21")
    assert "a dip at this minute already" in text(page)
    assert Dip.objects.count() == 1


def add(client, tank=None, **fields):
    name = "sugarhouse:tank_edit" if tank else "sugarhouse:tank_add"
    typed = {"uuid": uuid4(), "name": "Roof tank", "woodlot": "", "shape": "vertical"}
    there = reverse(name, args=[tank.pk] if tank else [])
    return client.post(there, typed | fields, follow=True)


@pytest.mark.parametrize(
    ("typed", "full_litres"),
    [
        # pi / 4 x 40^2 x 50 in. = 62,832 cubic inches, at 16.387 ml each.
        ({"shape": "vertical", "diameter": "40", "height": "50"}, 1029.6),
        ({"shape": "horizontal", "diameter": "40", "length": "50"}, 1029.6),
        # 40 x 50 x 60 in. = 120,000 cubic inches.
        ({"shape": "box", "width": "40", "length": "50", "height": "60"}, 1966.4),
        # A circle of 40 in. and a rectangle of 20 x 40, times 50 in.
        ({"shape": "oval", "width": "60", "height": "40", "length": "50"}, 1685.1),
        # 300 gal.
        ({"shape": "table", "table": "0, 0\n10; 100\n\n20 300"}, 1135.6),
    ],
)
def test_tank_of_every_shape_can_be_added(owner_client, typed, full_litres):
    add(owner_client, **typed)
    assert Tank.objects.get().measure().full_litres == pytest.approx(full_litres, abs=0.06)


def test_measures_the_shape_does_not_need_are_left_out(owner_client):
    add(owner_client, diameter="40", height="50", length="77", table="1 2\n3 4")
    tank = Tank.objects.get()
    assert tank.length_mm is None
    assert not tank.dip_points.exists()


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"diameter": "40"}, "height"),
        ({"diameter": "wide", "height": "50"}, "diameter"),
        ({"shape": "table"}, "table"),
        ({"shape": "table", "table": "0 0\n10 100\n9 200"}, "table"),
        ({"shape": "table", "table": "0 0\nten 100"}, "table"),
        ({"diameter": "40", "height": "50", "name": ""}, "name"),
        ({"diameter": "40", "height": "50", "name": "Feed tank"}, "name"),
    ],
)
def test_bad_tank_is_refused_at_its_field_and_what_was_typed_stays(
    owner_client, tank, typed, field
):
    page = add(owner_client, **typed)
    assert field in page.context["form"].errors
    for value in typed.values():
        assert value.splitlines()[-1:] == [] or value.splitlines()[-1] in page.content.decode()
    assert Tank.objects.count() == 1


def test_same_tank_sent_twice_is_one_tank(owner_client):
    uuid = uuid4()
    for _ in range(2):
        page = add(owner_client, uuid=uuid, diameter="40", height="50")
    assert page.status_code == 200
    assert Tank.objects.count() == 1


def test_form_without_its_mark_is_refused(owner_client):
    add(owner_client, uuid="", diameter="40", height="50")
    assert not Tank.objects.exists()


def test_correcting_a_tank_reads_its_dips_again(owner_client, tank):
    dip = sugarhouse.dip(tank, depth_mm=500.0)
    # Half as wide: 500 mm of depth is now 250 L.
    values = {"shape": "box", "width": "19.685", "length": "39.37", "height": "39.37"}
    add(owner_client, tank, uuid=tank.uuid, name="Feed tank", **values)
    dip.refresh_from_db()
    assert dip.volume_litres == pytest.approx(250.0, rel=1e-3)


def test_measures_that_no_past_dip_fits_are_refused_and_nothing_changes(owner_client, tank):
    sugarhouse.dip(tank, depth_mm=900.0)
    values = {"shape": "box", "width": "40", "length": "40", "height": "10"}
    page = add(owner_client, tank, uuid=tank.uuid, name="Feed tank", **values)
    assert "does not fit these measures" in text(page)
    tank.refresh_from_db()
    assert tank.height_mm == 1000.0


def test_correction_form_shows_what_is_stored(owner_client):
    tank = sugarhouse.tank(shape="table", points=[(0.0, 0.0), (254.0, 378.5411784)])
    page = owner_client.get(reverse("sugarhouse:tank_edit", args=[tank.pk]))
    assert page.context["form"]["table"].value() == "0, 0\n10, 100"


@pytest.mark.parametrize("name", ["sugarhouse:tank_add", "sugarhouse:tank_edit"])
def test_only_an_owner_changes_tanks(crew_client, tank, name):
    there = reverse(name, args=[tank.pk] if name.endswith("edit") else [])
    assert crew_client.get(there).status_code == 403


def test_tank_page_lists_its_dips(crew_client, tank):
    sugarhouse.dip(tank, depth_mm=508.0)
    page = crew_client.get(reverse("sugarhouse:tank", args=[tank.pk]))
    assert "20.00 in." in text(page)


def test_no_tank_yet_says_what_to_do(owner_client, crew_client):
    assert "No tank yet" in text(crew_client.get(HERE))


def test_pages_warn_of_the_air_in_a_tank(crew_client, tank):
    assert "Never climb into a tank" in text(crew_client.get(HERE))


def test_action_refuses_a_depth_the_tank_has_not(tank):
    with pytest.raises(DomainError):
        actions.record_dip(uuid=uuid4(), tank=tank, at=NOW, depth_mm=1001.0, crew=None)


def test_list_takes_as_many_queries_for_a_thousand_tanks_as_for_ten(crew_client):
    def count(rows):
        for _ in range(rows):
            tank = sugarhouse.tank(f"Tank {Tank.objects.count()}")
            sugarhouse.dip(tank, at=hours_ago(3), depth_mm=400.0)
            sugarhouse.dip(tank, at=hours_ago(1), depth_mm=500.0)
        with CaptureQueriesContext(connection) as counted:
            assert crew_client.get(HERE).status_code == 200
        return len(counted)

    assert count(10) == count(990)

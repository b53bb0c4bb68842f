import re
from datetime import timedelta
from urllib.parse import urlencode
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from apps.domain.units import litres_from_us_gallons
from apps.sugarhouse import actions
from apps.sugarhouse.models import SapIn, SapOut
from tests.factories import operation as people
from tests.factories import sugarhouse, woods

pytestmark = pytest.mark.django_db

GALLON = 3.785411784
HERE = reverse("sugarhouse:sap")


def post(client, source=None, *, method="load", **fields):
    typed = {
        "uuid": uuid4(),
        "at": "2026-03-16T06:30",
        "woodlot": source.pk if source else "",
        "seller": "",
        "brix": "2.1",
        "share": "100",
        "share_rule": "",
    }
    return client.post(f"{HERE}?method={method}", typed | fields, follow=True)


def text(response):
    """The page's words, spaces made even and the signs of arithmetic typable."""
    plain = re.sub(r"<[^>]+>", " ", response.content.decode())
    return re.sub(r"\s+", " ", plain).replace("\u2212", "-").replace("\u00d7", "x")


@pytest.mark.parametrize(
    ("method", "typed", "gallons", "arithmetic"),
    [
        ("load", {"volume": "500"}, 500.0, "Load hauled"),
        ("meter", {"start": "1200.5", "end": "1450.25"}, 249.75, "1,450.25 gal - 1,200.50 gal"),
        (
            "meter",
            {"start": "99900", "end": "150", "rolls_over_at": "100000"},
            250.0,
            "150.00 gal - 99,900.00 gal + 100,000.00 gal (rolled over)",
        ),
        (
            "dump_counter",
            {"start": "412", "end": "655", "per_count": "3.5"},
            850.5,
            "(655 - 412) x 3.50 gal",
        ),
        (
            "dump_counter",
            {"start": "9990", "end": "10", "per_count": "3.5", "rolls_over_at": "10000"},
            70.0,
            "(10 - 9,990 + 10,000, rolled over) x 3.50 gal",
        ),
    ],
)
def test_sap_is_computed_from_its_readings_and_says_how(
    crew_client, method, typed, gallons, arithmetic
):
    page = post(crew_client, woods.woodlot(), method=method, **typed)
    row = SapIn.objects.get()
    assert row.volume_litres == pytest.approx(gallons * GALLON)
    assert row.remaining_litres == row.volume_litres
    assert arithmetic in text(page)


def test_tank_rise_is_read_by_the_tank_shape(crew_client):
    # A standing round tank 1,000 mm across: 10 in. is pi / 4 x 1000^2 x 254 mm3 = 199.49 L.
    tank = sugarhouse.tank()
    post(crew_client, woods.woodlot(), method="tank_rise", tank=tank.pk, start="5", end="15")
    assert SapIn.objects.get().volume_litres == pytest.approx(199.49, abs=0.005)


@pytest.mark.parametrize(
    ("end", "said"),
    [
        ("4", "The end must be above the start."),
        ("50", "This tank reads from 0.00 in. to 39.37 in."),
    ],
)
def test_impossible_depths_are_refused_in_the_units_typed(crew_client, end, said):
    tank = sugarhouse.tank()
    page = post(crew_client, woods.woodlot(), method="tank_rise", tank=tank.pk, start="5", end=end)
    assert said in text(page)
    assert f'value="{end}"' in page.content.decode()
    assert not SapIn.objects.exists()


def test_shared_measurement_counts_by_its_share_and_says_the_rule(crew_client):
    woodlot = woods.woodlot()
    typed = {"volume": "1000", "share": "60", "share_rule": "by set taps, 1,200 of 2,000"}
    page = post(crew_client, woodlot, **typed)
    assert SapIn.objects.get().volume_litres == pytest.approx(600 * GALLON)
    assert "x 60.0 % (by set taps, 1,200 of 2,000)" in text(page)


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"volume": "many"}, "volume"),
        ({"volume": "-5"}, "volume"),
        ({"brix": "0.1"}, "brix"),
        ({"brix": "sweet"}, "brix"),
        ({"at": "2026-03-17T06:30"}, "at"),
        ({"share": "50"}, "share_rule"),
        ({"seller": "Neighbours"}, "seller"),
        ({"woodlot": ""}, "woodlot"),
    ],
)
def test_bad_entry_is_refused_at_its_field_and_what_was_typed_stays(crew_client, typed, field):
    page = post(crew_client, woods.woodlot(), **{"volume": "512", "share_rule": ""} | typed)
    assert field in page.context["form"].errors
    assert f'value="{typed.get("volume", "512")}"' in page.content.decode()
    assert not SapIn.objects.exists()


def test_readings_that_fall_without_a_roll_over_are_refused(crew_client):
    page = post(crew_client, woods.woodlot(), method="meter", start="10", end="5")
    assert page.context["form"].errors["end"] == ["The end must be above the start."]


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"start": "9990", "end": "5", "rolls_over_at": "1000"}, "make no volume: start reading"),
        ({"start": "0", "end": "900000", "per_count": "100"}, "This comes to 90,000,000 gal."),
    ],
)
def test_readings_that_come_to_nothing_real_are_refused(crew_client, typed, said):
    typed = {"per_count": "3.5"} | typed
    page = post(crew_client, woods.woodlot(), method="dump_counter", **typed)
    assert said in text(page)
    assert not SapIn.objects.exists()


def test_woodlot_that_is_not_there_is_refused_once(crew_client):
    page = post(crew_client, volume="500", woodlot="999999")
    assert list(page.context["form"].errors) == ["woodlot"]


def test_bought_sap_belongs_to_no_woodlot(crew_client):
    page = post(crew_client, seller="Pell Corners neighbours", volume="300")
    assert SapIn.objects.get().woodlot is None
    assert "Bought from Pell Corners neighbours" in text(page)


def test_same_form_sent_twice_makes_one_receipt(crew_client):
    woodlot, uuid = woods.woodlot(), uuid4()
    for _ in range(2):
        post(crew_client, woodlot, volume="500", uuid=uuid)
    assert SapIn.objects.count() == 1


@pytest.mark.parametrize(("at", "season"), [("2025-11-30T23:30", 2025), ("2025-12-01T00:30", 2026)])
def test_season_goes_by_the_local_day(crew_client, at, season):
    post(crew_client, woods.woodlot(), volume="5", at=at)
    assert SapIn.objects.get().season == season


def test_metric_operation_types_litres(crew_client):
    people.operation(unit_system="metric")
    post(crew_client, woods.woodlot(), volume="500")
    assert SapIn.objects.get().volume_litres == 500.0


def test_next_reading_starts_where_the_last_one_ended(crew_client):
    row = sugarhouse.sap_in(
        woods.woodlot(),
        method="dump_counter",
        start_reading=400,
        end_reading=655,
        litres_per_count=litres_from_us_gallons(3.5),
    )
    page = crew_client.get(f"{HERE}?{urlencode({'after': row.pk})}")
    form = page.context["form"]
    assert form["start"].value() == 655
    assert form["per_count"].value() == 3.5
    assert form["woodlot"].value() == row.woodlot_id


def test_only_the_newest_reading_of_each_instrument_is_carried_on(crew_client):
    woodlot = woods.woodlot()
    for hours, end in ((5, 20), (2, 30)):
        sugarhouse.sap_in(
            woodlot,
            method="meter",
            start_reading=end - 10,
            end_reading=end,
            at=sugarhouse.AT - timedelta(hours=hours),
        )
    page = crew_client.get(HERE)
    assert [row.end_reading for row in page.context["readings"]] == [30]


def test_empty_books_say_what_to_do(crew_client):
    assert "Enter the first load" in text(crew_client.get(HERE))


def test_stock_is_blended_by_sugar_and_shows_its_oldest(crew_client):
    # Equal volumes at 2.0 and 3.0: a hair over 2.50, the richer weighing more.
    woodlot = woods.woodlot()
    sugarhouse.sap_in(woodlot, brix=2.0)
    sugarhouse.sap_in(woodlot, brix=3.0, at=sugarhouse.AT - timedelta(days=1))
    stock = crew_client.get(HERE).context["stock"]
    assert stock.litres == 2000.0
    assert 2.5 < stock.brix < 2.502
    assert stock.oldest_at == sugarhouse.AT - timedelta(days=1)


def test_list_takes_as_many_queries_for_a_thousand_rows_as_for_ten(crew_client):
    woodlot = woods.woodlot()

    def count(rows):
        for _ in range(rows):
            sugarhouse.sap_in(woodlot)
        with CaptureQueriesContext(
            connection,
        ) as queries:
            assert crew_client.get(HERE).status_code == 200
        return len(queries)

    assert count(10) == count(990)


def send_out(client, row, **fields):
    typed = {"uuid": uuid4(), "at": "2026-03-16T06:30", "kind": "dumped", "reason": "Spoiled"}
    return client.post(
        reverse("sugarhouse:sap_receipt", args=[row.pk]), typed | fields, follow=True
    )


def test_dumped_sap_leaves_the_load_and_keeps_its_reason(crew_client):
    row = sugarhouse.sap_in(woods.woodlot(), volume_litres=100 * GALLON)
    page = send_out(crew_client, row, volume="40")
    row.refresh_from_db()
    assert row.remaining_litres == pytest.approx(60 * GALLON)
    assert "Dumped: Spoiled" in text(page)


def test_more_than_the_load_holds_is_refused_and_nothing_moves(crew_client):
    row = sugarhouse.sap_in(woods.woodlot(), volume_litres=100 * GALLON)
    page = send_out(crew_client, row, volume="140")
    assert "This load holds 100 gal of sap, no more." in text(page)
    assert not SapOut.objects.exists()
    row.refresh_from_db()
    assert row.remaining_litres == 100 * GALLON


def test_the_rounded_figure_shown_means_all_of_it(crew_client):
    row = sugarhouse.sap_in(woods.woodlot(), volume_litres=100.4 * GALLON)
    send_out(crew_client, row, volume="100")
    row.refresh_from_db()
    assert row.remaining_litres == 0.0


def test_same_dumping_sent_twice_counts_once(crew_client):
    row, uuid = sugarhouse.sap_in(woods.woodlot(), volume_litres=100 * GALLON), uuid4()
    for _ in range(2):
        send_out(crew_client, row, volume="40", uuid=uuid)
    row.refresh_from_db()
    assert row.remaining_litres == pytest.approx(60 * GALLON)


def test_sap_entered_by_mistake_can_be_removed_while_untouched(crew_client):
    row = sugarhouse.sap_in(woods.woodlot())
    crew_client.post(reverse("sugarhouse:remove_sap", args=[row.pk]))
    assert not SapIn.objects.exists()


def test_sap_that_went_somewhere_stays_in_the_books(crew_client):
    row = sugarhouse.sap_in(woods.woodlot(), remaining_litres=900.0)
    sugarhouse.sap_out(row)
    page = crew_client.post(reverse("sugarhouse:remove_sap", args=[row.pk]), follow=True)
    assert "its record stays" in text(page)
    with pytest.raises(actions.SapAlreadyUsed):
        actions.remove_sap_in(sap_in=row)
    assert SapIn.objects.filter(pk=row.pk).exists()


@pytest.mark.parametrize("name", ["sugarhouse:remove_sap", "sugarhouse:undo_batch"])
def test_removing_is_never_a_plain_link(crew_client, name):
    assert crew_client.get(reverse(name, args=[1])).status_code == 405


@pytest.mark.parametrize("name", ["sugarhouse:sap", "sugarhouse:tanks", "sugarhouse:batches"])
def test_pages_ask_who_you_are_first(client, db, name):
    assert client.get(reverse(name)).status_code == 302

"""What owners type about the woods: kept in SI, refused at its field, never lost."""

import pytest
from django.urls import reverse

from apps.woods.models import Landowner, Lease, Line, PumpHouse, TapCount, Woodlot
from tests.factories import operation as people
from tests.factories import woods


@pytest.fixture
def lot(db):
    return woods.woodlot("North", landowner=woods.landowner())


@pytest.fixture
def wood(lot):
    """A woodlot with one of everything; every row has the address its page needs."""
    house = woods.pump_house(lot)
    main = woods.line(lot, "M1", pump_house=house, planned_taps=0, length_m=304.8, fall_m=9.144)
    woods.line(lot, "L1", kind="lateral", parent=main, planned_taps=11)
    woods.line(lot, "L2", kind="lateral", parent=main)
    woods.lease(lot, landowner=lot.landowner)
    return lot


def page(client, name, *args, **query):
    response = client.get(reverse(f"woods:{name}", args=args), query)
    assert response.status_code == 200
    return response.content.decode()


def post(client, name, /, *args, **data):
    return client.post(reverse(f"woods:{name}", args=args), data)


WOODLOT = {
    "name": "South",
    "latitude": "43.9021",
    "longitude": "-75.3",
    "elevation_m": "1500",
    "area_ha": "40",
    "maple_share": "80",
    "temperature_offset_c": "-2.5",
}


def test_an_owner_adds_a_woodlot_in_feet_and_acres(owner_client):
    assert post(owner_client, "woodlot_add", **WOODLOT).status_code == 302
    lot = Woodlot.objects.get()
    # NIST SP 811 (2008), Appendix B.8: a foot is 0.3048 m; 43,560 sq ft of them are an acre.
    assert lot.elevation_m == pytest.approx(457.2)
    assert lot.area_ha == pytest.approx(16.187, abs=5e-4)
    assert lot.maple_share == pytest.approx(0.8)
    assert lot.temperature_offset_c == pytest.approx(-1.3889, abs=5e-5)


def test_a_metric_owner_adds_it_in_metres(owner_client):
    people.operation(unit_system="metric")
    post(owner_client, "woodlot_add", **WOODLOT)
    lot = Woodlot.objects.get()
    assert (lot.elevation_m, lot.area_ha, lot.temperature_offset_c) == (1500, 40, -2.5)


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        ("name", ""),
        ("latitude", "91"),
        ("latitude", "43,9"),
        ("longitude", "-181"),
        ("elevation_m", "20000"),
        ("elevation_m", "high"),
        ("area_ha", "0"),
        ("maple_share", "101"),
        ("temperature_offset_c", "50"),
        ("temperature_offset_c", ""),
    ],
)
def test_a_bad_woodlot_is_not_saved_and_keeps_what_was_typed(owner_client, field, typed):
    response = post(
        owner_client, "woodlot_add", **WOODLOT | {field: typed, "access": "By the ford"}
    )
    assert list(response.context["form"].errors) == [field]
    text = response.content.decode()
    assert f'value="{typed}"' in text or not typed
    assert "By the ford</textarea>" in text
    assert not Woodlot.objects.exists()


def test_a_name_already_taken_is_refused_at_its_field(owner_client, lot):
    response = post(owner_client, "woodlot_add", **WOODLOT | {"name": "North"})
    assert "already a woodlot called North" in response.content.decode()
    assert 'value="43.9021"' in response.content.decode()


def test_a_woodlot_saved_untouched_is_untouched(owner_client, lot):
    Woodlot.objects.update(elevation_m=457.123456, area_ha=16.18742, landowner=lot.landowner)
    form = owner_client.get(reverse("woods:woodlot_edit", args=[lot.pk])).context["form"]
    shown = {field.name: field.value() for field in form if field.value() is not None}
    assert post(owner_client, "woodlot_edit", lot.pk, **shown).status_code == 302
    after = Woodlot.objects.get()
    assert (after.elevation_m, after.area_ha) == (457.123456, 16.18742)
    assert after.landowner == lot.landowner


LINE = {"label": "L9", "kind": "lateral", "planned_taps": "7", "length_m": "100"}


def test_an_owner_adds_a_line_with_its_taps(owner_client, wood):
    main = wood.lines.get(label="M1")
    assert post(owner_client, "line_add", wood.pk, **LINE, parent=main.pk).status_code == 302
    line = Line.objects.get(label="L9")
    assert (line.parent, line.length_m) == (main, pytest.approx(30.48))
    assert TapCount.objects.get(line=line).season == 2026


def test_a_line_added_under_another_season_is_counted_there(owner_client, lot):
    url = reverse("woods:line_add", args=[lot.pk])
    owner_client.post(f"{url}?season=2027", LINE)
    assert TapCount.objects.get().season == 2027


def test_a_line_sent_twice_is_one_line(owner_client, lot):
    post(owner_client, "line_add", lot.pk, **LINE)
    again = post(owner_client, "line_add", lot.pk, **LINE)
    assert "already has a line labelled L9" in again.content.decode()
    assert Line.objects.count() == 1


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        ("label", ""),
        ("label", "x" * 25),
        ("kind", "pipe"),
        ("planned_taps", "-1"),
        ("planned_taps", "20001"),
        ("planned_taps", "7.5"),
        ("length_m", "0"),
        ("fall_m", "9999"),
        ("diameter_mm", "0"),
        ("walk_minutes", "0"),
        ("installed_season", "19"),
        ("drops_installed_season", "2201"),
        ("parent", "999"),
        ("pump_house", "999"),
    ],
)
def test_a_bad_line_is_not_saved_and_keeps_what_was_typed(owner_client, lot, field, typed):
    response = post(owner_client, "line_add", lot.pk, **LINE | {field: typed})
    assert list(response.context["form"].errors) == [field]
    assert response.context["form"][field].value() == typed
    assert not Line.objects.exists()


def test_lines_and_pump_houses_of_other_woodlots_are_not_on_offer(owner_client, wood):
    other = woods.woodlot("South")
    foreign = {"parent": woods.line(other).pk, "pump_house": woods.pump_house(other).pk}
    response = post(owner_client, "line_add", wood.pk, **LINE | foreign)
    assert set(response.context["form"].errors) == set(foreign)


def test_a_ring_is_refused_at_its_field(owner_client, wood):
    main, branch = wood.lines.get(label="M1"), wood.lines.get(label="L1")
    data = {"label": "M1", "kind": "main", "parent": branch.pk}
    response = post(owner_client, "line_edit", main.pk, **data)
    assert "that would make a ring" in str(response.context["form"].errors["parent"])


def test_an_emptied_count_is_forgotten(owner_client, wood):
    line = wood.lines.get(label="L1")
    post(owner_client, "line_edit", line.pk, label="L1", kind="lateral", planned_taps="")
    assert not TapCount.objects.filter(line=line).exists()


def test_removing_a_line_asks_first(owner_client, wood):
    line = wood.lines.get(label="L1")
    assert "Remove line L1 of North?" in page(owner_client, "line_remove", line.pk)
    assert Line.objects.filter(pk=line.pk).exists()
    post(owner_client, "line_remove", line.pk)
    assert not Line.objects.filter(pk=line.pk).exists()


def test_a_line_that_records_stand_on_is_not_removed_and_says_why(owner_client, wood):
    url = reverse("woods:line_remove", args=[wood.lines.get(label="M1").pk])
    response = owner_client.post(url, follow=True)
    assert "M1 stays, because this stands on it: 2 lines (L1, L2)." in response.content.decode()
    assert wood.lines.filter(label="M1").exists()


def test_last_seasons_counts_can_be_carried_over(owner_client, wood):
    url = reverse("woods:carry_taps", args=[wood.pk])
    assert "Plan 2 uncounted lines as in 2026" in page(owner_client, "lines", wood.pk, season=2027)
    assert owner_client.get(f"{url}?season=2027").status_code == 405
    owner_client.post(f"{url}?season=2027")
    counts = TapCount.objects.filter(season=2027).order_by("line__label")
    assert list(counts.values_list("planned_taps", flat=True)) == [11, 0]
    assert "uncounted line" not in page(owner_client, "lines", wood.pk, season=2027)


def test_an_owner_adds_and_renames_a_pump_house(owner_client, lot):
    post(owner_client, "pump_house_add", lot.pk, name="Lower", elevation_m="1000")
    house = PumpHouse.objects.get()
    assert house.elevation_m == pytest.approx(304.8)
    post(owner_client, "pump_house_edit", house.pk, name="Upper")
    house.refresh_from_db()
    assert (house.name, house.elevation_m) == ("Upper", None)


def test_an_owner_adds_and_changes_a_landowner(owner_client):
    post(owner_client, "landowner_add", name="Beech Hill Trust", email="trust@example.org")
    owner = Landowner.objects.get()
    response = post(owner_client, "landowner_edit", owner.pk, name=owner.name, email="nowhere")
    assert 'value="nowhere"' in response.content.decode()
    post(owner_client, "landowner_edit", owner.pk, name=owner.name, phone="555-0142")
    owner.refresh_from_db()
    assert (owner.email, owner.phone) == ("", "555-0142")


LEASE = {"rule": "fixed", "rate_per_tap": "0.85", "starts_on": "2026-05-01"}


def lease(client, lot, /, **data):
    given = LEASE | {"landowner": lot.landowner_id, "ends_on": "2031-04-30"} | data
    return post(client, "lease_add", lot.pk, **given)


@pytest.mark.parametrize(
    ("terms", "shown"),
    [
        ({}, "$0.85 for each counted tap"),
        ({"rate_per_tap": "0.8525"}, "$0.8525 for each counted tap"),
        ({"rate_per_tap": "1"}, "$1.00 for each counted tap"),
        (
            {"rule": "indexed", "index_then": "310.326"},
            "$0.85 for each counted tap, indexed from 310.326",
        ),
        ({"rule": "share", "gross_share": "12.5"}, "12.5 % of gross sales"),
        ({"rule": "share", "gross_share": "10"}, "10 % of gross sales"),
    ],
)
def test_a_lease_is_shown_by_its_rule(owner_client, lot, terms, shown):
    assert lease(owner_client, lot, **terms).status_code == 302
    assert shown in page(owner_client, "woodlot", lot.pk)


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"rate_per_tap": ""}, "rate_per_tap"),
        ({"rate_per_tap": "cheap"}, "rate_per_tap"),
        ({"rate_per_tap": "-1"}, "rate_per_tap"),
        ({"rule": "indexed"}, "index_then"),
        ({"rule": "indexed", "index_then": "0"}, "index_then"),
        ({"rule": "share"}, "gross_share"),
        ({"rule": "share", "gross_share": "0"}, "gross_share"),
        ({"rule": "share", "gross_share": "101"}, "gross_share"),
        ({"rule": "barter"}, "rule"),
        ({"ends_on": "2026-05-01"}, "ends_on"),
        ({"ends_on": "2026-02-30"}, "ends_on"),
        ({"landowner": ""}, "landowner"),
    ],
)
def test_a_bad_lease_is_not_saved_and_keeps_what_was_typed(owner_client, lot, wrong, field):
    response = lease(owner_client, lot, **wrong)
    assert list(response.context["form"].errors) == [field]
    assert 'value="2026-05-01"' in response.content.decode()
    assert not Lease.objects.exists()


def test_a_lease_that_has_ended_says_so(owner_client, lot):
    lease(owner_client, lot, starts_on="2015-05-01", ends_on="2020-04-30")
    assert "ended</span>" in page(owner_client, "woodlot", lot.pk)


def test_leased_land_without_a_lease_written_down_is_pointed_out(owner_client, lot):
    assert "though the land is Beech Hill Trust" in page(owner_client, "woodlot", lot.pk)


def test_the_name_says_that_printed_tags_carry_it(owner_client):
    lot = woods.woodlot("Cold Brook")
    page = owner_client.get(reverse("woods:woodlot_edit", args=[lot.pk])).content.decode()
    assert "Printed line tags carry this name: after a change, print them again." in page

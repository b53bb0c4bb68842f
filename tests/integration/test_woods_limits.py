"""The edges of what the forms of the woods take, in both units, and what their pages then say."""

import pytest
from django.urls import reverse

from apps.woods import forms
from apps.woods.models import Landowner, Line, PumpHouse, TapCount, Woodlot
from tests.factories import operation as people
from tests.factories import woods

pytestmark = pytest.mark.django_db
WOODLOT = {
    "name": "South",
    "latitude": "43.9",
    "longitude": "-75.3",
    "elevation_m": "400",
    "temperature_offset_c": "0",
}
LINE = {"label": "L9", "kind": "lateral"}


@pytest.fixture
def lot():
    return woods.woodlot("North")


def errors(form):
    form.is_valid()
    return list(form.errors)


def woodlot_form(unit_system="metric", **typed):
    return forms.WoodlotForm(WOODLOT | typed, unit_system=unit_system)


def line_form(lot, unit_system="metric", line=None, **typed):
    return forms.LineForm(
        LINE | typed, woodlot=lot, season=2026, line=line, unit_system=unit_system
    )


@pytest.mark.parametrize(
    ("field", "low", "high", "under", "over"),
    [
        ("latitude", "-90", "90", "-90.01", "90.01"),
        ("longitude", "-180", "180", "-180.01", "180.01"),
        ("elevation_m", "-100", "5000", "-101", "5001"),
        ("maple_share", "0", "100", "-1", "101"),
        ("temperature_offset_c", "-10", "10", "-10.1", "10.1"),
        ("area_ha", "0.001", "100000", "0", "100001"),
    ],
)
def test_a_woodlot_is_taken_at_its_limits_and_refused_beyond(field, low, high, under, over):
    for typed, refused in [(low, []), (high, []), (under, [field]), (over, [field])]:
        assert errors(woodlot_form(**{field: typed})) == refused, typed


@pytest.mark.parametrize(
    ("field", "low", "high", "under", "over"),
    [
        ("planned_taps", "0", "20000", "-1", "20001"),
        ("length_m", "0.01", "50000", "0", "50001"),
        ("fall_m", "-1000", "1000", "-1001", "1001"),
        ("diameter_mm", "1", "1000", "0.9", "1001"),
        ("walk_minutes", "0.1", "600", "0", "601"),
        ("installed_season", "1900", "2200", "1899", "2201"),
        ("drops_installed_season", "1900", "2200", "1899", "2201"),
        ("label", "x", "x" * 24, "", "x" * 25),
    ],
)
def test_a_line_is_taken_at_its_limits_and_refused_beyond(lot, field, low, high, under, over):
    for typed, refused in [(low, []), (high, []), (under, [field]), (over, [field])]:
        assert errors(line_form(lot, **{field: typed})) == refused, typed


# 5,000 m are 16,404.2 ft, 50,000 m 164,041.99 ft, 1,000 mm 39.37 in.
@pytest.mark.parametrize(
    ("make", "field", "high", "over"),
    [
        (woodlot_form, "elevation_m", "16404", "16405"),
        (line_form, "length_m", "164041", "164043"),
        (line_form, "diameter_mm", "39.37", "39.38"),
    ],
)
def test_limits_hold_in_feet_and_inches_too(lot, make, field, high, over):
    given = (lot,) if make is line_form else ()
    assert errors(make(*given, unit_system="us", **{field: high})) == []
    assert errors(make(*given, unit_system="us", **{field: over})) == [field]


@pytest.mark.parametrize("typed", ["nan", "inf", "1e999", "1,200", "12 ft", "--3"])
def test_what_is_no_number_is_never_taken_for_one(lot, typed):
    assert errors(line_form(lot, length_m=typed)) == ["length_m"]


@pytest.mark.parametrize(
    ("typed", "refused"),
    [
        ({"name": ""}, ["name"]),
        ({"name": "x" * 120}, []),
        ({"name": "x" * 121}, ["name"]),
        ({"phone": "5" * 41}, ["phone"]),
        ({"email": "trust@example.org"}, []),
        ({"email": "trust"}, ["email"]),
    ],
)
def test_a_landowner_has_a_name_and_a_way_to_be_reached(typed, refused):
    assert errors(forms.LandownerForm({"name": "Trust"} | typed, unit_system="us")) == refused


def test_a_line_is_not_offered_itself_to_run_into(lot):
    line = woods.line(lot, "M1")
    assert errors(line_form(lot, line=line, parent=str(line.pk))) == ["parent"]
    assert errors(line_form(lot, parent=str(line.pk))) == []


def test_the_label_of_the_taps_names_their_season(lot):
    assert line_form(lot).fields["planned_taps"].label == "Taps planned for 2026"


def post(client, name, /, *args, query="", **data):
    return client.post(reverse(f"woods:{name}", args=args) + query, data)


def edited(client, name, row, /, **typed):
    """Open the page, change a field, send everything back as a browser would."""
    form = client.get(reverse(f"woods:{name}", args=[row.pk])).context["form"]
    shown = {field.name: field.value() for field in form if field.value() is not None}
    return post(client, name, row.pk, **shown | typed)


@pytest.mark.parametrize("unit_system", ["us", "metric"])
def test_a_line_saved_untouched_is_untouched_to_the_last_figure(owner_client, lot, unit_system):
    people.operation(unit_system=unit_system)
    house = woods.pump_house(lot, elevation_m=1 / 3)
    fields = {"length_m": 37.61234567, "fall_m": -1 / 3, "diameter_mm": 100 / 3, "walk_minutes": 7}
    line = woods.line(
        lot, "L1", pump_house=house, parent=woods.line(lot, "M1"), planned_taps=12, **fields
    )
    before = Line.objects.filter(pk=line.pk).values().get()
    assert edited(owner_client, "line_edit", line).status_code == 302
    assert Line.objects.filter(pk=line.pk).values().get() == before
    assert TapCount.objects.get().planned_taps == 12
    assert edited(owner_client, "pump_house_edit", house).status_code == 302
    assert PumpHouse.objects.get().elevation_m == 1 / 3


def test_changing_one_field_leaves_every_other_as_it_was(owner_client, lot):
    line = woods.line(lot, "L1", planned_taps=12, length_m=37.61234567, installed_season=2019)
    edited(owner_client, "line_edit", line, planned_taps="13")
    line.refresh_from_db()
    assert (line.length_m, line.installed_season) == (37.61234567, 2019)
    assert TapCount.objects.get().planned_taps == 13


def test_a_line_edited_under_another_season_changes_that_seasons_taps_alone(owner_client, lot):
    line = woods.line(lot, "L1", kind="lateral", planned_taps=12)
    data = {"label": "L1", "kind": "lateral", "planned_taps": "9"}
    back = post(owner_client, "line_edit", line.pk, query="?season=2027", **data)
    assert back.url.endswith("?season=2027")
    assert dict(line.tap_counts.values_list("season", "planned_taps")) == {2026: 12, 2027: 9}


def test_a_pump_house_name_taken_is_refused_at_its_field(owner_client, lot):
    woods.pump_house(lot, "Lower")
    response = post(owner_client, "pump_house_add", lot.pk, name="Lower", pump="5 hp")
    assert list(response.context["form"].errors) == ["name"]
    assert 'value="5 hp"' in response.content.decode()
    assert PumpHouse.objects.count() == 1


def test_a_landowner_already_listed_is_refused_at_the_name(owner_client):
    woods.landowner("Trust")
    response = post(owner_client, "landowner_add", name="Trust", address="At the fork")
    assert list(response.context["form"].errors) == ["name"]
    assert "At the fork</textarea>" in response.content.decode()
    assert Landowner.objects.count() == 1


@pytest.mark.parametrize(
    ("unit_system", "elevation", "area"),
    [("us", "1,500 ft", "40.0 ac"), ("metric", "457 m", "16.19 ha")],
)
def test_the_woodlots_page_speaks_the_operations_units(owner_client, unit_system, elevation, area):
    people.operation(unit_system=unit_system)
    lot = woods.woodlot("North", elevation_m=457.2, area_ha=16.187426)
    text = owner_client.get(reverse("woods:woodlot", args=[lot.pk])).content.decode()
    assert elevation in text
    assert area in text


def test_what_nobody_said_of_a_woodlot_is_unknown_and_not_nought(owner_client, lot):
    text = owner_client.get(reverse("woods:woodlot", args=[lot.pk])).content.decode()
    facts = text[text.index("The ground") : text.index("Pump houses")]
    assert facts.count("unknown") == 2, "its area and its share of maples"
    assert facts.count("not said") == 2, "its aspect and the way there"


@pytest.mark.parametrize(
    ("kind", "taps", "marked"),
    [("lateral", 10, False), ("lateral", 11, True), ("main", 400, False)],
)
def test_only_a_lateral_over_the_usual_number_of_taps_is_marked(
    owner_client, lot, kind, taps, marked
):
    woods.line(lot, "L1", kind=kind, planned_taps=taps)
    text = owner_client.get(reverse("woods:lines", args=[lot.pk])).content.decode()
    assert ('badge warn">over 10' in text) is marked


@pytest.mark.parametrize("season", ["1900", "2025", "2200"])
def test_each_page_of_a_woodlot_shows_the_season_asked_for(owner_client, lot, season):
    woods.line(lot, "M1", planned_taps=77, season=int(season))
    for name in ("woodlot", "lines", "paper"):
        url = reverse(f"woods:{name}", args=[lot.pk])
        assert "77" in owner_client.get(url, {"season": season}).content.decode(), name
        assert ">77" not in owner_client.get(url).content.decode(), name


def test_the_total_of_all_woodlots_counts_those_of_every_page(owner_client):
    for number in range(51):
        woods.line(woods.woodlot(f"Lot {number:02}"), planned_taps=2)
    response = owner_client.get(reverse("woods:woodlots"), {"page": "2"})
    assert len(response.context["page"]) == 1
    assert response.context["total"].taps == 102
    assert Woodlot.objects.count() == 51


def test_found_lines_keep_their_place_and_the_total_of_all(owner_client, lot):
    main = woods.line(lot, "M1", planned_taps=5)
    for number in range(60):
        woods.line(lot, f"L{number}", kind="lateral", parent=main, planned_taps=1)
    response = owner_client.get(reverse("woods:lines", args=[lot.pk]), {"q": " l5 "})
    labels = [row.line.label for row in response.context["page"]]
    assert labels == ["L5", *(f"L5{n}" for n in range(10))]
    assert response.context["found"].total.taps == 65

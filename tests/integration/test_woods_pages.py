"""The pages of the woods: who may see and change what, and what they say."""

import pytest
from django.urls import reverse

from apps.woods.models import Woodlot
from tests.factories import woods

ON_NOTHING = ["woodlots", "landowners"]
ON_NOTHING_FOR_OWNERS = ["woodlot_add", "landowner_add"]
ON_A_WOODLOT = ["woodlot", "lines", "paper", "tree", "layout"]
ON_A_WOODLOT_FOR_OWNERS = [
    "woodlot_edit",
    "woodlot_remove",
    "line_add",
    "pump_house_add",
    "lease_add",
]
ON_A_ROW_FOR_OWNERS = [
    "line_edit",
    "line_remove",
    "pump_house_edit",
    "landowner_edit",
    "lease_edit",
    "pump_house_remove",
    "landowner_remove",
    "lease_remove",
]


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


def row_address(name, wood):
    rows = {"line": wood.lines, "pump_house": wood.pump_houses, "lease": wood.leases}
    sort = name.rpartition("_")[0]
    pk = rows[sort].first().pk if sort in rows else wood.landowner_id
    return reverse(f"woods:{name}", args=[pk])


@pytest.mark.parametrize("name", ON_NOTHING + ON_NOTHING_FOR_OWNERS)
def test_pages_open_before_anything_is_entered(owner_client, name):
    assert page(owner_client, name)


@pytest.mark.parametrize("name", ON_A_WOODLOT + ON_A_WOODLOT_FOR_OWNERS)
def test_pages_of_a_bare_woodlot_open(owner_client, name):
    assert page(owner_client, name, woods.woodlot().pk)


@pytest.mark.parametrize("name", ON_A_WOODLOT + ON_A_WOODLOT_FOR_OWNERS)
def test_pages_of_a_full_woodlot_open(owner_client, wood, name):
    assert page(owner_client, name, wood.pk)


@pytest.mark.parametrize("name", ON_A_ROW_FOR_OWNERS)
def test_pages_of_a_row_open(owner_client, wood, name):
    assert owner_client.get(row_address(name, wood)).status_code == 200


@pytest.mark.parametrize("name", ON_A_WOODLOT + ON_A_WOODLOT_FOR_OWNERS)
def test_a_woodlot_that_is_not_there_is_not_found(owner_client, name):
    response = owner_client.get(reverse(f"woods:{name}", args=[999]))
    assert response.status_code == 404


@pytest.mark.parametrize("season", ["1700", "next", "2201", "-1"])
def test_a_season_that_is_none_is_not_found(owner_client, lot, season):
    response = owner_client.get(reverse("woods:lines", args=[lot.pk]), {"season": season})
    assert response.status_code == 404


@pytest.mark.parametrize("name", ON_NOTHING)
def test_crew_may_look_at_the_lists(crew_client, wood, name):
    assert "Add a" not in page(crew_client, name)


@pytest.mark.parametrize("name", ON_A_WOODLOT)
def test_crew_may_look_at_a_woodlot_and_see_no_way_to_change_it(crew_client, wood, name):
    text = page(crew_client, name, wood.pk)
    assert "/edit/" not in text
    assert "/add/" not in text


def refused(response):
    return response.status_code == 403 and "Only an owner can do this" in response.content.decode()


@pytest.mark.parametrize("method", ["get", "post"])
def test_crew_may_not_change_anything_and_are_told_so_in_plain_words(crew_client, wood, method):
    urls = [reverse(f"woods:{name}") for name in ON_NOTHING_FOR_OWNERS]
    urls += [reverse(f"woods:{name}", args=[wood.pk]) for name in ON_A_WOODLOT_FOR_OWNERS]
    urls += [row_address(name, wood) for name in ON_A_ROW_FOR_OWNERS]
    urls.append(reverse("woods:carry_taps", args=[wood.pk]))
    for url in urls:
        assert refused(getattr(crew_client, method)(url, {"name": "Mine"})), url
    assert not Woodlot.objects.filter(name="Mine").exists()


def test_nobody_signed_out_sees_the_woods(client, wood):
    for name in ON_A_WOODLOT:
        response = client.get(reverse(f"woods:{name}", args=[wood.pk]))
        assert response.status_code == 302
        assert response["Location"].startswith(reverse("operation:sign_in"))


@pytest.mark.parametrize(
    ("name", "said"),
    [("woodlots", "No woodlot yet"), ("landowners", "No landowner yet")],
)
def test_an_empty_list_says_what_to_do(owner_client, name, said):
    assert said in page(owner_client, name)


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("woodlot", ["No line yet", "No pump house yet", "No lease is written down here"]),
        ("lines", ["No line yet"]),
        ("paper", ["nothing to print"]),
    ],
)
def test_a_bare_woodlot_says_what_is_missing(owner_client, lot, name, said):
    text = page(owner_client, name, lot.pk)
    assert all(each in text for each in said)


def test_totals_say_how_many_lines_they_rest_on(owner_client, wood):
    for name in ("woodlot", "lines"):
        assert "2 of 3 counted" in page(owner_client, name, wood.pk)
    assert "2 of 3 counted" in page(owner_client, "woodlots")


def test_a_woodlot_nobody_has_counted_is_unknown_and_not_nought(owner_client, lot):
    woods.line(lot, "M1")
    cells = page(owner_client, "woodlots").split('<td class="number">')
    assert [cell.split("<")[0].strip() for cell in cells[1:]] == ["unknown", "unknown"]


def test_a_lateral_over_the_usual_number_of_taps_is_marked_with_its_source(owner_client, wood):
    text = page(owner_client, "lines", wood.pk)
    assert text.count("over 10</span>") == 1
    assert "Perkins and van den Berg, 2020" in text


def test_slope_is_shown_where_it_is_known(owner_client, wood):
    text = page(owner_client, "lines", wood.pk)
    assert text.count("slope 3.0 %") == 1
    assert "1,000 ft long" in text


def test_finding_a_line_answers_htmx_with_the_rows_alone(owner_client, wood):
    url = reverse("woods:lines", args=[wood.pk])
    response = owner_client.get(url, {"q": "l2"}, headers={"HX-Request": "true"})
    text = response.content.decode()
    assert text.lstrip().startswith('<div id="lines">')
    assert "L2</a>" in text
    assert "L1</a>" not in text
    assert "HX-Request" in response["Vary"]


def test_finding_a_line_without_scripts_answers_with_the_page(owner_client, wood):
    text = page(owner_client, "lines", wood.pk, q="zzz")
    assert "No line here has “zzz”" in text
    assert "<html" in text


def test_the_paper_form_has_every_line_once(crew_client, wood):
    text = page(crew_client, "paper", wood.pk)
    assert [text.count(f"{label}</th>") for label in ("M1", "L1", "L2")] == [1, 1, 1]

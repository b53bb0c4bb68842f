"""What holds for every page of the sugarhouse and the season."""

import re
from datetime import timedelta
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from apps.operation import display
from apps.sugarhouse.forms import SAP_FORMS, DipForm
from apps.sugarhouse.models import SapIn
from tests.factories import operation as people
from tests.factories import sugarhouse, woods

pytestmark = pytest.mark.django_db


@pytest.fixture
def books():
    """One of everything: a tank with two dips, loads of each kind, a sale, a batch."""
    woodlot = woods.woodlot()
    woods.line(woodlot, planned_taps=100)
    tank = sugarhouse.tank()
    for hours, depth_mm in ((3, 400.0), (1, 500.0)):
        at = people.FIXED_NOW - timedelta(hours=hours)
        sugarhouse.dip(tank, at=at, depth_mm=depth_mm)
    load = sugarhouse.sap_in(woodlot, remaining_litres=100.0)
    sugarhouse.sap_in(None, volume_litres=300.0)
    sugarhouse.sap_out(load, volume_litres=200.0)
    batch = sugarhouse.batch(sap=[(load, 700.0)])
    return {"tank": tank.pk, "load": load.pk, "batch": batch.pk}


PAGES = [
    ("season:review", None),
    ("sugarhouse:sap", None),
    ("sugarhouse:sap_receipt", "load"),
    ("sugarhouse:tanks", None),
    ("sugarhouse:tank", "tank"),
    ("sugarhouse:tank_add", None),
    ("sugarhouse:tank_edit", "tank"),
    ("sugarhouse:batches", None),
    ("sugarhouse:batch", "batch"),
]
every_page = pytest.mark.parametrize(("name", "row"), PAGES)


def address(name, row, books):
    return reverse(name, args=[books[row]] if row else [])


def html(client, name, row, books):
    response = client.get(address(name, row, books))
    assert response.status_code == 200
    return response.content.decode()


@every_page
def test_page_asks_who_you_are_first(client, books, name, row):
    response = client.get(address(name, row, books))
    assert response.status_code == 302
    assert reverse("operation:sign_in") in response["Location"]


@every_page
def test_page_has_one_heading_and_a_title_of_its_own(owner_client, books, name, row):
    page = html(owner_client, name, row, books)
    assert page.count("<h1") == 1
    assert not re.search(r"<title>\s*Today", page)


@every_page
def test_page_needs_no_script_or_style_written_into_it(owner_client, books, name, row):
    page = html(owner_client, name, row, books)
    assert not re.search(r"<[^>]+\s(style|on[a-z]+)=", page)
    for attributes in re.findall(r"<script([^>]*)>", page):
        assert "src=" in attributes or 'type="application/json"' in attributes


@every_page
def test_every_question_has_a_label(owner_client, books, name, row):
    page = html(owner_client, name, row, books)
    asked = re.findall(r'<(?:input|select|textarea)(?![^>]*type="hidden")[^>]*id="([^"]+)"', page)
    assert set(asked) <= set(re.findall(r'<label for="([^"]+)"', page))


@every_page
def test_every_form_that_writes_carries_its_token(owner_client, books, name, row):
    page = html(owner_client, name, row, books)
    forms = re.findall(r'<form[^>]*method="post".*?</form>', page, flags=re.S)
    assert forms
    assert all("csrfmiddlewaretoken" in form for form in forms)


@every_page
def test_metric_page_shows_no_us_unit(owner_client, books, name, row):
    people.operation(unit_system="metric")
    words = re.sub(r"<[^>]+>", " ", html(owner_client, name, row, books))
    assert not re.search(r"\d (gal|in\.)(\s|$)", words)


@every_page
def test_us_page_shows_no_metric_unit(owner_client, books, name, row):
    words = re.sub(r"<[^>]+>", " ", html(owner_client, name, row, books))
    assert not re.search(r"\d (L|mm|cm)(\s|$)", words)


@pytest.mark.parametrize(
    ("name", "row"), [page for page in PAGES if page[1]], ids=lambda value: str(value)
)
def test_page_of_something_not_there_is_not_found(owner_client, name, row):
    assert owner_client.get(reverse(name, args=[999_999])).status_code == 404


@pytest.mark.parametrize("method", SAP_FORMS)
def test_each_way_of_measuring_is_a_link_and_asks_its_own_readings(crew_client, books, method):
    page = crew_client.get(reverse("sugarhouse:sap"), {"method": method})
    assert page.context["form"].method == method
    for other in SAP_FORMS:
        assert f'href="?method={other}#enter"' in page.content.decode()


def test_unknown_way_of_measuring_falls_back_to_a_load(crew_client, books):
    page = crew_client.get(reverse("sugarhouse:sap"), {"method": "guess"})
    assert page.context["form"].method == "load"


def test_forged_post_without_a_token_is_refused(crew, books, fixed_clock):
    client = Client(enforce_csrf_checks=True)
    client.force_login(crew)
    for name in ("sugarhouse:sap", "sugarhouse:tanks", "sugarhouse:batches"):
        assert client.post(reverse(name), {}).status_code == 403


def test_second_page_of_a_long_list_goes_on_where_the_first_ended(crew_client):
    woodlot = woods.woodlot()
    for minutes in range(60):
        sugarhouse.sap_in(woodlot, at=sugarhouse.AT - timedelta(minutes=minutes))
    pages = [
        crew_client.get(reverse("sugarhouse:sap"), {"page": number}).context["page"]
        for number in (1, 2)
    ]
    assert [len(page) for page in pages] == [50, 10]
    shown = [row.pk for page in pages for row in page]
    assert shown == list(SapIn.objects.newest_first().values_list("pk", flat=True))


UNITS = st.sampled_from(["us", "metric"])


def cleaned(form_class, unit_system, **typed):
    fixed = {"uuid": uuid4(), "at": "2026-03-16T06:30", "brix": "2.0", "share": "100"}
    form = form_class(
        {"seller": "Neighbours"} | fixed | typed, unit_system=unit_system, now=people.FIXED_NOW
    )
    assert form.is_valid(), form.errors
    return form.cleaned_data


@given(UNITS, st.integers(1, 200_000))
def test_a_load_reads_back_as_typed(unit_system, typed):
    stored = cleaned(SAP_FORMS["load"], unit_system, volume=str(typed))["volume"]
    assert display.shown_number(stored, "volume", unit_system) == typed


@given(UNITS, st.integers(0, 10_000_000))
def test_a_meter_reads_back_as_typed(unit_system, hundredths):
    start, end = hundredths / 100, hundredths / 100 + 1
    stored = cleaned(SAP_FORMS["meter"], unit_system, start=str(start), end=str(end))["start"]
    assert display.shown_number(stored, "volume_fine", unit_system) == start


@given(st.integers(0, 999))
def test_a_dip_in_sixteenths_reads_back_as_typed(sixteenths):
    tank = sugarhouse.tank(f"Tank {uuid4()}", height_mm=2000.0)
    inches = round(sixteenths / 16, 2)
    stored = cleaned(DipForm, "us", tank=str(tank.pk), depth=str(inches))["depth"]
    assert display.shown_number(stored, "depth", "us") == inches

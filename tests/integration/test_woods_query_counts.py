"""Each list page asks the database as much of a thousand rows as of ten."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from apps.woods.models import Landowner, Line, PumpHouse, Woodlot
from tests.factories import woods

PLACE = {"latitude": 43.9, "longitude": -75.3, "elevation_m": 400.0}


def make_woodlots(count):
    owner = woods.landowner("Hemlock Ridge Farm")
    lots = Woodlot.objects.bulk_create(
        Woodlot(name=f"Woodlot {n}", landowner=owner, **PLACE) for n in range(count)
    )
    for lot in lots[:5]:
        woods.line(lot, planned_taps=4)
    return reverse("woods:woodlots")


def make_landowners(count):
    Landowner.objects.bulk_create(Landowner(name=f"Landowner {n}") for n in range(count))
    return reverse("woods:landowners")


def make_lines(count):
    lot = woods.woodlot()
    woods.pump_house(lot)
    woods.many_lines(lot, count)
    return reverse("woods:lines", args=[lot.pk])


def make_sheet(count):
    return make_lines(count).replace("lines/", "")


def make_paper(count):
    return make_lines(count).replace("lines/", "paper/")


def make_tree(count):
    return make_lines(count).replace("lines/", "tree/")


def make_found_lines(count):
    return make_lines(count) + "?q=L"


def make_export(count):
    make_lines(count)
    return reverse("records:export_lines")


def clear():
    Line.objects.update(parent=None)
    for model in (Line, PumpHouse, Woodlot, Landowner):
        model.objects.all().delete()


def questions(client, url):
    client.get(url)  # The first visit also reads the session anew.
    with CaptureQueriesContext(
        connection,
    ) as captured:
        response = client.get(url)
    assert response.status_code == 200
    return len(captured)


@pytest.mark.parametrize(
    "make",
    [
        make_woodlots,
        make_landowners,
        make_lines,
        make_found_lines,
        make_sheet,
        make_paper,
        make_tree,
        make_export,
    ],
)
def test_a_page_asks_no_more_of_a_thousand_rows_than_of_ten(owner_client, make):
    few = questions(owner_client, make(10))
    clear()
    assert questions(owner_client, make(1000)) == few
    assert few <= 12


@pytest.mark.parametrize(
    ("make", "shown"), [(make_woodlots, 50), (make_landowners, 50), (make_lines, 50)]
)
def test_a_list_shows_fifty_rows_a_page(owner_client, make, shown):
    response = owner_client.get(make(120))
    assert len(response.context["page"]) == shown
    assert "Page 1 of 3" in response.content.decode()

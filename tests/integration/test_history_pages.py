"""The page of past winters, and its list as long as the farm's."""

import re

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from apps.weather import views_history
from apps.weather.client import configured
from apps.weather.models import ArchiveWinter
from apps.woods.models import Woodlot
from tests.factories import readings as made
from tests.factories.woods import woodlot

pytestmark = pytest.mark.django_db
HISTORY, READINGS = "/weather/history/", "/weather/readings/"
PLACE = {"latitude": 43.9, "longitude": -75.3, "elevation_m": 400.0}


def text_of(response):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", response.content.decode()))


@pytest.fixture
def archive(monkeypatch):
    archive = made.Archive()
    monkeypatch.setattr(configured, "fetch_archive", archive)
    monkeypatch.setattr(views_history, "REST_SECONDS", 0)
    return archive


def test_before_anything_is_fetched_the_page_says_how(owner_client, crew_client):
    woodlot()
    shown = text_of(owner_client.get(HISTORY))
    assert "No past winter here yet." in shown
    assert "0 of 25" in shown


def test_crew_are_sent_to_the_owner(crew_client):
    woodlot()
    shown = text_of(crew_client.get(HISTORY))
    assert "The owner can fetch them." in shown
    assert "Fetch the next" not in shown


def test_a_click_fetches_three_winters_and_says_what_is_left(owner_client, archive):
    woodlot()
    shown = text_of(owner_client.post("/weather/history/fetch/", follow=True))
    assert [year for year, _, _ in archive.asked] == [2025, 2024, 2023]
    assert "3 winters stored, 22 still to fetch." in shown
    assert "3 of 25" in shown
    owner_client.post("/weather/history/fetch/")
    assert ArchiveWinter.objects.count() == 6


def test_a_failure_is_shown_with_what_is_kept(owner_client, archive):
    woodlot()
    archive.fails_at = 2
    shown = text_of(owner_client.post("/weather/history/fetch/", follow=True))
    assert "stopped. Stopped: The archive asks us to wait. 1 winters came before that." in shown
    assert "1 of 25" in shown


def test_a_refusal_is_shown(owner_client, archive):
    woodlot()
    made.history_fetch(outcome="running", detail="")
    shown = text_of(owner_client.post("/weather/history/fetch/", follow=True))
    assert "Past winters are being fetched already." in shown
    assert archive.asked == []


def test_every_number_of_the_picture_stands_in_the_table(owner_client):
    lot = woodlot()
    made.archive_winter(lot, 2025)
    made.archive_winter(lot, 2024, np.full(made.winter_hours(2024), -5.0))
    response = owner_client.get(HISTORY)
    (bars,) = response.context["figure"].spec["data"]
    weeks = response.context["climate"].weeks
    assert bars["y"] == [round(100 * week.share) for week in weeks] == [50] * 12 + [47] + [50] * 13
    shown = text_of(response)
    assert "1 Dec 7 14 50 %" in shown
    # By hand: 182 days from December to May, each of them with a frost and a thaw.
    assert re.search(r"2025 week of 1?\d Jan \d+ 182 0 archive", shown)
    assert "2024 unknown 0 0 0 archive" in shown
    assert "Hours from: made-up archive, era5_seamless." in shown


def test_another_woodlot_is_chosen_by_its_link(owner_client):
    woodlot("Beech Ledge")
    lot = woodlot("Cold Brook")
    made.archive_winter(lot, 2025)
    assert owner_client.get(HISTORY).context["chosen"].woodlot.name == "Beech Ledge"
    chosen = owner_client.get(f"{HISTORY}?woodlot={lot.pk}")
    assert chosen.context["chosen"].woodlot == lot
    assert len(chosen.context["climate"].winters) == 1


@pytest.mark.parametrize("asked", ["0", "x", "99999999999999999999"])
def test_a_woodlot_nobody_knows_shows_the_first(owner_client, asked):
    lot = woodlot()
    for path in (HISTORY, READINGS):
        assert owner_client.get(f"{path}?woodlot={asked}").context["chosen"].woodlot == lot


def questions(client, path):
    client.get(path)  # The first visit also reads the session anew.
    with CaptureQueriesContext(connection) as captured:
        response = client.get(path)
    assert response.status_code == 200
    return len(captured)


def farm(count):
    lots = Woodlot.objects.bulk_create(
        Woodlot(name=f"Woodlot {number:04d}", **PLACE) for number in range(count)
    )
    for lot in lots[:3]:
        made.thermometer(lot, f"Thermometer {lot.pk}")
        made.archive_winter(lot, 2025, [1.0] * 24)
        made.imported(lot, made.NOW, [1.0])


@pytest.mark.parametrize("path", [HISTORY, READINGS])
def test_a_page_asks_no_more_of_a_thousand_woodlots_than_of_ten(owner_client, path):
    farm(10)
    few = questions(owner_client, path)
    Woodlot.objects.bulk_create(
        Woodlot(name=f"Woodlot {number:04d}", **PLACE) for number in range(10, 1000)
    )
    assert questions(owner_client, path) == few
    assert few <= 17


@pytest.mark.parametrize("path", [HISTORY, READINGS])
def test_a_page_asks_no_more_of_many_readings_and_winters_than_of_few(owner_client, path):
    farm(3)
    few = questions(owner_client, path)
    lot = Woodlot.objects.order_by("name").first()
    for winter in range(2001, 2025):
        made.archive_winter(lot, winter)
    made.readings(lot.thermometers.get(), made.NOW, [1.0] * 500)
    assert questions(owner_client, path) == few


def test_the_picture_names_each_month_once_at_its_first_week(owner_client):
    made.archive_winter(woodlot(), 2025)
    axis = owner_client.get(HISTORY).context["figure"].spec["layout"]["xaxis"]
    ticks = dict(zip(axis["ticktext"], axis["tickvals"], strict=True))
    assert ticks == {
        "Dec": "Dec 1",
        "Jan": "Jan 5",
        "Feb": "Feb 2",
        "Mar": "Mar 2",
        "Apr": "Apr 6",
        "May": "May 4",
    }

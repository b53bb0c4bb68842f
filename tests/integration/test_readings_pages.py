"""Own readings on their page: looked at before written, set aside and shown, offset by a click."""

import re
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from apps.operation.models import Device
from apps.weather import forms
from apps.weather.models import RecordedYear, SetAside, Thermometer
from apps.weather.queries.readings import observed_hours
from tests.factories import readings as made
from tests.factories import weather as forecasts
from tests.factories.woods import woodlot

pytestmark = pytest.mark.django_db
READINGS, IMPORT = "/weather/readings/", "/weather/readings/import/"
NOW = made.NOW
START = NOW - timedelta(days=10)
ROWS = made.sheet(START, [-3.0, None, -85.0, 2.0])


def hand_in(client, lot, text=ROWS, **fields):
    return client.post(IMPORT, {"woodlot": lot.pk, "text": text} | fields)


def text_of(response):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", response.content.decode()))


def test_looking_shows_what_would_come_and_writes_nothing(owner_client):
    response = hand_in(owner_client, woodlot(), step="look")
    shown = text_of(response)
    assert "Hours with a value 2 Missing, blank or set aside 2 Added 2" in shown
    assert "-85 C is not between -60 and 60 C" in shown
    assert "Write these hours" in shown
    assert not RecordedYear.objects.exists()
    assert not SetAside.objects.exists()


def test_writing_keeps_the_hours_and_shows_what_was_set_aside(owner_client):
    lot = woodlot()
    response = hand_in(owner_client, lot, step="write")
    assert response.status_code == 302
    shown = text_of(owner_client.get(response.url))
    assert "2 added, 0 changed, 0 emptied" in shown
    assert "2 hours known since 6 March 2026" in shown
    # -85 C is -121 F: 1.8 x -85 + 32.
    assert "-121.0 °F -85 C is not between -60 and 60 C imported" in shown
    known = observed_hours(lot, START, 4).temps_c
    assert known[[0, 3]].tolist() == [-3.0, 2.0]


def test_the_text_shown_again_is_what_was_handed_in(owner_client):
    file = SimpleUploadedFile("hours.csv", ROWS.encode("utf-8-sig"))
    response = hand_in(owner_client, woodlot(), text="", sheet=file)
    assert response.context["form"].initial["text"] == ROWS


def test_a_record_known_already_offers_nothing_to_write(owner_client):
    lot = woodlot()
    made.imported(lot, START, [-3.0, None, -85.0, 2.0])
    shown = text_of(hand_in(owner_client, lot))
    assert "The records say all this already." in shown
    assert "Write these hours" not in shown


def test_rows_that_cannot_be_read_are_listed_before_anything_is_written(owner_client):
    text = ROWS + "yesterday,1\n" + ROWS.split("\n", 1)[1].splitlines()[0] + "\n"
    shown = text_of(hand_in(owner_client, woodlot(), text=text))
    assert "1 row that cannot be read" in shown
    assert "“yesterday” is not a time like 2015-01-01T05:00Z" in shown
    assert "1 row repeats an hour" in shown
    assert "1 row stood out of order of time" in shown


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"text": ""}, "Choose a file, or paste the rows as text."),
        ({"text": "a,b\n1,2\n"}, "must head one column “time_utc”"),
        ({"woodlot": ""}, "This field is required."),
        ({"sheet": SimpleUploadedFile("a.csv", b"\xff\xfe")}, "not UTF-8"),
    ],
)
def test_what_is_no_record_is_refused_at_its_field(owner_client, fields, words):
    response = hand_in(owner_client, woodlot(), **fields)
    assert response.status_code == 200
    assert words in response.content.decode()
    assert not RecordedYear.objects.exists()


@pytest.mark.parametrize("field", ["text", "sheet"])
def test_a_record_too_large_for_the_page_is_refused(owner_client, monkeypatch, field):
    monkeypatch.setattr(forms, "LARGEST_BYTES", 10)
    given = ROWS if field == "text" else SimpleUploadedFile("a.csv", ROWS.encode())
    response = hand_in(owner_client, woodlot(), **{"text": "", field: given})
    assert forms.TOO_LARGE in response.content.decode()


@pytest.mark.parametrize(
    ("path", "fields"),
    [
        (IMPORT, {"text": ROWS, "step": "write"}),
        ("/weather/readings/thermometers/", {"name": "North wall"}),
        ("/weather/readings/offset/{lot}/", {"against": "x"}),
        ("/weather/history/fetch/", {}),
    ],
)
def test_only_an_owner_writes(crew_client, path, fields):
    lot = woodlot()
    response = crew_client.post(path.format(lot=lot.pk), {"woodlot": lot.pk} | fields)
    assert response.status_code == 403
    assert not RecordedYear.objects.exists()
    assert not Device.objects.exists()


def test_crew_see_the_readings_and_no_forms(crew_client):
    made.imported(woodlot(), START, [1.0])
    response = crew_client.get(READINGS)
    assert "1 hour known" in text_of(response)
    assert "Add a thermometer" not in response.content.decode()


@pytest.mark.parametrize("path", [READINGS, "/weather/history/"])
def test_without_a_woodlot_the_page_says_what_to_do(owner_client, path):
    assert "Add a woodlot" in owner_client.get(path).content.decode()


def test_a_woodlot_without_readings_says_so(owner_client):
    woodlot()
    shown = text_of(owner_client.get(READINGS))
    assert "Nothing measured here yet." in shown
    assert "No value has been set aside." in shown


def test_a_thermometer_shows_its_token_once_and_keeps_only_the_hash(owner_client):
    lot = woodlot()
    response = owner_client.post(
        "/weather/readings/thermometers/", {"name": "North wall", "woodlot": lot.pk}
    )
    token = response.context["new"].token
    assert token in response.content.decode()
    assert "no-store" in response["Cache-Control"]
    device = Device.objects.get()
    assert len(token) >= 43
    assert token not in str(vars(device))
    assert token not in owner_client.get(READINGS).content.decode()


def test_a_second_thermometer_of_the_same_name_is_refused_at_its_field(owner_client):
    lot = woodlot()
    made.thermometer(lot)
    response = owner_client.post(
        "/weather/readings/thermometers/", {"name": "North wall", "woodlot": lot.pk}
    )
    assert "There is already a device called North wall." in response.content.decode()
    assert Thermometer.objects.count() == 1


def test_a_stopped_thermometer_keeps_what_it_sent(owner_client):
    lot = woodlot()
    thermometer = made.thermometer(lot)
    made.reading(thermometer)
    url = reverse("weather:stop_thermometer", args=[thermometer.pk])
    shown = text_of(owner_client.post(url, follow=True))
    assert "North wall can send no more." in shown
    assert "1 hour known" in shown
    assert not Device.objects.get().active


def overlapping(lot, *, hours=96, apart_c=1.5):
    """Own readings warmer than the forecast of four days, each hour of it within a day's lead."""
    for day in range(hours // 24):
        fetched = START + timedelta(days=day)
        run = forecasts.run(fetched_at=fetched)
        forecasts.stored(run, lot, [-4.0] * 24, start_at=fetched)
    made.imported(lot, START, [-4.0 + apart_c] * hours)


def test_the_offset_is_suggested_and_set_by_the_owners_click_alone(owner_client):
    lot = woodlot(temperature_offset_c=-0.5)
    overlapping(lot)
    page = owner_client.get(f"{READINGS}?woodlot={lot.pk}")
    (suggestion,) = page.context["suggestions"]
    assert (suggestion.against, suggestion.hours) == ("made-up forecast, by hand", 96)
    assert suggestion.median_c == 1.5
    # 1.5 C apart are 2.7 F apart.
    assert "made-up forecast, by hand half of them 2.7 °F to 2.7 °F 96 2.7 °F Use it" in text_of(
        page
    )
    lot.refresh_from_db()
    assert lot.temperature_offset_c == -0.5
    url = reverse("weather:use_offset", args=[lot.pk])
    owner_client.post(url, {"against": suggestion.against, "offset_c": "1.50"})
    lot.refresh_from_db()
    assert lot.temperature_offset_c == 1.5


@pytest.mark.parametrize(
    ("overlap", "fields", "words"),
    [
        ({}, {"offset_c": "1.40"}, "The readings say something else by now"),
        ({}, {"against": "another"}, "The readings say something else by now"),
        ({"hours": 48}, {}, "Only 48 hours overlap"),
        ({"apart_c": 11.0}, {"offset_c": "11.00"}, "look at the thermometer"),
    ],
)
def test_an_offset_that_no_longer_holds_is_refused(owner_client, overlap, fields, words):
    lot = woodlot()
    overlapping(lot, **overlap)
    told = {"against": "made-up forecast, by hand", "offset_c": "1.50"} | fields
    response = owner_client.post(reverse("weather:use_offset", args=[lot.pk]), told, follow=True)
    assert words in text_of(response)
    lot.refresh_from_db()
    assert lot.temperature_offset_c == 0

"""A record from the file to the page, and a token from the page to a reading, in a browser.

By hand: 72 hours at -2.0 C where the archive has -3.0 C make a median 1.0 C apart, 1.8 F; -85 C
is -121 F.
"""

import re
from datetime import timedelta

import numpy as np
import pytest
from django.urls import reverse
from playwright.sync_api import expect

from apps.weather.models import RecordedYear, ThermometerReading
from tests.factories import operation as people
from tests.factories import readings as made
from tests.factories import woods

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
START = made.NOW - timedelta(days=3)


@pytest.fixture
def page(phone, live_server, sign_in, fixed_clock, db):
    people.operation(name="Tamarack Hollow Sugaring")
    people.owner()
    lot = woods.woodlot()
    made.archive_winter(lot, 2026, np.full(72, -3.0), start_at=START)
    sign_in(phone, "ina")
    phone.goto(live_server.url + reverse("weather:readings"))
    return phone


def hand_in(page, tmp_path, temps_c):
    path = tmp_path / "hours.csv"
    path.write_text(made.sheet(START, temps_c))
    page.get_by_role("link", name="Import a record").click()
    page.get_by_label("Woodlot").select_option(label="Tamarack Hollow")
    page.get_by_label("CSV file").set_input_files(path)
    page.get_by_role("button", name="Show what it would do").click()


def test_a_record_is_looked_at_written_and_used_for_an_offset(page, tmp_path):
    hand_in(page, tmp_path, [-2.0] * 71 + [-85.0])
    expect(page.locator("#preview")).to_contain_text("-121.0 °F")
    assert not RecordedYear.objects.exists()
    page.get_by_role("button", name="Write these hours").click()
    expect(page.locator("#chosen")).to_contain_text("71 hours known")
    expect(page.locator("#chosen")).to_contain_text("too few hours")
    hand_in(page, tmp_path, [-2.0] * 72)
    page.get_by_role("button", name="Write these hours").click()
    expect(page.locator("#chosen")).to_contain_text("No value has been set aside.")
    page.get_by_role("button", name="Use it").click()
    expect(page.get_by_role("status")).to_contain_text("The offset of Tamarack Hollow is set.")
    expect(page.get_by_role("row", name="Tamarack Hollow")).to_contain_text("1.8 °F")


def test_a_token_shown_once_sends_a_reading(page, live_server):
    page.get_by_label("Name").fill("North wall")
    page.locator("#id_woodlot").select_option(label="Tamarack Hollow")
    page.get_by_role("button", name="Add a thermometer").click()
    token = page.locator("code.token").inner_text()
    reply = page.request.post(
        live_server.url + reverse("weather:readings_api"),
        headers={"Authorization": f"Bearer {token}"},
        data={
            "readings": [
                {"at": f"{START:%Y-%m-%dT%H:%M:%SZ}", "quantity": "temperature", "value": 28.4}
                | {"unit": "F"}
            ]
        },
    )
    assert reply.json() == {"kept": 1, "known": 0, "refused": []}
    assert ThermometerReading.objects.get().temp_c == pytest.approx(-2.0)
    page.goto(live_server.url + reverse("weather:readings"))
    expect(page.locator("code.token")).to_have_count(0)
    row = page.get_by_role("row", name=re.compile("Tamarack Hollow"))
    expect(row).to_contain_text("North wall last 13 Mar 07:00")

"""The fan and the calendar on the weather page: over their tables, and absent without members."""

from datetime import timedelta

import pytest
from django.urls import reverse

from tests.factories import weather, woods

pytestmark = pytest.mark.django_db
URL = reverse("weather:outlook")
MIDNIGHT = weather.NOW.replace(hour=4)


def forecast(lot, members, model):
    run = weather.run(model=model)
    day = weather.freezing_and_thawing(12)
    hours = [[value + 0.1 * number for value in day] for number in range(members)]
    return weather.stored(run, lot, hours, start_at=MIDNIGHT - timedelta(days=1))


@pytest.fixture
def shown(owner_client, db):
    forecast(woods.woodlot(), 12, "twelve")
    return owner_client.get(URL)


def test_the_fan_is_of_the_woodlot_chosen_for_ten_days(shown):
    fan = shown.context["fan"]
    assert (fan.members, fan.models, len(fan.hours)) == (12, ("twelve",), 240)
    assert fan.hours[0].at == MIDNIGHT


def test_each_picture_stands_over_its_table(shown):
    page = shown.content.decode()
    for spec, table in (
        ("chances-spec", "Chance of freezing and thawing<"),
        ("fan-spec", "Every hour of the fan"),
    ):
        assert page.index(spec) < page.index(table)


def test_the_calendar_says_the_chance_of_every_day(shown):
    (squares,) = shown.context["calendar"].spec["data"]
    # Every member freezes at -5 and thaws at 6 C and more; the last day is cut short: unknown.
    assert squares["z"][0][0] == 100
    assert squares["y"] == ["Tamarack Hollow"]


def test_a_single_forecast_has_neither(owner_client, db):
    forecast(woods.woodlot(), 1, "one")
    response = owner_client.get(URL)
    assert response.context["calendar"] is None
    assert response.context["fan"] is None
    assert "No fan: it needs at least ten members" in response.content.decode()


def test_without_a_forecast_nothing_is_drawn(owner_client, db):
    woods.woodlot()
    page = owner_client.get(URL).content.decode()
    assert "fan-spec" not in page
    assert "chances-spec" not in page

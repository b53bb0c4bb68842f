"""Turning the demo to another day, and never anybody's own records."""

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse

from apps.demo import actions, clock
from apps.demo.models import DemoClock
from apps.woods.models import Woodlot
from tests.factories import woods
from tests.factories.operation import FIXED_NOW
from tests.factories.weather import every_service_at

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("constraint", "fields"),
    [
        ("demo_clock_is_the_only_one", {"pk": 2, "stop": "march"}),
        ("demo_clock_stop_known", {"pk": 1, "stop": "july"}),
    ],
)
def test_database_refuses_clock(constraint, fields):
    with pytest.raises(IntegrityError, match=constraint), transaction.atomic():
        DemoClock.objects.create(chosen_at=FIXED_NOW, **fields)


def test_own_records_are_never_replaced_by_the_demos(settings):
    settings.THAWLINE_DEMO = False
    woods.woodlot("Our own")
    with pytest.raises(actions.NotTheDemo):
        actions.turn_to(stop="march", chosen_at=FIXED_NOW)
    assert Woodlot.objects.filter(name="Our own").exists()


def test_there_is_no_clock_to_choose_outside_the_demo(owner_client, settings):
    settings.THAWLINE_DEMO = False
    url = reverse("demo:clock")
    assert owner_client.get(url).status_code == 404
    assert owner_client.post(url, {"stop": "may"}).status_code == 404


def test_clock_of_a_demo_not_yet_made_stands_in_march():
    assert clock.demo_now() == clock.STOPS["march"]


def test_unknown_day_is_refused_in_the_form(owner_client, settings):
    settings.THAWLINE_DEMO = True
    response = owner_client.post(reverse("demo:clock"), {"stop": "july"})
    assert response.status_code == 200
    assert response.context["form"].errors["stop"]
    assert not DemoClock.objects.exists()


@pytest.fixture
def no_weather(settings):
    settings.THAWLINE_DEMO = True
    every_service_at(settings, "http://127.0.0.1:9")  # nothing listens there


def test_choosing_a_day_makes_the_records_of_that_day(owner_client, no_weather):
    response = owner_client.post(reverse("demo:clock"), {"stop": "january"})
    assert response.status_code == 302
    assert DemoClock.objects.get().stop == "january"
    assert Woodlot.objects.count() == 5
    assert clock.demo_now().date() == clock.STOPS["january"].date()

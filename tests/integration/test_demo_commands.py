"""From the command line: the demo's records are made once, kept, and made anew on request."""

import socket

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from apps.demo.clock import STOPS, demo_now
from apps.demo.management.commands import demo
from apps.demo.models import DemoClock
from apps.sugarhouse.models import SapIn
from apps.woods.models import Woodlot
from tests.factories import woods
from tests.factories.weather import every_service_at

pytestmark = pytest.mark.django_db


@pytest.fixture
def demo_mode(settings):
    settings.THAWLINE_DEMO = True
    every_service_at(settings, "http://127.0.0.1:9")  # nothing listens there


def test_records_are_made_for_the_stop_asked_for_and_the_clock_runs_on_from_it(demo_mode):
    call_command("demo_records", "--stop", "january")
    assert DemoClock.objects.get().stop == "january"
    assert not SapIn.objects.filter(at__gt=STOPS["january"]).exists()
    assert Woodlot.objects.count() == 5
    passed = demo_now() - STOPS["january"]
    assert 0 <= passed.total_seconds() < 3600


@pytest.fixture
def visited(demo_mode):
    DemoClock.objects.create(pk=1, stop="january", chosen_at=timezone.now())


def test_records_of_an_earlier_visit_are_kept(visited):
    mine = woods.woodlot("Typed by a visitor")
    call_command("demo_records", "--stop", "may")
    assert Woodlot.objects.filter(pk=mine.pk).exists()
    assert DemoClock.objects.get().stop == "january"


def test_records_are_made_anew_on_request(visited):
    woods.woodlot("Typed by a visitor")
    call_command("demo_records", "--stop", "january", "--fresh")
    assert not Woodlot.objects.filter(name="Typed by a visitor").exists()
    assert Woodlot.objects.count() == 5


@pytest.mark.parametrize("words", [[], ["--fresh"]])
def test_own_records_are_never_overwritten_from_the_command_line(settings, words):
    settings.THAWLINE_DEMO = False
    mine = woods.woodlot("Our own")
    with pytest.raises(CommandError, match="Only the demo operation can be rebuilt"):
        call_command("demo_records", *words)
    assert Woodlot.objects.get() == mine


def test_stop_that_is_no_stop_is_refused():
    with pytest.raises(CommandError, match="invalid choice: 'july'"):
        call_command("demo_records", "--stop", "july")


def test_port_in_use_is_named_before_anything_is_made():
    with socket.socket() as listening:
        listening.bind(("127.0.0.1", 0))
        listening.listen()
        port = listening.getsockname()[1]
        with pytest.raises(CommandError, match=f"Port {port} is in use"):
            call_command("demo", "--port", str(port))
    assert not DemoClock.objects.exists()


def test_free_port_is_free():
    port = demo._free_port()
    assert port > 1023
    assert not demo._taken("127.0.0.1", port)


def test_weather_service_that_will_not_start_is_said_and_leaves_nothing_open():
    with socket.socket() as listening:
        listening.bind(("127.0.0.1", 0))
        listening.listen()
        taken = listening.getsockname()[1]
        with pytest.raises(CommandError, match="did not start"), demo._weather(taken, {}):
            pytest.fail("the body must not run without a weather service")


@pytest.mark.parametrize(
    ("stop", "words"),
    [
        ("january", "Late January: deciding when to start"),
        ("march", "Mid-March: leaks and boiling"),
        ("may", "May: looking back on the season"),
    ],
)
def test_each_stop_says_what_it_is_for(stop, words):
    assert str(DemoClock(stop=stop)) == words

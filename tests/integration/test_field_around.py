"""Around the phone's page: other hours, other people, other units, and a day at the edge."""

from datetime import UTC, datetime
from uuid import uuid4

import pytest
from django.urls import reverse

from apps.domain.units import kpa_from_inhg
from apps.leaks import queries
from apps.leaks.models import Leak, LeakCheck
from tests.factories import leaks, woods
from tests.factories import operation as people

pytestmark = pytest.mark.django_db
CHECK = reverse("field:check")


@pytest.fixture
def line():
    return leaks.a_line("L7", planned_taps=120)


@pytest.fixture
def at(monkeypatch):
    """Move the app's clock to another moment, given in UTC."""
    return lambda *when: monkeypatch.setattr(people, "FIXED_NOW", datetime(*when, tzinfo=UTC))


def send(client, line, state="tight", **typed):
    data = {"uuid": str(uuid4()), "line": line.pk, "state": state} | typed
    return client.post(CHECK, data, follow=True)


def text_of(response):
    return " ".join(response.content.decode().split())


# New York is four hours behind UTC in summer time, from 8 March 2026 at 02:00, five before it.
@pytest.mark.parametrize(
    ("utc", "words"),
    [
        ((2026, 3, 17, 3, 50), "Monday 16 March, 23:50"),
        ((2026, 3, 17, 4, 0), "Tuesday 17 March, 00:00"),
        ((2026, 3, 8, 6, 59), "Sunday 8 March, 01:59"),
        ((2026, 3, 8, 7, 0), "Sunday 8 March, 03:00"),
        ((2026, 3, 1, 4, 30), "Saturday 28 February, 23:30"),
    ],
)
def test_a_check_is_shown_at_the_hour_it_was_in_the_woods(crew_client, at, line, utc, words):
    at(*utc)
    assert words in text_of(send(crew_client, line))
    assert LeakCheck.objects.get().observed_at == datetime(*utc, tzinfo=UTC)


@pytest.mark.parametrize(
    ("seen", "read", "words"),
    [
        ((2026, 3, 17, 3, 50), (2026, 3, 17, 4, 10), "tight yesterday"),
        ((2026, 3, 17, 3, 50), (2026, 3, 17, 3, 59), "tight today"),
        ((2026, 3, 8, 4, 50), (2026, 3, 9, 4, 10), "tight 2 days ago"),
        ((2026, 3, 8, 5, 10), (2026, 3, 9, 3, 59), "tight today"),
    ],
)
def test_the_day_ends_at_midnight_in_the_woods(crew_client, at, line, seen, read, words):
    at(*seen)
    send(crew_client, line)
    at(*read)
    assert words in text_of(crew_client.get(CHECK))


@pytest.mark.parametrize(
    ("unit_system", "typed", "kpa"),
    [
        ("us", {"vacuum_before": "0"}, 0),
        ("us", {"vacuum_before": "35.4"}, kpa_from_inhg(35.4)),
        ("metric", {"vacuum_before": "120"}, 120),
    ],
)
def test_readings_at_the_limits_are_kept(crew_client, line, unit_system, typed, kpa):
    people.operation(unit_system=unit_system)
    send(crew_client, line, **typed)
    assert LeakCheck.objects.get().vacuum_before_kpa == pytest.approx(kpa)


@pytest.mark.parametrize(
    ("unit_system", "typed", "words"),
    [
        ("us", "35.5", "Must not be over 35.4 inHg."),
        ("metric", "120.1", "Must not be over 120.0 kPa."),
        ("metric", "-0.1", "Must not be under 0.0 kPa."),
        ("us", "nan", "Enter a number."),
        ("us", "1e400", "Enter a number."),
        ("us", "24,5", "Enter a number."),
    ],
)
def test_readings_beyond_the_limits_are_named_in_the_unit_typed(
    crew_client, line, unit_system, typed, words
):
    people.operation(unit_system=unit_system)
    assert words in text_of(send(crew_client, line, vacuum_before=typed))
    assert not LeakCheck.objects.exists()


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ({"place_drops": "0"}, True),
        ({"place_drops": "5000"}, True),
        ({"place_drops": "-1"}, False),
        ({"place_drops": "1.5"}, False),
        ({"note": "x" * 500}, True),
        ({"note": "x" * 501}, False),
        ({"cause": "deer"}, True),
        ({"cause": "gremlin"}, False),
        ({"label": "L" + "7" * 24}, False),
    ],
)
def test_each_answer_has_its_limits(crew_client, line, typed, kept):
    response = send(crew_client, line, "leak_left", **typed)
    assert LeakCheck.objects.exists() is kept
    if not kept:
        assert set(response.context["form"].errors) == set(typed)


@pytest.mark.parametrize("state", ["leak_fixed", "leak_left"])
def test_a_cause_goes_with_a_leak_fixed_or_left(crew_client, line, state):
    send(crew_client, line, state, cause="limb")
    assert LeakCheck.objects.get().cause == "limb"


def test_what_was_typed_on_a_refused_page_unfolds_what_hides_it(crew_client, line):
    page = send(crew_client, line, vacuum_before="99").context["form"]
    assert (page.more_is_open, page.other_is_open) == (True, False)
    page = send(crew_client, line, label="99").context["form"]
    assert (page.more_is_open, page.other_is_open) == (False, True)
    assert not crew_client.get(CHECK).context["form"].more_is_open


def test_a_label_in_two_woodlots_is_asked_about_and_the_woodlot_settles_it(crew_client, line):
    other = leaks.a_line("L7", woodlot=woods.woodlot("Beech Hill"))
    data = {"uuid": str(uuid4()), "label": "7", "state": "tight"}
    refused = text_of(crew_client.post(CHECK, data))
    assert "More than one line fits: L7 in Beech Hill, L7 in Tamarack Hollow" in refused
    crew_client.post(CHECK, data | {"woodlot": other.woodlot_id})
    assert LeakCheck.objects.get().line == other


def test_a_label_not_in_the_woodlot_chosen_says_so_and_keeps_what_was_typed(crew_client, line):
    bare = woods.woodlot("Beech Hill")
    data = {"uuid": str(uuid4()), "label": "7", "state": "tight", "woodlot": bare.pk}
    text = text_of(crew_client.post(CHECK, data | {"note": "by the ford"}))
    assert "No line 7 in Beech Hill." in text
    assert "by the ford</textarea>" in text


def test_an_owner_may_take_back_anybodys_check(owner_client, line):
    check = leaks.check(line, "leak_left", crew=people.crew("wren"))
    undo = reverse("field:undo", args=[check.uuid])
    assert "Taken back by Ina" in text_of(owner_client.post(undo, follow=True))
    assert not queries.open_leaks().exists()


@pytest.mark.parametrize("name", ["undo", "reading_after"])
def test_a_stranger_changes_nothing(client, line, name):
    check = leaks.check(line, "leak_fixed")
    page = client.post(reverse(f"field:{name}", args=[check.uuid]), {"vacuum_after": "24"})
    assert reverse("operation:sign_in") in page.url
    check.refresh_from_db()
    assert (check.voided, check.vacuum_after_kpa) == (False, None)


@pytest.mark.parametrize("name", ["undo", "reading_after"])
def test_what_nobody_recorded_cannot_be_changed(crew_client, name):
    assert crew_client.post(reverse(f"field:{name}", args=[uuid4()])).status_code == 404


@pytest.mark.parametrize(
    ("typed", "words"),
    [("", "This field is required."), ("-1", "Must not be under 0.0 inHg."), ("x", "Enter a num")],
)
def test_a_reading_after_a_fix_that_cannot_be_is_named(crew_client, line, typed, words):
    check = leaks.check(line, "leak_fixed")
    url = reverse("field:reading_after", args=[check.uuid])
    assert words in text_of(crew_client.post(url, {"vacuum_after": typed}))
    check.refresh_from_db()
    assert check.vacuum_after_kpa is None


def test_a_second_reading_after_a_fix_is_refused_in_words(crew_client, line):
    check = leaks.check(line, "leak_fixed", vacuum_after_kpa=80.0)
    url = reverse("field:reading_after", args=[check.uuid])
    page = crew_client.post(url, {"vacuum_after": "10"}, follow=True)
    assert "has its reading already" in text_of(page)


@pytest.mark.parametrize(
    ("state", "fields", "asked"),
    [
        ("leak_fixed", {}, True),
        ("leak_fixed", {"vacuum_after_kpa": 0.0}, False),
        ("leak_left", {}, False),
        ("tight", {}, False),
    ],
)
def test_only_an_unmeasured_fix_is_asked_whether_it_worked(crew_client, line, state, fields, asked):
    check = leaks.check(line, state, **fields)
    page = text_of(crew_client.get(reverse("field:saved", args=[check.uuid])))
    assert ("Did it work?" in page) is asked


def test_a_leak_at_the_first_drop_has_a_place(crew_client, line):
    leaks.check(line, "leak_left", hours=9, place_drops=0)
    check = leaks.check(line, "tight", hours=5)
    page = text_of(crew_client.get(reverse("field:saved", args=[check.uuid])))
    assert "0 drops from the pump end" in page
    assert "That one was fixed" in page


def test_a_check_taken_back_offers_no_further_touch(crew_client, crew, line):
    leaks.check(line, "leak_left", hours=9)
    check = leaks.check(line, "tight", crew=crew)
    page = text_of(crew_client.post(reverse("field:undo", args=[check.uuid]), follow=True))
    assert "Still open on this line" not in page
    assert "All open leaks" not in page
    assert Leak.objects.still_open().count() == 1

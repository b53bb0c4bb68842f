"""The page after saving: what was saved, what it did, and taking it back by one touch."""

import re
from uuid import uuid4

import pytest
from django.urls import reverse

from apps.domain.units import inhg_from_kpa
from apps.leaks import queries
from apps.leaks.models import Leak, LeakCheck
from tests.factories import leaks
from tests.factories import operation as people

pytestmark = pytest.mark.django_db


@pytest.fixture
def line():
    return leaks.a_line("L7")


def saved(client, check):
    response = client.get(reverse("field:saved", args=[check.uuid]))
    return " ".join(response.content.decode().split())


def post(client, name, check, **typed):
    return client.post(reverse(f"field:{name}", args=[check.uuid]), typed)


def test_it_says_what_was_saved(crew_client, crew, line):
    check = leaks.check(line, "leak_fixed", crew=crew, cause="tee", vacuum_after_kpa=80.0)
    text = saved(crew_client, check)
    assert "L7: leak fixed" in text
    assert "Tamarack Hollow, Monday 16 March, 06:00, by Sol" in text
    assert "Reading before: unknown; after: 23.6 inHg" in text
    assert "Cause: tee" in text


def test_a_frozen_line_is_told_to_have_no_verdict(crew_client, line):
    assert "No verdict" in saved(crew_client, leaks.check(line, "frozen"))


def test_one_touch_takes_it_back_and_keeps_both_rows(crew_client, crew, line):
    check = leaks.check(line, "leak_left", crew=crew)
    response = post(crew_client, "undo", check)
    assert response.url == reverse("field:saved", args=[check.uuid])
    assert "counts for nothing" in saved(crew_client, check)
    assert (LeakCheck.objects.count(), Leak.objects.count()) == (1, 1)
    assert queries.open_leaks().count() == 0


def test_undo_is_offered_until_it_is_used(crew_client, crew, line):
    check = leaks.check(line, crew=crew)
    undo = reverse("field:undo", args=[check.uuid])
    assert undo in saved(crew_client, check)
    post(crew_client, "undo", check)
    assert undo not in saved(crew_client, check)


def test_somebody_elses_check_is_not_taken_back(crew_client, line):
    check = leaks.check(line, crew=people.crew("wren"))
    response = crew_client.post(reverse("field:undo", args=[check.uuid]), follow=True)
    assert "Only the one who recorded a check" in response.content.decode()
    assert LeakCheck.objects.standing().count() == 1


def test_undo_needs_a_touch_and_not_only_a_visit(crew_client, crew, line):
    check = leaks.check(line, crew=crew)
    assert crew_client.get(reverse("field:undo", args=[check.uuid])).status_code == 405


def test_a_check_nobody_made_is_not_found(crew_client):
    assert crew_client.get(reverse("field:saved", args=[uuid4()])).status_code == 404


def test_after_a_fix_the_reading_is_asked_for_and_filled_in(crew_client, line):
    check = leaks.check(line, "leak_fixed")
    assert "Did it work?" in saved(crew_client, check)
    post(crew_client, "reading_after", check, vacuum_after="24.5")
    check.refresh_from_db()
    assert round(inhg_from_kpa(check.vacuum_after_kpa), 6) == 24.5
    assert "Did it work?" not in saved(crew_client, check)


def test_a_bad_reading_is_named_and_stays(crew_client, line):
    check = leaks.check(line, "leak_fixed")
    response = post(crew_client, "reading_after", check, vacuum_after="99")
    text = response.content.decode()
    assert "Must not be over 35.4 inHg." in text
    assert 'value="99"' in text


def test_a_second_reading_does_not_overwrite_the_first(crew_client, line):
    check = leaks.check(line, "leak_fixed", vacuum_after_kpa=80.0)
    post(crew_client, "reading_after", check, vacuum_after="10")
    check.refresh_from_db()
    assert check.vacuum_after_kpa == 80.0


def touch(client, text, button):
    """Send the small form behind a button, as the browser would."""
    for form in re.findall(r"<form.*?</form>", text, re.DOTALL):
        if button in form:
            fields = re.findall(r'name="(\w+)" value="([^"]*)"', form)
            target = re.search(r'action="([^"]+)"', form)[1]
            return client.post(target, dict(fields))
    raise AssertionError(f"no button {button!r}")


def test_leaks_closed_by_a_fix_are_named_and_one_touch_opens_one_again(crew_client, line):
    leaks.check(line, "leak_left", hours=9, place_drops=3, cause="chew")
    fix = leaks.check(line, "leak_fixed", hours=5)
    text = saved(crew_client, fix)
    assert "3 drops from the pump end" in text
    touch(crew_client, text, "That one still leaks")
    again = queries.open_leaks().get()
    assert (again.opened_by.place_drops, again.cause) == (3, "chew")


def test_a_line_found_tight_asks_about_its_open_leak(crew_client, line):
    leaks.check(line, "leak_left", hours=9)
    text = saved(crew_client, leaks.check(line, "tight", hours=5))
    assert "stays open until somebody says it was fixed" in text
    touch(crew_client, text, "All open leaks on this line are fixed")
    assert queries.open_leaks().count() == 0


def test_one_leak_of_several_is_closed_by_its_place(crew_client, line):
    leaks.check(line, "leak_left", hours=9, place_drops=3)
    far = leaks.check(line, "leak_left", hours=8, place_drops=40)
    text = saved(crew_client, leaks.check(line, "tight", hours=5))
    touch(crew_client, text, "That one was fixed")
    assert queries.open_leaks().get().opened_by == far


def test_a_small_form_sent_twice_records_once(crew_client, line):
    leaks.check(line, "leak_left", hours=9)
    text = saved(crew_client, leaks.check(line, "tight", hours=5))
    for _ in range(2):
        touch(crew_client, text, "All open leaks on this line are fixed")
    assert LeakCheck.objects.count() == 3

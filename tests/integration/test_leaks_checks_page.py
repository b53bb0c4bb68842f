"""All checks, and what a phone sent beside the state: parts, place, photos."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from apps.domain.units import kpa_from_inhg
from apps.leaks import actions, queries
from apps.leaks.models import Position
from tests.factories import leaks, woods
from tests.factories import operation as people

pytestmark = pytest.mark.django_db
PAGE, OPEN = reverse("leaks:checks"), reverse("leaks:open_leaks")
HERE = Position(43.901213, -75.304554, 12.0)


def text_of(response):
    return " ".join(response.content.decode().split())


@pytest.fixture
def line(db):
    return leaks.a_line("L7")


def test_an_empty_page_says_what_to_do(crew_client):
    assert "No check yet." in text_of(crew_client.get(PAGE))


def test_a_check_says_who_when_what_and_both_readings(crew_client, crew, line):
    inches = {"vacuum_before_kpa": kpa_from_inhg(20), "vacuum_after_kpa": kpa_from_inhg(25.5)}
    leaks.check(line, "leak_fixed", crew=crew, cause="tee", place_drops=1, **inches)
    text = text_of(crew_client.get(PAGE))
    for words in ("16 Mar 2026, 06:00", "by Sol", "Leak fixed", "20.0 inHg, after 25.5 inHg"):
        assert words in text
    assert "Tee; 1 drop from the pump end" in text


@pytest.mark.parametrize("url", [PAGE, OPEN])
def test_parts_and_place_stand_beside_the_check(crew_client, line, url):
    leaks.check(line, "leak_left", position=HERE, parts={"tee": 2, "lateral": 1})
    text = text_of(crew_client.get(url))
    assert "Used: 2 \N{MULTIPLICATION SIGN} tee, 1 \N{MULTIPLICATION SIGN} piece of lateral" in text
    # 12 m is 39 ft; RFC 5870 (2010), section 3.3, gives the form of the link.
    assert 'href="geo:43.901213,-75.304554;u=12">43.90121, -75.30455</a>, within 39 ft' in text


@pytest.mark.parametrize("url", [PAGE, OPEN])
def test_a_check_without_them_says_nothing_of_them(crew_client, line, url):
    leaks.check(line, "leak_left")
    text = text_of(crew_client.get(url))
    for words in ("Used:", "geo:", "<img"):
        assert words not in text


@pytest.mark.parametrize(("state", "cause", "said"), [("tight", "", 0), ("leak_left", "tee", 1)])
def test_a_place_nobody_noted_is_missed_only_of_a_leak(crew_client, line, state, cause, said):
    leaks.check(line, state, cause=cause)
    assert text_of(crew_client.get(PAGE)).count("place not noted") == said


def test_a_check_taken_back_is_struck_through_with_who(crew_client, crew, line):
    check = leaks.check(line, "tight", crew=crew)
    actions.void_check(check=check, by=crew, at=people.FIXED_NOW)
    assert "<s>Tight</s> taken back by Sol" in text_of(crew_client.get(PAGE))


def test_newest_seen_stands_first_whenever_it_came(line):
    late = leaks.check(line, hours=9)
    first, second = (leaks.check(line, hours=3) for _ in range(2))
    assert list(queries.checks()) == [second, first, late]


def test_a_woodlot_shows_its_own_checks_and_parts(crew_client, line):
    other = woods.line(woods.woodlot("North"), "N1")
    leaks.check(line, "leak_fixed", parts={"tee": 2})
    leaks.check(other, "leak_fixed", parts={"spout": 5})
    response = crew_client.get(PAGE, {"woodlot": other.woodlot_id})
    assert response.context["parts"] == [("Spout", 5)]
    assert [row.line for row in response.context["page"]] == [other]


def test_parts_are_summed_over_the_season_most_first_without_those_taken_back(line):
    leaks.check(line, "leak_fixed", parts={"tee": 2, "clamp": 4})
    leaks.check(line, "leak_fixed", parts={"tee": 3}, hours=5)
    leaks.check(line, "leak_fixed", parts={"tee": 50}, hours=24 * 120)
    slip = leaks.check(line, "leak_fixed", parts={"valve": 90})
    actions.void_check(check=slip, by=slip.crew, at=people.FIXED_NOW)
    assert queries.parts_used(2026) == [("Tee", 5), ("Clamp", 4)]


def ask(client, url):
    with CaptureQueriesContext(connection) as asked:
        assert client.get(url).status_code == 200
    return len(asked)


@pytest.mark.parametrize("url", [PAGE, OPEN])
def test_it_asks_as_often_of_two_checks_as_of_forty(crew_client, line, url):
    counts = []
    for more in (2, 38):
        for _ in range(more):
            check = leaks.check(line, "leak_left", position=HERE, parts={"tee": 1, "spout": 2})
            leaks.photo(leak_check=check)
        counts.append(ask(crew_client, url))
    assert counts[0] == counts[1]


def test_a_photo_waits_behind_its_own_button(crew_client, line):
    photo = leaks.photo(leak_check=leaks.check(line, "leak_left"))
    address = reverse("field:photo", args=[photo.uuid])
    for url in (PAGE, OPEN):
        text = text_of(crew_client.get(url))
        assert f'<details><summary>Photo</summary><a href="{address}"><img' in text
        assert f'src="{address}" width="1600" height="1200" loading="lazy"' in text


def test_photos_of_one_check_are_numbered(crew_client, line):
    check = leaks.check(line)
    for _ in range(2):
        leaks.photo(leak_check=check)
    text = text_of(crew_client.get(PAGE))
    assert "<summary>Photo 1</summary>" in text
    assert "<summary>Photo 2</summary>" in text

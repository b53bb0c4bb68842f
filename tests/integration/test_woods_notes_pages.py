"""Notes where they are looked for: on the woodlot, on its lines, and all of them."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from apps.woods import queries
from apps.woods.models import Note
from tests.factories import operation as people
from tests.factories import woods

pytestmark = pytest.mark.django_db
NOTES = reverse("woods:notes")
NOW = people.FIXED_NOW


def text_of(response):
    return " ".join(response.content.decode().split())


def ago(hours):
    return NOW - timedelta(hours=hours)


@pytest.fixture
def line(db):
    return woods.line(woods.woodlot("North"), "L7")


def lines_page(line):
    return reverse("woods:lines", args=[line.woodlot_id])


def test_an_empty_page_says_where_notes_come_from(crew_client):
    assert "They are written on the phone" in text_of(crew_client.get(NOTES))


def test_all_notes_stand_newest_first_with_place_who_and_when(crew_client, crew, line):
    woods.note(crew, "Old ladder is rotten", line=line, noted_at=ago(30))
    woods.note(crew, "Gate is chained", woodlot=line.woodlot, noted_at=ago(5))
    woods.note(crew, "Order gloves", noted_at=ago(1))
    response = crew_client.get(NOTES)
    assert [str(note) for note in response.context["page"]] == [
        "Anywhere: Order gloves",
        "North: Gate is chained",
        "L7: Old ladder is rotten",
    ]
    assert "Sol, 15 Mar 2026, 01:00" in text_of(response)


def test_a_woodlot_has_its_own_and_its_lines_notes(crew, line):
    mine = [woods.note(crew, line=line), woods.note(crew, woodlot=line.woodlot)]
    woods.note(crew)
    woods.note(crew, woodlot=woods.woodlot("South"))
    assert set(queries.notes(line.woodlot)) == set(mine)


@pytest.mark.parametrize(("asked", "shown"), [("", 2), ("nonsense", 2), ("²", 2)])
def test_a_woodlot_that_is_none_shows_them_all(crew_client, crew, line, asked, shown):
    woods.note(crew, line=line)
    woods.note(crew)
    assert len(crew_client.get(NOTES, {"woodlot": asked}).context["page"]) == shown


def test_the_woodlots_page_shows_the_newest_five_and_leads_to_all(crew_client, crew, line):
    for hours in range(7):
        woods.note(crew, f"Seen {hours} h ago", line=line, noted_at=ago(hours))
    text = text_of(crew_client.get(reverse("woods:woodlot", args=[line.woodlot_id])))
    assert "Seen 4 h ago" in text
    assert "Seen 5 h ago" not in text
    assert f"{NOTES}?woodlot={line.woodlot_id}" in text


def test_a_line_shows_its_newest_note_and_how_many_more(crew_client, crew, line):
    for hours in (30, 2, 9):
        woods.note(crew, f"Seen {hours} h ago", line=line, noted_at=ago(hours))
    text = text_of(crew_client.get(lines_page(line)))
    assert "“Seen 2 h ago” Sol, 16 Mar" in text
    assert "and 2 more" in text
    assert "Seen 30 h ago" not in text


def test_what_was_taken_back_is_shown_nowhere(crew_client, crew, line):
    woods.note(crew, "Wrong tree", line=line, voided_at=NOW, voided_by=crew)
    sheet = reverse("woods:woodlot", args=[line.woodlot_id])
    for url in (NOTES, sheet, lines_page(line)):
        assert "Wrong tree" not in text_of(crew_client.get(url))


def test_words_typed_in_the_woods_are_words_and_no_markup(crew_client, crew, line):
    woods.note(crew, "<b>deer</b>\nand fawn", line=line)
    assert "&lt;b&gt;deer&lt;/b&gt;<br>and fawn" in text_of(crew_client.get(NOTES))


def test_the_writer_takes_a_note_back_and_others_do_not(crew_client, crew):
    own, other = woods.note(crew), woods.note(people.crew("wren"))
    text = text_of(crew_client.get(NOTES))
    for note, offered in ((own, True), (other, False)):
        url = reverse("woods:note_void", args=[note.pk])
        assert (url in text) is offered
        crew_client.post(url)
    assert list(Note.objects.standing()) == [other]


def test_it_takes_a_touch_by_somebody_signed_in(client, crew):
    url = reverse("woods:note_void", args=[woods.note(crew).pk])
    assert reverse("operation:sign_in") in client.post(url).url
    client.force_login(crew)
    assert client.get(url).status_code == 405
    assert client.post(reverse("woods:note_void", args=[999])).status_code == 404
    assert Note.objects.standing().exists()


@pytest.mark.parametrize("page", ["notes", "sheet", "lines"])
def test_it_asks_as_often_of_two_notes_as_of_forty(crew_client, crew, line, page):
    urls = {
        "notes": NOTES,
        "sheet": reverse("woods:woodlot", args=[line.woodlot_id]),
        "lines": lines_page(line),
    }
    counts = []
    for more in (2, 38):
        for _ in range(more):
            other = woods.line(line.woodlot, f"M{line.woodlot.lines.count()}")
            woods.note(crew, line=other)
        with CaptureQueriesContext(connection) as asked:
            assert crew_client.get(urls[page]).status_code == 200
        counts.append(len(asked))
    assert counts[0] == counts[1]

"""Notes are written once, taken back by who may, and stay."""

from datetime import timedelta
from uuid import uuid4

import pytest

from apps.woods import actions
from apps.woods.models import Note
from tests.factories import operation as people
from tests.factories import woods

pytestmark = pytest.mark.django_db
NOW = people.FIXED_NOW
EARLIER = NOW - timedelta(hours=3)


@pytest.fixture
def line(db):
    return woods.line(woods.woodlot("North"), "L7")


def write(crew, **fields):
    given = {"uuid": uuid4(), "text": "Bear on the ridge", "noted_at": EARLIER, "received_at": NOW}
    return actions.record_note(crew=crew, **given | fields)


def test_a_note_keeps_its_words_its_place_and_both_times(crew, line):
    note = write(crew, line=line)
    note.refresh_from_db()
    assert (note.text, note.line, note.woodlot) == ("Bear on the ridge", line, None)
    assert (note.noted_at, note.received_at, note.crew) == (EARLIER, NOW, crew)


@pytest.mark.parametrize(
    ("place", "name"), [("line", "L7"), ("woodlot", "North"), (None, "Anywhere")]
)
def test_a_note_is_called_by_its_place(crew, line, place, name):
    places = {"line": line, "woodlot": line.woodlot}
    fields = {place: places[place]} if place else {}
    assert str(write(crew, **fields)) == f"{name}: Bear on the ridge"


def test_a_note_sent_again_is_the_same_note(crew, line):
    first = write(crew, line=line)
    assert write(crew, uuid=first.uuid, text="Another") == first
    assert Note.objects.get().text == "Bear on the ridge"


@pytest.mark.parametrize(("role", "allowed"), [("crew", False), ("owner", True)])
def test_a_note_is_taken_back_by_its_writer_or_an_owner(crew, role, allowed):
    note = write(crew)
    other = people.crew("wren", role=role)
    if allowed:
        actions.void_note(note=note, by=other, at=NOW)
    else:
        with pytest.raises(actions.NotYours):
            actions.void_note(note=note, by=other, at=NOW)
    assert Note.objects.standing().exists() is not allowed


def test_a_note_taken_back_stays_with_who_and_when_and_never_comes_again(crew):
    note = write(crew)
    actions.void_note(note=note, by=crew, at=NOW)
    actions.void_note(note=note, by=people.owner(), at=NOW + timedelta(hours=1))
    assert write(crew, uuid=note.uuid) == note
    note.refresh_from_db()
    assert (note.voided_by, note.voided_at) == (crew, NOW)
    assert Note.objects.count() == 1

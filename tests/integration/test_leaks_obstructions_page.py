"""What lies across the lines, on its page: by class of work, with the caution, and its buttons."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from apps.leaks import queries
from apps.leaks.models import Clearing, Obstruction
from apps.woods.models import Line
from tests.factories import leaks, woods
from tests.factories import operation as people

pytestmark = pytest.mark.django_db
PAGE = reverse("leaks:obstructions")


def text_of(response):
    return " ".join(response.content.decode().split())


def press(client, name, pk, **typed):
    return client.post(reverse(f"leaks:{name}", args=[pk]), typed, follow=True)


@pytest.fixture
def line(db):
    return leaks.a_line("L7")


@pytest.fixture
def there(line, crew):
    return leaks.obstruction(line, "chainsaw", hours=20, crew=crew, place_drops=12, note="Ash top")


def test_an_empty_page_does_not_call_the_lines_clear(crew_client):
    text = text_of(crew_client.get(PAGE))
    assert "That is what was logged, not that the lines are clear" in text


def test_it_says_where_what_who_and_when(crew_client, there):
    text = text_of(crew_client.get(PAGE))
    for words in ("L7", "12 drops from the pump end", "Ash top", "15 Mar 2026, 11:00", "by Sol"):
        assert words in text


def test_saws_and_hung_trees_come_with_the_usual_caution(crew_client):
    text = text_of(crew_client.get(PAGE))
    for words in ("never alone", "left to a trained person", "Local rules and licensed practice"):
        assert words in text


def test_open_ones_stand_by_class_of_work_and_longest_there_first(line):
    for work, hours in (("hung", 9), ("hands", 1), ("chainsaw", 2), ("hands", 5)):
        leaks.obstruction(line, work, hours=hours)
    rows = [(row.work, row.seen_at) for row in queries.open_obstructions()]
    assert [work for work, _ in rows] == ["hands", "hands", "chainsaw", "hung"]
    assert [at for _, at in rows[:2]] == [leaks.hours_ago(5), leaks.hours_ago(1)]


def test_each_class_of_work_has_its_heading_once(crew_client, line):
    for work in ("hands", "hung", "chainsaw", "chainsaw"):
        leaks.obstruction(line, work)
    text = text_of(crew_client.get(PAGE))
    assert text.count('scope="colgroup">') == 3
    assert "Hung tree: leave it to a trained person</th>" in text
    assert "Chainsaw: trained people, not alone</th>" in text


def test_one_touch_says_it_is_gone(crew_client, crew, there):
    page = press(crew_client, "clear_obstruction", there.pk, uuid=uuid4())
    word = Clearing.objects.get()
    assert (word.obstruction, word.crew, word.cleared_at) == (there, crew, people.FIXED_NOW)
    text = text_of(page)
    assert "Line L7: written down as gone." in text
    assert "1 cleared, newest first" in text


def test_the_same_touch_twice_is_one_word(crew_client, there):
    uuid = uuid4()
    for _ in range(2):
        press(crew_client, "clear_obstruction", there.pk, uuid=uuid)
    assert Clearing.objects.count() == 1


def test_a_used_identifier_clears_nothing_else(crew_client, line, there):
    other, uuid = leaks.obstruction(line, "hands"), uuid4()
    press(crew_client, "clear_obstruction", there.pk, uuid=uuid)
    text = text_of(press(crew_client, "clear_obstruction", other.pk, uuid=uuid))
    assert "Already recorded as L7: Chainsaw, cleared." in text
    assert list(Obstruction.objects.still_open()) == [other]


@pytest.mark.parametrize("typed", [{}, {"uuid": "nonsense"}])
def test_without_an_identifier_nothing_is_written(crew_client, there, typed):
    assert press(crew_client, "clear_obstruction", there.pk, **typed).status_code == 200
    assert not Clearing.objects.exists()


def test_who_logged_it_wrong_takes_it_back(crew_client, there):
    text = text_of(press(crew_client, "void_obstruction", there.pk))
    assert "Taken back: it is listed no more, and stays on record." in text
    assert Obstruction.objects.get().voided_by.username == "sol"
    assert not queries.open_obstructions().exists()


def test_another_ones_is_not_theirs_to_take_back(crew_client, line):
    other = leaks.obstruction(line, crew=people.crew("wren"))
    assert reverse("leaks:void_obstruction", args=[other.pk]) not in text_of(crew_client.get(PAGE))
    text = text_of(press(crew_client, "void_obstruction", other.pk))
    assert "Only the one who recorded an obstruction, or an owner" in text
    assert Obstruction.objects.standing().exists()


def test_not_gone_after_all_it_is_open_again(crew_client, crew, there):
    word = leaks.clearing(there, crew=crew)
    text = text_of(press(crew_client, "void_clearing", word.pk))
    assert "Taken back: it lies there still." in text
    assert list(queries.open_obstructions()) == [there]


def test_cleared_ones_show_every_standing_word_newest_first(line, crew):
    first, second = leaks.obstruction(line), leaks.obstruction(line)
    leaks.clearing(first, hours=2, crew=crew)
    leaks.clearing(second, hours=1, crew=crew)
    leaks.clearing(second, hours=5, crew=people.crew("wren"))
    leaks.clearing(second, hours=3, voided_at=people.FIXED_NOW, voided_by=crew)
    rows = list(queries.cleared_obstructions())
    assert rows == [second, first]
    assert [word.crew.username for word in rows[0].words] == ["wren", "sol"]


def test_a_woodlot_shows_its_own(crew_client, there):
    other = leaks.obstruction(woods.line(woods.woodlot("North"), "N1"), "hung")
    leaks.clearing(leaks.obstruction(other.line, note="long gone"))
    text = text_of(crew_client.get(PAGE, {"woodlot": there.line.woodlot_id}))
    assert "Ash top" in text
    assert "N1" not in text
    assert "long gone" not in text


@pytest.mark.parametrize("name", ["clear_obstruction", "void_obstruction", "void_clearing"])
def test_nothing_is_written_by_a_visit_a_stranger_or_of_what_is_not_there(client, there, name):
    url = reverse(f"leaks:{name}", args=[there.pk])
    assert reverse("operation:sign_in") in client.post(url).url
    client.force_login(there.crew)
    assert client.get(url).status_code == 405
    assert client.post(reverse(f"leaks:{name}", args=[999_999])).status_code == 404
    assert not Clearing.objects.exists()
    assert there in Obstruction.objects.still_open()


def test_the_walk_and_the_board_say_that_something_lies_there(crew_client, there):
    leaks.obstruction(there.line, "hands")
    assert "2 across it" in text_of(crew_client.get(reverse("leaks:lines")))
    assert "2 across a line" in text_of(crew_client.get(reverse("today:board")))


def grow(rows):
    """So many lines, each with one thing across it and one thing cleared."""
    lot, crew = leaks.a_line(f"M{rows}").woodlot, leaks.somebody()
    before = Line.objects.count()
    lines = Line.objects.bulk_create(
        Line(woodlot=lot, label=f"L{before + n}", kind="lateral") for n in range(rows)
    )
    seen = {"crew": crew, "seen_at": people.FIXED_NOW, "received_at": people.FIXED_NOW}
    made = Obstruction.objects.bulk_create(
        Obstruction(uuid=uuid4(), line=line, work=work, **seen)
        for line in lines
        for work in ("hands", "chainsaw")
    )
    Clearing.objects.bulk_create(
        Clearing(
            uuid=uuid4(),
            obstruction=row,
            cleared_at=people.FIXED_NOW + timedelta(hours=1),
            received_at=people.FIXED_NOW,
            crew=crew,
        )
        for row in made[::2]
    )


def test_it_asks_as_often_of_ten_as_of_hundreds(crew_client):
    counts = []
    for rows in (10, 200):
        grow(rows)
        with CaptureQueriesContext(connection) as asked:
            assert crew_client.get(PAGE).status_code == 200
        counts.append(len(asked))
    assert counts[0] == counts[1]

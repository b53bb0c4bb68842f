"""What the intake refuses, and that a refusal costs nothing but itself."""

from uuid import uuid4

import pytest

from apps.field.models import Receipt
from apps.leaks.models import GaugeReading, LeakCheck
from apps.woods.models import Note
from tests.factories import leaks, phone, sugarhouse, woods

pytestmark = pytest.mark.django_db


@pytest.fixture
def line():
    return leaks.a_line("L7", planned_taps=120)


@pytest.fixture
def send(crew_client, crew):
    return lambda *records, **fields: phone.send(crew_client, crew, *records, **fields)


@pytest.fixture
def place(line):
    """What each kind of record is about."""
    about = {kind: {"line": line.pk} for kind in ("check", "tally", "pull", "obstruction", "note")}
    about["dip"] = {"tank": sugarhouse.tank().pk}
    about["gauge"] = {"pump_house": woods.pump_house(line.woodlot).pk}
    return about


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"state": "frozen"}, "uuid"),
        ({"note": "another"}, "uuid"),
        ({"at": phone.NOW_MS - phone.HOUR}, "uuid"),
        ({"pos": [43.0, -75.0, 5.0]}, "uuid"),
        ({"kind": "note", "text": "not the same at all"}, "uuid"),
    ],
    ids=str,
)
def test_another_record_under_the_same_identifier_overwrites_nothing(send, line, change, field):
    sent = phone.check(line)
    send(sent)
    before = LeakCheck.objects.values().get()
    said = phone.refused(send(sent | change))
    assert (said["uuid"], said["field"]) == (sent["uuid"], field)
    assert "Save it again as a new record" in said["reason"]
    assert LeakCheck.objects.values().get() == before
    assert not Note.objects.exists()


@pytest.mark.parametrize(
    "same",
    [{"mono": 5}, {"boot": "other"}, {"unknown": 1}, {"cause": None}, {"before_kpa": 70}],
    ids=str,
)
def test_the_same_content_in_other_words_was_had(send, line, same):
    sent = phone.check(line, before_kpa=70.0)
    assert phone.answers(send(sent)) == ["accepted"]
    assert phone.answers(send(sent | same)) == ["had"]


def test_an_identifier_that_a_row_from_elsewhere_has_is_not_taken_for_a_resend(send, place, line):
    elsewhere = leaks.check(line)
    said = phone.refused(send(phone.check(line, uuid=str(elsewhere.uuid))))
    assert (said["field"], "save it again" in said["reason"]) == ("uuid", True)
    assert not Receipt.objects.exists()


def test_one_bad_record_holds_up_no_other(send, line):
    good = [phone.check(line, minutes_ago=9 - n) for n in range(4)]
    bad = [phone.check(line, "molten"), 7, {"kind": "check"}, phone.check(line, note="a\0b")]
    mixed = [one for pair in zip(good, bad, strict=True) for one in pair]
    response = send(*mixed)
    assert phone.answers(response) == ["accepted", "refused"] * 4
    told = response.json()["answers"]
    assert [one.get("uuid") for one in told[::2]] == [one["uuid"] for one in good]
    # What has no identifier is named by its place.
    assert [one.get("n") for one in told[1::2]] == [None, 3, 5, None]
    assert all(one["reason"].endswith(".") for one in told[1::2])
    assert LeakCheck.objects.count() == Receipt.objects.count() == 4


REFUSALS = [
    ({"kind": "check", "line": 99_999, "state": "tight"}, "line", "no longer on the list"),
    ({"kind": "check", "line": 0, "state": "tight"}, "line", "not one this server knows"),
    ({"kind": "check", "state": "molten"}, "state", "have the server updated"),
    ({"kind": "check", "state": "tight", "cause": "tee"}, "cause", "goes with a leak"),
    ({"kind": "check", "state": "leak_left", "cause": "gremlin"}, "cause", "not known"),
    ({"kind": "check", "state": "leak_fixed", "parts": {"anvil": 1}}, "parts", "not known"),
    ({"kind": "tally", "taps": 0}, "taps", "says nothing"),
    ({"kind": "pull", "taps": 0}, "taps", "says nothing"),
    ({"kind": "dip", "tank": 99_999, "depth_mm": 5}, "tank", "no longer on the list"),
    ({"kind": "dip", "depth_mm": 1001}, "depth_mm", "not that deep"),
    ({"kind": "gauge", "pump_house": 99_999, "vacuum_kpa": 5}, "pump_house", "no longer"),
    ({"kind": "obstruction", "work": "magic"}, "work", "not known"),
    ({"kind": "note", "text": "x", "line": 99_999}, "line", "no longer"),
    ({"kind": "note", "text": "x", "line": None, "woodlot": 99_999}, "woodlot", "no longer"),
    ({"kind": "after", "of": str(uuid4()), "after_kpa": 5}, "of", "never arrived"),
    ({"kind": "clear", "of": str(uuid4())}, "of", "never arrived"),
]


@pytest.mark.parametrize(("said", "field", "words"), REFUSALS, ids=lambda value: str(value)[:50])
def test_what_cannot_be_kept_is_refused_by_field_and_reason(send, place, said, field, words):
    sent = phone.record(**(place.get(said["kind"], {}) | said))
    answer = phone.refused(send(sent))
    assert (answer["uuid"], answer["field"]) == (sent["uuid"], field)
    assert words in answer["reason"]
    assert answer["reason"].endswith(".")
    assert not Receipt.objects.exists()


def test_a_line_that_was_struck_out_meanwhile_is_said_so(send, line):
    sent = phone.check(line)
    line.tap_counts.all().delete()
    line.delete()
    said = phone.refused(send(sent))
    assert said["reason"].startswith("That line is no longer on the list.")


def test_two_readings_at_one_moment_are_not_both_kept(send, place):
    moment = phone.before_sending(minutes=10)
    row = leaks.reading(woods.PumpHouse.objects.get(), 84.0)
    GaugeReading.objects.filter(pk=row.pk).update(read_at=moment)
    for kpa in (84.0, 60.0):
        said = phone.refused(send(phone.record("gauge", **place["gauge"], vacuum_kpa=kpa)))
        assert (said["field"], "read it again" in said["reason"]) == ("at", True)
    sugarhouse.dip(sugarhouse.Tank.objects.get(), at=moment)
    said = phone.refused(send(phone.record("dip", **place["dip"], depth_mm=10)))
    assert (said["field"], "dip again" in said["reason"]) == ("at", True)
    assert not Receipt.objects.exists()


@pytest.mark.parametrize(("days", "word"), [(399.9, "accepted"), (400.1, "refused")])
def test_a_record_of_over_400_days_is_not_believed(send, line, days, word):
    at = phone.NOW_MS - round(days * 24 * phone.HOUR)
    assert phone.answers(send(phone.check(line, at=at, mono=None, boot=None))) == [word]


def test_a_refused_record_that_was_mended_is_taken_under_its_own_identifier(send, line):
    sent = phone.check(line, before_kpa=900)
    phone.refused(send(sent))
    assert phone.answers(send(sent | {"before_kpa": 90})) == ["accepted"]


def test_the_database_has_the_last_word_and_it_holds_up_nothing(send, line, monkeypatch):
    monkeypatch.setattr("apps.field.payload.records.HIGHEST_KPA", 9000.0)
    bad, good = phone.check(line, before_kpa=500), phone.check(line)
    response = send(bad, good)
    assert phone.answers(response) == ["refused", "accepted"]
    assert "Tell the owner" in response.json()["answers"][0]["reason"]
    assert LeakCheck.objects.count() == Receipt.objects.count() == 1

"""The phone's records: one row each, an answer each, and nothing kept by halves."""

from uuid import uuid4

import pytest

from apps.field.models import Phone, Receipt
from apps.leaks.models import Clearing, GaugeReading, Leak, LeakCheck, Obstruction, PartUsed
from apps.sugarhouse.models import Dip
from apps.tapping.models import TapPull, TapTally
from apps.woods.models import Note
from tests.factories import leaks, phone, sugarhouse, woods
from tests.factories import operation as people

pytestmark = pytest.mark.django_db


@pytest.fixture
def line():
    return leaks.a_line("L7", planned_taps=120)


@pytest.fixture
def send(crew_client, crew):
    return lambda *records, **fields: phone.send(crew_client, crew, *records, **fields)


def test_a_check_is_kept_with_all_it_says(send, line, crew):
    sent = phone.check(
        line,
        "leak_fixed",
        before_kpa=70.5,
        after_kpa=84.0,
        drops=12,
        cause="tee",
        note=" chewed tee ",
        parts={"tee": 2, "drop": 1},
        pos=[43.91234, -75.31234, 12],
    )
    assert phone.answers(send(sent)) == ["accepted"]
    row = LeakCheck.objects.get(uuid=sent["uuid"])
    assert (row.line, row.state, row.crew) == (line, "leak_fixed", crew)
    assert (row.vacuum_before_kpa, row.vacuum_after_kpa, row.place_drops) == (70.5, 84.0, 12)
    assert (row.cause, row.note) == ("tee", "chewed tee")
    assert (row.latitude, row.longitude, row.position_accuracy_m) == (43.91234, -75.31234, 12)
    assert row.observed_at == phone.before_sending(minutes=10)
    assert row.received_at == people.FIXED_NOW
    used = PartUsed.objects.order_by("part").values_list("leak_check_id", "part", "count")
    assert list(used) == [(row.pk, "drop", 1), (row.pk, "tee", 2)]


def test_both_clocks_and_the_words_sent_stay_with_the_receipt(send, line, crew):
    sent = phone.check(line, at=phone.NOW_MS - 57 * phone.MINUTE, newer="kept as well")
    now = phone.NOW_MS - 47 * phone.MINUTE
    send(sent | {"mono": phone.MONO_NOW - 10 * phone.MINUTE}, now=now)
    row = Receipt.objects.get()
    assert (row.kind, row.crew, row.sent_by) == ("check", crew, crew)
    assert row.device_at == phone.before_sending(minutes=57)
    assert row.observed_at == phone.before_sending(minutes=10)
    assert row.received_at == people.FIXED_NOW
    assert (row.clock_offset_ms, row.clock_method) == (47 * phone.MINUTE, "steady")
    assert row.payload["newer"] == "kept as well"
    assert list(Receipt.objects.worth_showing().of_checks()) == [row]
    assert str(row) == "Check by Sol"


def kept_tally(sent):
    row = TapTally.objects.get(uuid=sent["uuid"])
    return (row.taps_set, row.drops_renewed, row.finishes_line, row.note, row.tallied_on.day)


def kept_pull(sent):
    row = TapPull.objects.get(uuid=sent["uuid"])
    return (row.taps_pulled, row.finishes_line, row.note, row.pulled_on.day)


def kept_dip(sent):
    row = Dip.objects.get(uuid=sent["uuid"])
    return (row.depth_mm, round(row.volume_litres, 1), row.at)


def kept_gauge(sent):
    row = GaugeReading.objects.get(uuid=sent["uuid"])
    return (row.vacuum_kpa, row.note, row.read_at)


def kept_obstruction(sent):
    row = Obstruction.objects.get(uuid=sent["uuid"])
    return (row.work, row.place_drops, row.note, row.seen_at, row.latitude)


def kept_note(sent):
    row = Note.objects.get(uuid=sent["uuid"])
    return (row.text, row.line_id is not None, row.woodlot_id is not None, row.noted_at)


TEN_AGO = phone.before_sending(minutes=10)
KINDS = {
    "tally": ({"taps": 40, "drops": 3, "finishes": True, "note": "new drops"}, kept_tally),
    "pull": ({"taps": 35, "finishes": True, "note": "five stuck"}, kept_pull),
    "dip": ({"depth_mm": 500}, kept_dip),
    "gauge": ({"vacuum_kpa": 84.5, "note": "steady"}, kept_gauge),
    "obstruction": ({"work": "hung", "drops": 4, "pos": [43.9, -75.3, 8.0]}, kept_obstruction),
    "note": ({"text": "Bridge out."}, kept_note),
}
KEPT = {
    "tally": (40, 3, True, "new drops", 16),
    "pull": (35, True, "five stuck", 16),
    # Half of a round tank of one metre by one: pi / 8 cubic metres.
    "dip": (500.0, 392.7, TEN_AGO),
    "gauge": (84.5, "steady", TEN_AGO),
    "obstruction": ("hung", 4, "", TEN_AGO, 43.9),
    "note": ("Bridge out.", True, False, TEN_AGO),
}


@pytest.fixture
def place(line):
    """What each kind of record is about."""
    about = {kind: {"line": line.pk} for kind in ("check", "tally", "pull", "obstruction", "note")}
    about["dip"] = {"tank": sugarhouse.tank().pk}
    about["gauge"] = {"pump_house": woods.pump_house(line.woodlot).pk}
    return about


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_of_record_is_kept_in_its_place(send, place, kind):
    said, kept = KINDS[kind]
    sent = phone.record(kind, **place[kind], **said)
    assert phone.answers(send(sent)) == ["accepted"]
    assert kept(sent) == KEPT[kind]
    assert phone.answers(send(sent)) == ["had"]
    assert kept(sent) == KEPT[kind]
    assert Receipt.objects.count() == 1


@pytest.mark.parametrize(
    ("about", "of_line", "of_woodlot"),
    [("line", True, False), ("woodlot", False, True), ("both", True, False), ("", False, False)],
)
def test_a_note_is_of_a_line_a_woodlot_or_neither(send, line, about, of_line, of_woodlot):
    fields = {"line": line.pk} if about in ("line", "both") else {}
    fields |= {"woodlot": line.woodlot_id} if about in ("woodlot", "both") else {}
    sent = phone.record("note", text="Bear tracks.", **fields)
    send(sent)
    assert kept_note(sent)[1:3] == (of_line, of_woodlot)


def test_a_reading_after_the_fix_goes_to_its_check(send, line):
    check = phone.check(line, "leak_fixed", before_kpa=60)
    after = phone.record("after", of=check["uuid"], after_kpa=82.5)
    assert phone.answers(send(check, after)) == ["accepted", "accepted"]
    assert LeakCheck.objects.get().vacuum_after_kpa == 82.5
    second = phone.refused(send(phone.record("after", of=check["uuid"], after_kpa=70)))
    assert second["field"] == "after_kpa"
    assert LeakCheck.objects.get().vacuum_after_kpa == 82.5


def test_word_that_an_obstruction_is_gone_clears_it(send, line):
    seen = phone.record("obstruction", line=line.pk, work="chainsaw")
    gone = phone.record("clear", of=seen["uuid"], minutes_ago=2)
    assert phone.answers(send(seen, gone)) == ["accepted", "accepted"]
    assert not Obstruction.objects.still_open().exists()
    assert Clearing.objects.get().cleared_at == phone.before_sending(minutes=2)


def standing(kind):
    rows = {
        "check": LeakCheck.objects.standing(),
        "tally": TapTally.objects.standing(),
        "pull": TapPull.objects.standing(),
        "dip": Dip.objects.standing(),
        "gauge": GaugeReading.objects.standing(),
        "obstruction": Obstruction.objects.standing(),
        "note": Note.objects.standing(),
    }
    return rows[kind].count()


@pytest.mark.parametrize("kind", ["check", *KINDS])
def test_every_kind_of_record_can_be_taken_back_and_stays(send, place, kind):
    said = {"state": "leak_left"} if kind == "check" else KINDS[kind][0]
    sent = phone.record(kind, **place[kind], **said)
    void = phone.record("void", of=sent["uuid"], minutes_ago=9)
    assert phone.answers(send(sent, void)) == ["accepted", "accepted"]
    assert standing(kind) == 0
    assert Receipt.objects.count() == 2
    assert phone.answers(send(sent, void)) == ["had", "had"]
    assert standing(kind) == 0


def test_a_check_taken_back_takes_its_leak_out_of_the_list(send, line, crew):
    sent = phone.check(line, "leak_left")
    send(sent)
    assert Leak.objects.still_open().count() == 1
    send(phone.record("void", of=sent["uuid"], minutes_ago=1))
    row = LeakCheck.objects.get()
    assert not Leak.objects.still_open().exists()
    assert (row.voided_by, row.voided_at) == (crew, phone.before_sending(minutes=1))


def test_a_reading_after_and_a_clearing_can_be_taken_back_too(send, line):
    check = phone.check(line, "leak_fixed")
    after = phone.record("after", of=check["uuid"], after_kpa=80)
    seen = phone.record("obstruction", line=line.pk, work="hands")
    gone = phone.record("clear", of=seen["uuid"])
    send(check, after, seen, gone)
    voids = [phone.record("void", of=one["uuid"]) for one in (after, gone)]
    assert phone.answers(send(*voids)) == ["accepted", "accepted"]
    assert LeakCheck.objects.get().vacuum_after_kpa is None
    assert Obstruction.objects.still_open().count() == 1
    again = phone.refused(send(phone.record("void", of=after["uuid"])))
    assert again["reason"] == "That reading was taken back already."


def test_taking_back_what_never_came_or_was_taken_back_is_refused_with_a_way_out(send, line):
    never = phone.refused(send(phone.record("void", of=str(uuid4()))))
    assert (never["field"], "nothing to take back" in never["reason"]) == ("of", True)
    sent = phone.check(line)
    void = phone.record("void", of=sent["uuid"])
    send(sent, void)
    twice = phone.refused(send(phone.record("void", of=void["uuid"])))
    assert "save it again" in twice["reason"]


def test_nobody_takes_back_what_another_saw_but_an_owner(client, crew_client, crew, line):
    sent = phone.check(line)
    phone.send(crew_client, crew, sent)
    void = phone.record("void", of=sent["uuid"])
    for person, word in ((people.crew("marek"), "refused"), (people.owner(), "accepted")):
        client.force_login(person)
        assert phone.answers(phone.send(client, person, void)) == [word]


def test_others_who_saw_the_line_today_are_named_and_nobody_else(send, line, crew):
    marek, other = people.crew("marek"), leaks.a_line("L8")
    seen = leaks.check(line, "leak_left", crew=marek, hours=2)
    leaks.check(line, crew=marek, hours=8)
    leaks.check(line, crew=crew, hours=1)
    leaks.check(other, crew=marek, hours=1)
    leaks.bare_check(line, crew=marek, voided=True)
    at = round(seen.observed_at.timestamp() * 1000)
    answer = send(phone.check(line, "frozen")).json()
    # Eight hours ago was yesterday: the day began at midnight in New York, seven hours ago.
    assert answer["same_day"] == [{"line": line.pk, "who": "Marek", "at": at, "state": "leak_left"}]
    assert answer["server_now"] == phone.NOW_MS


def test_a_phone_is_known_from_its_first_post(send, line, crew):
    send(phone.check(line), phone=str(phone.PHONE))
    row = Phone.objects.get()
    assert (row.uuid, row.person) == (phone.PHONE, crew)
    assert (row.added_at, row.seen_at) == (people.FIXED_NOW, people.FIXED_NOW)
    assert str(row) == "Phone of Sol"


def test_a_hundred_records_cost_the_same_few_questions_each(
    send, line, django_assert_max_num_queries
):
    send(phone.check(line))
    records = [phone.check(line, minutes_ago=n / 10) for n in range(100, 0, -1)]
    with django_assert_max_num_queries(100 * 14 + 20):
        assert phone.answers(send(*records)) == ["accepted"] * 100
    made = LeakCheck.objects.order_by("observed_at").values_list("uuid", flat=True)
    assert [str(uuid) for uuid in made if str(uuid) in {r["uuid"] for r in records}] == [
        one["uuid"] for one in records
    ]

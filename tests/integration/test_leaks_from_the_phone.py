"""Positions, parts, obstructions, clearings, photos: written once, taken back and kept."""

from concurrent.futures import ThreadPoolExecutor
from uuid import uuid4

import pytest
from django.db import IntegrityError, connection, transaction

from apps.leaks import actions
from apps.leaks.models import Clearing, LeakCheck, Obstruction, PartUsed, Photo, Position
from tests.factories import leaks
from tests.factories import operation as people

pytestmark = pytest.mark.django_db
NOW = people.FIXED_NOW
HERE = Position(43.90121, -75.30455, 8.0)


@pytest.fixture
def line(db):
    return leaks.a_line("L7")


def used(check):
    return dict(check.parts.values_list("part", "count"))


def obstruct(line, work="chainsaw", **fields):
    given = {"uuid": uuid4(), "seen_at": leaks.hours_ago(3), "received_at": NOW}
    given |= {"crew": fields.pop("crew", None) or leaks.somebody()}
    return actions.record_obstruction(line=line, work=work, **given | fields)


def clear(obstruction, *, hours=1, **fields):
    given = {"uuid": uuid4(), "cleared_at": leaks.hours_ago(hours), "received_at": NOW}
    given |= {"crew": fields.pop("crew", None) or leaks.somebody()}
    return actions.clear_obstruction(obstruction=obstruction, **given | fields)


def attach(**fields):
    given = {
        "uuid": uuid4(),
        "sha256": "ab" * 32,
        "size_bytes": 205_000,
        "width_px": 1600,
        "height_px": 1200,
        "kind": "jpeg",
        "file_name": f"{uuid4()}.jpg",
        "received_at": NOW,
    }
    return actions.attach_photo(**given | fields)


def test_a_check_keeps_where_it_was_and_what_was_used(line):
    check = leaks.check(line, "leak_fixed", position=HERE, parts={"tee": 2, "lateral": 1})
    check.refresh_from_db()
    assert check.position == HERE
    assert used(check) == {"tee": 2, "lateral": 1}


def test_a_check_without_either_has_neither(line):
    check = leaks.check(line)
    assert check.position is None
    assert used(check) == {}


def test_a_check_sent_again_counts_its_parts_once(line):
    first = leaks.check(line, "leak_fixed", parts={"tee": 2})
    again = leaks.check(line, "leak_fixed", uuid=first.uuid, parts={"tee": 2})
    assert again == first
    assert used(first) == {"tee": 2}


def test_a_part_nobody_knows_takes_the_whole_check_with_it(line):
    with pytest.raises(IntegrityError), transaction.atomic():
        leaks.check(line, "leak_left", parts={"gasket": 1})
    assert not LeakCheck.objects.exists()
    assert not PartUsed.objects.exists()


def test_an_obstruction_is_kept_as_it_was_seen(line):
    row = obstruct(line, place_drops=12, note="across both", position=HERE)
    row.refresh_from_db()
    assert (row.work, row.place_drops, row.note, row.position) == (
        "chainsaw",
        12,
        "across both",
        HERE,
    )
    assert (row.seen_at, row.received_at) == (leaks.hours_ago(3), NOW)


def test_an_obstruction_sent_twice_is_one(line):
    first = obstruct(line)
    assert obstruct(line, uuid=first.uuid) == first
    assert Obstruction.objects.count() == 1


@pytest.mark.parametrize(("label", "work"), [("L7", "hands"), ("L8", "chainsaw")])
def test_another_obstruction_under_a_used_uuid_is_refused(line, label, work):
    first = obstruct(line)
    other = line if label == "L7" else leaks.a_line(label)
    with pytest.raises(actions.SentBefore, match="Already recorded as L7: Chainsaw") as refusal:
        obstruct(other, work, uuid=first.uuid)
    assert refusal.value.record == first
    assert Obstruction.objects.count() == 1


def test_it_is_open_until_somebody_says_it_is_gone(line):
    first, second = obstruct(line), obstruct(line)
    clear(first)
    assert list(Obstruction.objects.still_open()) == [second]
    assert list(Obstruction.objects.cleared()) == [first]


def test_a_clearing_sent_twice_is_one_and_never_of_another(line):
    first, second = obstruct(line), obstruct(line)
    gone = clear(first)
    assert clear(first, uuid=gone.uuid) == gone
    with pytest.raises(actions.SentBefore):
        clear(second, uuid=gone.uuid)
    assert list(Clearing.objects.all()) == [gone]


def test_of_two_who_cleared_it_each_word_stands_by_itself(line):
    there = obstruct(line)
    sol, wren = people.crew("sol"), people.crew("wren")
    first, second = clear(there, crew=sol), clear(there, crew=wren, hours=2)
    actions.void_clearing(clearing=first, by=sol, at=NOW)
    assert not Obstruction.objects.still_open().exists()
    actions.void_clearing(clearing=second, by=wren, at=NOW)
    assert list(Obstruction.objects.still_open()) == [there]
    assert Clearing.objects.count() == 2


def test_a_clock_that_says_cleared_before_seen_loses_no_word(line):
    there = obstruct(line)
    clear(there, hours=9)
    assert not Obstruction.objects.still_open().exists()


def test_an_obstruction_taken_back_is_neither_open_nor_cleared(line):
    there, gone = obstruct(line), obstruct(line)
    clear(gone)
    for row in (there, gone):
        actions.void_obstruction(obstruction=row, by=row.crew, at=NOW)
    assert not Obstruction.objects.still_open().exists()
    assert not Obstruction.objects.cleared().exists()
    assert Obstruction.objects.count() == 2


@pytest.mark.parametrize("role", ["crew", "owner"])
def test_obstruction_and_clearing_are_taken_back_by_their_writer_or_an_owner(line, role):
    there = obstruct(line, crew=people.crew("sol"))
    gone = clear(there, crew=there.crew)
    other = people.crew("wren", role=role)
    for take_back in (
        lambda: actions.void_obstruction(obstruction=there, by=other, at=NOW),
        lambda: actions.void_clearing(clearing=gone, by=other, at=NOW),
    ):
        if role == "owner":
            take_back()
        else:
            with pytest.raises(actions.NotYours):
                take_back()
    taken = Obstruction.objects.standing().exists(), Clearing.objects.standing().exists()
    assert taken == ((role == "crew"),) * 2


def test_taken_back_twice_it_keeps_the_first_who_and_when(line):
    there = obstruct(line)
    actions.void_obstruction(obstruction=there, by=there.crew, at=NOW)
    actions.void_obstruction(obstruction=there, by=people.owner(), at=leaks.hours_ago(-1))
    there.refresh_from_db()
    assert (there.voided_by, there.voided_at) == (there.crew, NOW)


def test_taken_back_and_sent_again_it_is_not_written_anew(line):
    there = obstruct(line)
    actions.void_obstruction(obstruction=there, by=there.crew, at=NOW)
    assert obstruct(line, uuid=there.uuid).voided_at == NOW
    assert Obstruction.objects.count() == 1


def test_a_photo_hangs_on_its_check_or_obstruction(line):
    check, there = leaks.check(line), obstruct(line)
    attach(check=check)
    attach(obstruction=there)
    assert check.photos.get().leak_check == check
    assert there.photos.get().obstruction == there


def test_a_photo_sent_twice_is_one_even_when_kept_under_another_name(line):
    check = leaks.check(line)
    first = attach(check=check)
    assert attach(check=check, uuid=first.uuid, file_name="again.jpg") == first
    assert Photo.objects.get().file_name == first.file_name


def test_another_photo_under_a_used_uuid_is_refused(line):
    check, other, there = leaks.check(line), leaks.check(line, "frozen"), obstruct(line)
    first = attach(check=check)
    for fields in ({"check": other}, {"obstruction": there}, {"check": check, "sha256": "cd" * 32}):
        with pytest.raises(actions.SentBefore):
            attach(uuid=first.uuid, **fields)
    assert list(Photo.objects.all()) == [first]


def test_a_reading_added_after_is_taken_off_again_while_it_is_that_one(line):
    check = leaks.check(line, "leak_fixed")
    actions.add_reading_after(check=check, vacuum_after_kpa=80.0)
    with pytest.raises(actions.ReadingAlreadySet):
        actions.take_back_reading_after(check=check, vacuum_after_kpa=70.0)
    actions.take_back_reading_after(check=check, vacuum_after_kpa=80.0)
    check.refresh_from_db()
    assert check.vacuum_after_kpa is None
    actions.add_reading_after(check=check, vacuum_after_kpa=82.0)


def in_thread(work):
    try:
        return work()
    finally:
        connection.close()


@pytest.mark.django_db(transaction=True)
def test_one_obstruction_and_its_clearing_from_eight_threads_are_one_row_each():
    line, crew = leaks.a_line(), leaks.somebody()
    one, two = uuid4(), uuid4()

    def send():
        there = obstruct(line, uuid=one, crew=crew)
        return there.pk, clear(there, uuid=two, crew=crew).pk

    with ThreadPoolExecutor(8) as threads:
        keys = {done.result() for done in [threads.submit(in_thread, send) for _ in range(8)]}
    assert len(keys) == 1
    assert (Obstruction.objects.count(), Clearing.objects.count()) == (1, 1)


@pytest.mark.django_db(transaction=True)
def test_a_check_with_parts_from_eight_threads_counts_them_once():
    line, crew, uuid = leaks.a_line(), leaks.somebody(), uuid4()

    def send():
        return leaks.check(line, "leak_fixed", uuid=uuid, crew=crew, parts={"tee": 2}).pk

    with ThreadPoolExecutor(8) as threads:
        keys = {done.result() for done in [threads.submit(in_thread, send) for _ in range(8)]}
    assert len(keys) == 1
    assert used(LeakCheck.objects.get()) == {"tee": 2}

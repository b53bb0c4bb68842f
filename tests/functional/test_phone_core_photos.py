"""Photos on their way up: after their record, in pieces, resumed where they ended."""

import random
from base64 import b64encode
from hashlib import sha256
from io import BytesIO

import pytest
from PIL import Image

from apps.leaks.models import LeakCheck, Photo
from tests.factories import operation as people
from tests.functional import phone as phones

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PHOTOS = "/field/photos/"
PIECE = 64 * 1024
SAVE = """load('outbox').then(({ save }) => save(
  { kind: "check", line: it.line, state: "leak_left" },
  { photos: it.photos.map((text) => Uint8Array.from(atob(text), (c) => c.charCodeAt(0)).buffer) },
))"""
HELD = """(await load('store')).read(['photos'], ({ photos }) => new Promise((resolve) => {
  photos.count().onsuccess = (it) => resolve(it.target.result);
}))"""
BROKEN = b"HTTP/1.1 500 Oh\r\nContent-Type: text/html\r\nContent-Length: 4\r\n\r\noops"
LEFT = "(await load('outbox')).counts().then((it) => it.photos)"


def jpeg(seed=1, size=(600, 500)):
    """A picture that packs badly, as one of the woods does: a few pieces long."""
    noise = random.Random(seed).randbytes(3 * size[0] * size[1])
    out = BytesIO()
    Image.frombytes("RGB", size, noise).save(out, "JPEG", quality=75)
    return out.getvalue()


def save_with(page, line, *pictures):
    texts = [b64encode(picture).decode() for picture in pictures]
    return phones.run(page, SAVE, {"line": line, "photos": texts})


@pytest.fixture
def page(sols_page, wire, settings, tmp_path):
    """Sol's phone, out of signal until `wire.start()`."""
    settings.MEDIA_ROOT = tmp_path / "photos"
    wire.stop()
    return sols_page


def hashes():
    return sorted(Photo.objects.values_list("sha256", flat=True))


def test_a_photo_follows_its_record_in_pieces(page, wire, five_lines):
    picture = jpeg()
    assert 2 * PIECE < len(picture) < 4 * PIECE
    uuid = save_with(page, five_lines[0], picture)
    wire.start()
    told = phones.sync(page)
    assert (told["why"], told["sent"], told["photosLeft"]) == ("ok", 1, 0)
    assert str(Photo.objects.get().leak_check.uuid) == uuid
    assert hashes() == [sha256(picture).hexdigest()]
    first_photo = wire.exchanges.index(wire.asked("PUT", PHOTOS)[0])
    assert wire.exchanges.index(wire.asked("POST", "/field/records/")[0]) < first_photo
    assert len(wire.asked("PUT", PHOTOS)) == -(-len(picture) // PIECE)


def test_photos_that_arrived_make_room_on_the_phone(page, wire, five_lines):
    save_with(page, five_lines[0], jpeg())
    assert phones.run(page, HELD) == 1
    wire.start()
    phones.sync(page)
    assert phones.run(page, HELD) == 0
    assert phones.run(page, LEFT) == 0


def test_every_reading_is_up_before_the_first_photo(page, wire, five_lines):
    for seed, line in enumerate(five_lines):
        save_with(page, line, jpeg(seed))
    wire.start()
    wire.hang("PUT", PHOTOS)
    phones.run(page, "load('sync').then((it) => { it.sync('touch'); })")
    phones.until(page, "(await load('outbox')).counts().then((it) => it.waiting === 0)")
    assert LeakCheck.objects.count() == 5
    assert phones.run(page, LEFT) == 5
    # Two at a time and no more, or none of them would get through one bar.
    assert len(wire.asked("PUT", PHOTOS)) == 2


@pytest.mark.parametrize("keep_alive", [True, False])
def test_a_lost_answer_doubles_no_photo(page, wire, five_lines, keep_alive):
    picture = jpeg()
    wire.keep_alive = keep_alive
    save_with(page, five_lines[0], picture)
    wire.start()
    wire.cut("PUT", PHOTOS, times=1)
    phones.sync(page)
    phones.sync(page)
    assert hashes() == [sha256(picture).hexdigest()]
    assert phones.run(page, LEFT) == 0


def test_broken_off_it_goes_on_where_it_ended_after_a_reboot(page, woods_phone, wire, five_lines):
    picture = jpeg()
    save_with(page, five_lines[0], picture)
    wire.start()
    wire.cut("PUT", ".*at=65536", times=1000)
    assert phones.sync(page)["why"] == "no_answer"
    assert phones.run(page, LEFT) == 1
    woods_phone.off()
    wire.heal()
    tried = len(wire.asked("PUT", PHOTOS))
    again = woods_phone.visit(woods_phone.boot())
    phones.until(again, f"{LEFT}.then((it) => it === 0)")
    rest = [it.path.rpartition("at=")[2] for it in wire.asked("PUT", PHOTOS)[tried:]]
    assert rest[0] == str(2 * PIECE)
    assert hashes() == [sha256(picture).hexdigest()]


def test_a_photo_waits_while_its_record_is_refused_and_goes_with_the_mended_one(
    page, wire, five_lines
):
    refused = save_with(page, 987_654, jpeg())
    wire.start()
    assert phones.sync(page)["refused"] == 1
    assert wire.asked("PUT", PHOTOS) == []
    mend = "(await load('outbox')).mend(it[0], { line: it[1] })"
    mended = phones.run(page, mend, [refused, five_lines[0]])
    phones.until(page, f"{LEFT}.then((it) => it === 0)")
    assert str(Photo.objects.get().leak_check.uuid) == mended


def test_a_refused_photo_stays_with_its_reason_and_holds_up_no_other(page, wire, five_lines):
    uuid = save_with(page, five_lines[0], b"no picture at all", jpeg())
    wire.start()
    assert phones.sync(page)["photosLeft"] == 0
    (kept,) = phones.entries(page)
    assert kept["uuid"] == uuid
    assert sorted(photo["state"] for photo in kept["photos"]) == ["refused", "sent"]
    assert all(photo["reason"] for photo in kept["photos"] if photo["state"] == "refused")


def test_a_record_taken_back_unsent_and_refused_takes_its_photo_along(page, wire, five_lines):
    uuid = save_with(page, 987_654, jpeg())
    wire.start()
    phones.sync(page)
    phones.run(page, "(await load('outbox')).undo(it)", uuid)
    assert phones.run(page, HELD) == 0


def test_another_person_does_not_send_sols_photo(page, woods_phone, wire, five_lines):
    save_with(page, five_lines[0], jpeg())
    wire.start()
    wire.answer("PUT", PHOTOS, BROKEN, times=1000)
    phones.sync(page)
    wire.stop()
    wire.heal()
    woods_phone.admit(people.crew("wren"))
    wire.start()
    phones.run(page, "(await load('data')).refresh()")
    before = len(wire.asked("PUT", PHOTOS))
    assert phones.sync(page)["why"] == "nothing"
    assert len(wire.asked("PUT", PHOTOS)) == before
    assert phones.run(page, LEFT) == 1


def test_an_owner_takes_over_a_photo_left_behind(page, woods_phone, wire, five_lines):
    picture = jpeg()
    save_with(page, five_lines[0], picture)
    wire.start()
    wire.answer("PUT", PHOTOS, BROKEN, times=1000)
    phones.sync(page)
    wire.heal()
    woods_phone.admit(people.owner())
    phones.run(page, "(await load('data')).refresh()")
    sol = phones.entries(page)[0]["person"]
    assert phones.run(page, "(await load('outbox')).handOver(it)", sol) == 1
    phones.sync(page)
    assert hashes() == [sha256(picture).hexdigest()]


def test_a_photo_handed_to_one_who_may_not_send_it_waits_for_its_own_person(
    page, woods_phone, wire, five_lines
):
    save_with(page, five_lines[0], jpeg())
    wire.start()
    wire.answer("PUT", PHOTOS, BROKEN, times=1000)
    phones.sync(page)
    wire.heal()
    woods_phone.admit(people.crew("wren"))
    phones.run(page, "(await load('data')).refresh()")
    sol = phones.entries(page)[0]["person"]
    phones.run(page, "(await load('outbox')).handOver(it)", sol)
    phones.sync(page)
    (kept,) = phones.entries(page)
    assert (kept["handedTo"], kept["photosWaiting"]) == (None, 1)
    assert "Sol" in kept["photos"][0]["reason"]

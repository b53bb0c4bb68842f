"""Photos in pieces: resumed, checked when whole, and never kept by halves."""

import os
import threading
import time
from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import connection
from django.urls import reverse

from apps.field.actions import photos
from apps.leaks.models import Photo
from tests.factories import leaks, pictures
from tests.factories import operation as people
from tests.factories.pictures import Upload, picture, png_that_claims

pytestmark = pytest.mark.django_db

BIG = picture(size=(300, 240))


@pytest.fixture(autouse=True)
def kept(settings, tmp_path):
    """Where the pictures of one test go."""
    settings.MEDIA_ROOT = tmp_path / "photos"
    return settings.MEDIA_ROOT


@pytest.fixture
def check(crew):
    return leaks.check(leaks.a_line(), "leak_left", crew=crew)


@pytest.fixture
def upload(crew_client, check):
    return lambda data, **said: Upload(crew_client, check.uuid, data, **said)


def files(folder):
    return sorted(path for path in folder.rglob("*") if path.is_file())


@pytest.mark.parametrize(
    ("kind", "ending"), [("JPEG", "jpg"), ("PNG", "png"), ("WEBP", "webp")], ids=str
)
def test_a_photo_is_kept_as_it_came_and_known_by_its_content(upload, kept, check, kind, ending):
    sent = upload(picture(kind))
    assert sent.whole().json() == {"received": len(sent.data), "done": True}
    row = Photo.objects.get(uuid=sent.uuid)
    assert (row.leak_check, row.kind, row.width_px, row.height_px) == (check, kind.lower(), 64, 48)
    assert (row.size_bytes, row.sha256) == (len(sent.data), sent.said["sha256"])
    assert row.received_at == people.FIXED_NOW
    assert row.file_name.endswith(f"{sent.uuid}.{ending}")
    assert (kept / row.file_name).read_bytes() == sent.data
    assert files(kept) == [kept / row.file_name]


def test_a_photo_of_an_obstruction_hangs_on_it(crew_client, crew):
    row = leaks.obstruction(leaks.a_line(), crew=crew)
    sent = Upload(crew_client, row.uuid, picture())
    assert sent.whole().json()["done"]
    assert Photo.objects.get().obstruction == row


def test_an_upload_goes_on_where_it_ended(upload):
    sent = upload(BIG)
    assert sent.received() == {"received": 0, "done": False}
    assert sent.put(0, 20_000).json() == {"received": 20_000, "done": False}
    assert sent.received() == {"received": 20_000, "done": False}
    assert sent.put(20_000).json() == {"received": len(BIG), "done": True}
    assert sent.received() == {"received": len(BIG), "done": True}


@pytest.mark.parametrize("at", [0, 10_000, 30_000])
def test_a_piece_that_does_not_join_on_is_told_where_to_begin(upload, at):
    sent = upload(BIG)
    sent.put(0, 20_000)
    answer = sent.put(at, at + 5_000)
    assert (answer.status_code, answer.json()) == (409, {"received": 20_000})
    assert sent.put(20_000).json()["done"]


def test_a_photo_sent_again_is_one_photo(upload, kept):
    sent = upload(BIG)
    first, again = sent.whole().json(), sent.put(0, 65_536).json()
    assert again == first
    assert Photo.objects.count() == len(files(kept)) == 1


def test_another_photo_under_the_same_identifier_overwrites_nothing(upload, kept):
    sent = upload(picture(seed=1))
    sent.whole()
    answer = upload(picture(seed=2), uuid=sent.uuid).whole()
    assert answer.status_code == 422
    assert "take it again" in answer.json()["reason"]
    assert files(kept)[0].read_bytes() == sent.data


BROKEN = {
    "a page": b"<html><script>alert(1)</script></html>",
    "a script behind a picture's first bytes": b"\xff\xd8\xff\xe0" + b"<?php system('id') ?>" * 40,
    "a GIF": picture("GIF"),
    "a TIFF": picture("TIFF"),
    "half a JPEG": picture("JPEG")[:-400],
    "half a PNG": picture("PNG")[:-400],
    "half a WebP": picture("WEBP")[:-400],
    "one byte": b"\xff",
}


@pytest.mark.parametrize("name", BROKEN)
def test_what_is_no_whole_picture_is_refused_and_gone(upload, kept, name):
    sent = upload(BROKEN[name])
    answer = sent.whole()
    assert answer.status_code == 422
    assert answer.json()["reason"].startswith("This is no whole JPEG, PNG or WebP picture")
    assert files(kept) == []
    assert not Photo.objects.exists()
    assert sent.received() == {"received": 0, "done": False}


@pytest.mark.parametrize("size", [(8000, 5001), (10_000, 10_000), (60_000, 60_000)], ids=str)
def test_a_wall_of_pixels_is_never_unpacked(upload, kept, size):
    answer = upload(png_that_claims(*size)).whole()
    assert answer.status_code == 422
    assert answer.json() == {"reason": "The picture has over 40 million pixels."}
    assert files(kept) == []


def test_what_was_damaged_on_the_way_is_thrown_away_and_may_be_sent_again(upload):
    sent = upload(picture())
    damaged = Upload(sent.client, sent.said["of"], picture(seed=9), uuid=sent.uuid)
    answer = damaged.put(0, sha256=sent.said["sha256"])
    assert (answer.status_code, answer.json()["reason"]) == (
        422,
        "It was damaged on the way: send it again.",
    )
    assert sent.whole().json()["done"]


@pytest.mark.parametrize(
    "said",
    [
        {"of": "none"},
        {"sha256": "0" * 63},
        {"sha256": "Z" * 64},
        {"total": "many"},
        {"total": "-1"},
        {"at": "1e3"},
        {"at": "٣"},
        {"at": "9" * 40},
    ],
    ids=str,
)
def test_a_piece_that_does_not_say_what_it_is_is_refused(upload, kept, said):
    answer = upload(picture()).put(**({"at": 0} | said))
    assert answer.status_code == 422
    assert answer.json()["reason"].startswith("The phone did not say")
    assert files(kept) == []


@pytest.mark.parametrize("said", [{"total": 4 * 1024 * 1024 + 1}, {"total": 10}], ids=str)
def test_more_than_a_photo_may_have_is_refused_before_it_is_kept(upload, kept, said):
    answer = upload(picture()).put(0, **said)
    assert answer.status_code == 422
    assert answer.json()["reason"] == "A photo may have 4 MB at most."
    assert files(kept) == []


def test_a_piece_over_256_kb_is_too_large(upload, kept):
    sent = upload(b"x" * (256 * 1024 + 1))
    assert sent.put(0).status_code == 413
    assert files(kept) == []


def test_a_photo_before_its_record_waits_for_it(crew_client, crew):
    sent = Upload(crew_client, uuid4(), picture())
    answer = sent.whole()
    assert answer.status_code == 404
    assert "send that one first" in answer.json()["reason"]


def test_a_photo_of_somebody_elses_check_needs_its_owner(upload, check, crew):
    marek = people.crew("marek")
    check.__class__.objects.update(crew=marek)
    answer = upload(picture()).whole()
    assert (answer.status_code, answer.json()["reason"][:15]) == (422, "Marek took this")
    people.CrewMember.objects.filter(pk=marek.pk).update(is_active=False)
    assert upload(picture()).whole().json()["done"]


def test_a_stranger_is_told_in_json(client, db, fixed_clock):
    sent = Upload(client, uuid4(), picture())
    assert (sent.whole().status_code, sent.whole().json()) == (401, {"reason": "signed_out"})
    assert client.get(sent.address).status_code == 401


def test_what_was_given_up_is_forgotten_after_a_week_and_not_before(upload, kept):
    old, young = upload(BIG), upload(BIG)
    for sent, days in ((old, 7.01), (young, 6.99)):
        sent.put(0, 1000)
        then = (people.FIXED_NOW - timedelta(days=days)).timestamp()
        os.utime(kept / "partial" / f"{sent.uuid}.part", (then, then))
    upload(BIG).put(0, 1000)
    assert [sent.received()["received"] for sent in (old, young)] == [0, 1000]


def test_a_full_disk_is_said_to_be_busy_and_loses_nothing(upload, monkeypatch):
    sent = upload(BIG)
    sent.put(0, 20_000)

    def full(*_):
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(photos, "_write", full)
        answer = sent.put(20_000)
        assert (answer.status_code, answer.json()) == (503, {"reason": "busy"})
    assert sent.put(20_000).json()["done"]


def test_a_photo_whose_row_was_not_written_is_written_by_the_next_try(upload, kept, monkeypatch):
    sent = upload(picture())

    def killed(**_):
        raise OSError("as if the power had gone")

    with monkeypatch.context() as patch:
        patch.setattr(photos.leaks, "attach_photo", killed)
        assert sent.whole().status_code == 503
    assert not Photo.objects.exists()
    assert sent.received() == {"received": 0, "done": False}
    assert sent.whole().json()["done"]
    assert len(files(kept)) == 1


def test_no_address_serves_the_pictures_as_files(crew_client, upload, kept):
    upload(picture()).whole()
    name = Photo.objects.get().file_name
    for prefix in ("", "media/", "static/", "photos/", "static/photos/"):
        assert crew_client.get(f"/{prefix}{name}").status_code == 404
    assert reverse("field:photo_intake", args=[uuid4()]).startswith("/field/")


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("begun", [0, 2000])
def test_the_last_piece_sent_four_times_at_once_is_one_photo(kept, begun):
    people.operation()
    sol = people.crew()
    of = leaks.check(leaks.a_line(), crew=sol).uuid
    data = picture()
    said = photos.Upload(uuid4(), of, pictures.sha256(data).hexdigest(), len(data))

    def put(at, end=None):
        piece = {"upload": said, "at": at, "piece": data[at:end]}
        return photos.take_piece(**piece, sender=sol, now=people.FIXED_NOW)

    if begun:
        put(0, begun)
    found = at_once(4, lambda: put(begun))
    assert {one.done for one in found} == {True}
    assert photos.progress(uuid=said.uuid).done
    assert Photo.objects.count() == len(files(kept)) == 1
    assert (kept / Photo.objects.get().file_name).read_bytes() == data


def at_once(times, put):
    """What came of each; who is told to begin elsewhere asks again, as the phone does."""
    gate, found = threading.Barrier(times), []

    def run():
        try:
            gate.wait(timeout=10)
            for _ in range(20):
                try:
                    found.append(put())
                except photos.OtherOffset:
                    time.sleep(0.05)
                else:
                    return
        finally:
            connection.close()

    threads = [threading.Thread(target=run) for _ in range(times)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=30)
    assert len(found) == times
    return found

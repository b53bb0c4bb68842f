"""Plain http on a farm's network: everything but opening without signal, and it says so."""

import hashlib

import pytest

from apps.leaks.models import LeakCheck
from tests.factories import operation as people
from tests.functional import phone as phones

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

HOST = "farm.test"


@pytest.fixture
def page(make_phone, wire, settings, five_lines):
    """Sol's phone on an address that browsers do not call secure."""
    settings.ALLOWED_HOSTS = [HOST]
    phone = make_phone(f"http://{HOST}:{wire.port}", f"--host-resolver-rules=MAP {HOST} 127.0.0.1")
    sol = people.crew("sol")
    page = phone.boot()
    phone.admit(sol)
    phone.visit(page)
    phones.until(page, "(await load('data')).cached()")
    return page


def test_what_browsers_withhold_here_is_withheld(page):
    """Else the tests below would try nothing."""
    withheld = """[isSecureContext, "serviceWorker" in navigator, "locks" in navigator,
      "randomUUID" in crypto, "subtle" in crypto, "storage" in navigator]"""
    assert page.evaluate(withheld) == [False] * 6


def test_it_is_never_ready_and_says_why(page):
    told = phones.run(page, phones.READY)
    assert (told["ready"], told["secure"], told["shell"]) == (False, False, False)
    assert told["missing"] == ["not_secure"]
    assert told["person"]["name"] == "Sol"


def test_records_are_kept_and_sent_as_anywhere(page, five_lines):
    uuid = phones.save(page, kind="check", line=five_lines[0], state="leak_left")
    phones.until(page, "(await load('outbox')).counts().then((it) => it.waiting === 0)")
    assert str(LeakCheck.objects.get().uuid) == uuid


def test_without_an_answer_they_wait(page, wire, five_lines):
    wire.stop()
    phones.save(page, kind="check", line=five_lines[0], state="leak_left")
    assert phones.sync(page)["why"] == "no_answer"
    assert phones.statuses(page) == ["waiting"]
    wire.start()
    assert phones.sync(page)["sent"] == 1


def test_room_to_stay_cannot_be_asked_for(page):
    assert phones.run(page, "(await load('update')).persist()") == "unavailable"


OF_BYTES = """load('photos').then(({ pack }) =>
  pack(new Uint8Array(it.length).map((_, n) => (n * 31) % 256).buffer).then((it) => it.sha256))"""
OF_TEXT = """load('photos').then(({ pack }) =>
  pack(new Blob([it])).then((it) => it.sha256))"""


def test_photos_are_hashed_as_hashlib_does(page):
    """FIPS 180-4 (2015) through Python's hashlib, around every edge of a block."""
    for length in (0, 1, 55, 56, 63, 64, 65, 119, 120, 1000, 70_001):
        content = bytes(n * 31 % 256 for n in range(length))
        told = phones.run(page, OF_BYTES, {"length": length})
        assert told == hashlib.sha256(content).hexdigest(), length


def test_the_printed_example_hashes_as_printed(page):
    """FIPS 180-2 (2002), appendix B.1: the message "abc"."""
    told = phones.run(page, OF_TEXT, "abc")
    assert told == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"

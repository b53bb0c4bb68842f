"""A new version is offered and never forced, and no version strands a record."""

import pytest

from apps.leaks.models import LeakCheck
from tests.functional import phone as phones

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

WORKER = "/field/worker.js"
VERSION = b'const VERSION = "'
# The colour of the head: what tells one page from the next, whatever scripts do to it.
COLOUR, NEXT_COLOUR = "#14415f", "#14415e"
SHOWN = "document.querySelector('meta[name=theme-color]').content"
LOOK = "navigator.serviceWorker.getRegistration('/field/').then((it) => it.update())"
WAITING = "navigator.serviceWorker.getRegistration('/field/').then((it) => it.waiting !== null)"
OFFERED = """load('update').then(({ onUpdate }) => new Promise((resolve) => {
  onUpdate(() => resolve(true));
  setTimeout(() => resolve(false), 15000);
}))"""
CACHES = "caches.keys()"


def new_version(wire):
    """The server after an update of it: another page, and so another version."""
    words = {VERSION: VERSION + b"next-", COLOUR.encode(): NEXT_COLOUR.encode()}
    wire.change(WORKER, words)


def log(page, lines, times):
    return [
        phones.save(page, kind="check", line=lines[n % len(lines)], state="tight")
        for n in range(times)
    ]


@pytest.fixture
def waiting_page(sols_page, wire, five_lines):
    """Twenty records waiting, and a new version ready beside them."""
    wire.stop()
    log(sols_page, five_lines, 20)
    wire.start()
    # Signal enough for the version, not for the records: they go on waiting.
    wire.hang("POST", "/field/records/")
    new_version(wire)
    phones.run(sols_page, LOOK)
    phones.until(sols_page, WAITING)
    return sols_page


def waiting_in(page):
    return phones.run(page, "(await load('outbox')).counts()")["waiting"]


def test_a_new_version_waits_for_the_persons_touch(waiting_page, woods_phone):
    assert phones.run(waiting_page, OFFERED)
    before = phones.run(waiting_page, CACHES)
    woods_phone.visit(waiting_page)
    assert phones.run(waiting_page, WAITING)
    assert waiting_page.evaluate(SHOWN) == COLOUR
    # The old files and the new ones, side by side.
    assert phones.run(waiting_page, CACHES) == before
    assert len(before) == 2


def test_twenty_waiting_records_outlive_the_new_version(waiting_page, woods_phone, wire):
    uuids = [it["uuid"] for it in phones.entries(waiting_page)]
    assert waiting_in(waiting_page) == 20
    with waiting_page.expect_navigation():
        phones.run(waiting_page, "void (await load('update')).apply()")
    assert waiting_in(waiting_page) == 20
    (only,) = phones.run(waiting_page, CACHES)
    assert only.startswith("thawline-shell-next-")
    wire.heal()
    woods_phone.visit(waiting_page)
    phones.until(waiting_page, "(await load('outbox')).counts().then((it) => it.waiting === 0)")
    assert sorted(str(it.uuid) for it in LeakCheck.objects.all()) == sorted(uuids)


def test_after_the_touch_the_new_page_opens_without_a_server(waiting_page, woods_phone, wire):
    with waiting_page.expect_navigation():
        phones.run(waiting_page, "void (await load('update')).apply()")
    assert waiting_page.evaluate(SHOWN) == NEXT_COLOUR
    wire.stop()
    again = woods_phone.visit(woods_phone.reboot())
    assert again.evaluate(SHOWN) == NEXT_COLOUR
    assert phones.until_ready(again)["shell"]


def test_a_new_version_that_breaks_off_leaves_the_old_one_working(
    sols_page, woods_phone, wire, five_lines
):
    new_version(wire)
    broken = b"HTTP/1.1 500 Oh\r\nContent-Length: 0\r\n\r\n"
    wire.answer("GET", "/static/js/field/walk.js", broken, times=1000)
    phones.run(sols_page, LOOK + ".catch(() => null)")
    gone = "navigator.serviceWorker.getRegistration('/field/').then((it) => !it.installing)"
    phones.until(sols_page, gone)
    assert not phones.run(sols_page, WAITING)
    wire.stop()
    again = woods_phone.visit(woods_phone.reboot())
    assert phones.until_ready(again)["shell"]
    log(again, five_lines, 1)
    assert waiting_in(again) == 1


def test_a_dead_server_while_looking_for_a_version_changes_nothing(sols_page, woods_phone, wire):
    wire.stop()
    looked = phones.run(sols_page, LOOK + ".then(() => 'found', () => 'failed')")
    assert looked == "failed"
    assert phones.until_ready(sols_page)["shell"]


def test_asking_for_room_to_stay_tells_the_answer(sols_page):
    answer = phones.run(sols_page, "(await load('update')).persist()")
    assert answer in {"granted", "denied"}
    assert (answer == "granted") == sols_page.evaluate("navigator.storage.persisted()")

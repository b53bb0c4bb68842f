"""Ready for the woods after one visit, and open there without a server."""

import pytest
from playwright.sync_api import expect

from tests.factories import leaks
from tests.factories import operation as people
from tests.functional import phone as phones

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

LINES = "(await load('data')).cached().then((it) => it?.data.lines.length ?? 0)"


@pytest.fixture
def sol():
    for number in range(1, 6):
        leaks.a_line(f"L{number}", planned_taps=100 * number)
    return people.crew("sol")


@pytest.fixture
def page(woods_phone, sol):
    """Sol signed in, the phone's pages open for the first time."""
    page = woods_phone.boot()
    woods_phone.sign_in(page, "sol")
    return woods_phone.visit(page)


def test_one_visit_makes_the_phone_ready(page):
    told = phones.until_ready(page)
    assert told["person"]["name"] == "Sol"
    assert (told["shell"], told["lines"], told["secure"], told["missing"]) == (True, True, True, [])


def test_the_pages_head_says_so_without_being_opened_again(page):
    expect(page.locator("#ready")).to_have_text("Ready for the woods", timeout=20_000)


def test_before_signing_in_it_says_what_is_missing(woods_phone, sol):
    page = woods_phone.visit(woods_phone.boot())
    phones.until(page, "(await load('data')).readiness().then((it) => it.shell)")
    told = phones.run(page, phones.READY)
    assert not told["ready"]
    assert told["missing"] == ["lines", "person"]


def test_an_operation_without_lines_is_not_ready(woods_phone):
    people.crew("sol")
    page = woods_phone.boot()
    woods_phone.sign_in(page, "sol")
    woods_phone.visit(page)
    phones.until(page, "(await load('data')).readiness().then((it) => it.shell && it.person)")
    assert phones.run(page, phones.READY)["missing"] == ["lines"]


def test_server_dead_and_phone_rebooted_it_opens_with_lines_and_person(page, woods_phone, wire):
    phones.until_ready(page)
    wire.stop()
    again = woods_phone.visit(woods_phone.reboot())
    assert phones.run(again, LINES) == 5
    assert phones.until_ready(again)["person"]["name"] == "Sol"


@pytest.mark.parametrize("path", ["/field/check/?line=1", "/field/line/home-bush/L3/"])
def test_every_page_opens_without_a_server(page, woods_phone, wire, path):
    phones.until_ready(page)
    wire.stop()
    again = woods_phone.visit(woods_phone.reboot(), path)
    assert again.url == woods_phone.origin + path
    assert phones.run(again, LINES) == 5


def test_the_network_is_not_awaited_where_it_hangs(page, woods_phone, wire):
    phones.until_ready(page)
    woods_phone.off()
    wire.hang("GET", "/")
    again = woods_phone.boot()
    asked = len(wire.exchanges)
    woods_phone.visit(again)
    # Every request is still held: what is on the page came from the phone.
    assert phones.run(again, LINES) == 5
    assert all(it.status == 0 for it in wire.exchanges[asked:])


def test_the_last_good_list_stays_when_the_session_has_run_out(page, woods_phone):
    phones.until_ready(page)
    woods_phone.context.clear_cookies(name="sessionid")
    told = phones.run(page, "(await load('data')).refresh()")
    assert told["why"] == "signed_out"
    assert len(told["data"]["lines"]) == 5
    assert phones.run(page, phones.READY)["person"]["name"] == "Sol"


def test_no_answer_is_told_from_a_fresh_list(page, wire):
    phones.until_ready(page)
    fresh = phones.run(page, "(await load('data')).refresh()")
    wire.stop()
    stale = phones.run(page, "(await load('data')).refresh()")
    assert (fresh["why"], stale["why"]) == ("fresh", "no_answer")
    assert stale["fetchedAt"] == fresh["fetchedAt"]


HOTEL = b"HTTP/1.1 200 OK\r\nContent-Type: text/html\r\nContent-Length: 14\r\n\r\n<p>Welcome</p>"


def test_the_page_of_a_hotels_network_is_no_list(page, wire):
    phones.until_ready(page)
    wire.answer("GET", "/field/data.json", HOTEL)
    told = phones.run(page, "(await load('data')).refresh()")
    assert (told["why"], len(told["data"]["lines"])) == ("no_answer", 5)


def test_the_worker_keeps_no_list_no_person_and_no_answer(page):
    phones.until_ready(page)
    kept = page.evaluate(
        """async () => {
          const keys = async (name) => (await caches.open(name)).keys();
          const all = await Promise.all((await caches.keys()).map(keys));
          return all.flat().map((it) => new URL(it.url).pathname);
        }"""
    )
    assert len(kept) > 10
    assert all(path.startswith("/static/") for path in kept)


def test_files_lost_from_the_cache_are_missed_and_fetched_again(page, wire):
    phones.until_ready(page)
    wire.stop()
    page.evaluate("async () => { for (const it of await caches.keys()) await caches.delete(it); }")
    assert phones.run(page, phones.READY)["missing"] == ["shell"]
    wire.start()
    assert phones.until_ready(page)["shell"]


def clear(page, origin, kinds):
    devtools = page.context.new_cdp_session(page)
    devtools.send("Storage.clearDataForOrigin", {"origin": origin, "storageTypes": kinds})


EVICTED = "indexeddb,cache_storage,service_workers,local_storage"


def test_an_evicted_store_is_told_with_what_it_held_and_filled_anew(page, woods_phone):
    phones.until_ready(page)
    line = phones.run(page, "(await load('data')).cached().then((it) => it.data.lines[0][0])")
    woods_phone.context.set_offline(True)
    for state in ("tight", "leak_left"):
        phones.save(page, kind="check", line=line, state=state)
    page.goto("about:blank")
    woods_phone.context.set_offline(False)
    clear(page, woods_phone.origin, EVICTED)
    woods_phone.visit(page)
    assert phones.until(page, "(await load('store')).loss()")["waiting"] == 2
    phones.until_ready(page)
    phones.run(page, "(await load('store')).forgetLoss()")
    assert phones.run(page, "(await load('store')).loss()") is None


def test_a_first_visit_has_lost_nothing(page):
    phones.until_ready(page)
    assert phones.run(page, "(await load('store')).loss()") is None

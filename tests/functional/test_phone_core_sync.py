"""Sending from the phone: exactly once whatever the link does, and to the right person."""

import pytest
from django.middleware.csrf import CSRF_SECRET_LENGTH

from apps.leaks.models import LeakCheck
from tests.factories import operation as people
from tests.functional import phone as phones

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

RECORDS = "/field/records/"


def check(page, line, state="tight", **more):
    return phones.save(page, kind="check", line=line, state=state, **more)


def standing():
    return sorted(str(uuid) for uuid in LeakCheck.objects.values_list("uuid", flat=True))


@pytest.fixture
def page(sols_page, wire):
    """Sol's phone, out of signal until `wire.start()`."""
    wire.stop()
    return sols_page


def log(page, lines, times):
    return [check(page, lines[n % len(lines)]) for n in range(times)]


def test_what_waited_arrives_once_each_in_one_post(page, wire, five_lines):
    uuids = log(page, five_lines, 50)
    wire.start()
    told = phones.sync(page)
    assert (told["why"], told["sent"], told["refused"]) == ("ok", 50, 0)
    assert standing() == sorted(uuids)
    assert set(phones.statuses(page)) == {"sent"}
    assert len(wire.asked("POST", RECORDS)) == 1


def test_without_an_answer_everything_still_waits(page, five_lines):
    log(page, five_lines, 3)
    assert phones.sync(page)["why"] == "no_answer"
    assert phones.statuses(page) == ["waiting"] * 3


@pytest.mark.parametrize("keep_alive", [True, False])
def test_with_the_first_answer_lost_nothing_is_lost_or_doubled(page, wire, five_lines, keep_alive):
    uuids = log(page, five_lines, 5)
    wire.keep_alive = keep_alive
    wire.start()
    wire.cut("POST", RECORDS, times=1)
    phones.sync(page)
    phones.sync(page)
    assert standing() == sorted(uuids)
    assert set(phones.statuses(page)) == {"sent"}


def test_with_every_answer_lost_the_phone_keeps_all_of_it(page, wire, five_lines):
    uuids = log(page, five_lines, 5)
    wire.start()
    wire.cut("POST", RECORDS, times=1000)
    assert phones.sync(page)["why"] == "no_answer"
    assert set(phones.statuses(page)) == {"waiting"}
    assert standing() == sorted(uuids)
    wire.heal()
    assert phones.sync(page)["sent"] == 5
    assert standing() == sorted(uuids)


def test_a_link_that_hangs_is_given_up_and_nothing_is_lost(page, wire, five_lines):
    log(page, five_lines, 1)
    wire.start()
    wire.hang("POST", RECORDS)
    assert phones.sync(page)["why"] == "no_answer"
    assert phones.statuses(page) == ["waiting"]
    wire.heal()
    assert phones.sync(page)["sent"] == 1


def test_two_tabs_at_once_send_each_record_once(page, woods_phone, wire, five_lines):
    uuids = log(page, five_lines, 20)
    other = woods_phone.visit(woods_phone.tab())
    wire.start()
    begin = "load('sync').then((it) => { window.told = it.sync('touch'); })"
    for tab in (page, other):
        phones.run(tab, begin)
    whys = {tab.evaluate("window.told")["why"] for tab in (page, other)}
    assert "ok" in whys
    assert whys <= {"ok", "busy", "nothing"}
    assert standing() == sorted(uuids)
    assert len(wire.asked("POST", RECORDS)) == 1


def test_a_tab_closed_while_sending_leaves_the_rest_to_the_other(
    page, woods_phone, wire, five_lines
):
    uuids = log(page, five_lines, 20)
    other = woods_phone.visit(woods_phone.tab())
    wire.start()
    wire.hang("POST", RECORDS, times=1)
    phones.run(page, "load('sync').then((it) => { it.sync('touch'); })")
    phones.until(
        other, "load('sync').then((it) => it.sync('touch')).then((it) => it.why == 'busy')"
    )
    page.close()
    phones.until(other, "load('sync').then((it) => it.sync('touch')).then((it) => it.why == 'ok')")
    assert standing() == sorted(uuids)


def test_a_session_that_ran_out_keeps_person_and_records(page, woods_phone, wire, five_lines):
    woods_phone.context.clear_cookies(name="sessionid")
    wire.start()
    check(page, five_lines[0])
    assert phones.sync(page)["why"] == "signed_out"
    kept = phones.entries(page)
    assert [(it["personName"], it["status"]) for it in kept] == [("Sol", "waiting")]
    woods_phone.sign_in(page, "sol")
    woods_phone.visit(page)
    phones.until(page, "(await load('outbox')).counts().then((it) => it.waiting === 0)")
    assert LeakCheck.objects.get().crew.username == "sol"


def test_the_cookies_token_is_used_first_and_a_stale_one_renewed_once(
    page, woods_phone, wire, five_lines
):
    wire.start()
    check(page, five_lines[0])
    phones.until(page, "(await load('outbox')).counts().then((it) => it.waiting === 0)")
    assert wire.asked("GET", "/field/whoami.json") == []
    wire.stop()
    # As left behind by another sign-in: readable, and not what the server expects.
    page.evaluate("document.cookie = 'csrftoken=broken; path=/'")
    check(page, five_lines[1])
    wire.start()
    assert phones.sync(page)["why"] == "ok"
    token = page.evaluate("document.cookie.match(/csrftoken=(\\w+)/)[1]")
    assert len(token) == CSRF_SECRET_LENGTH
    assert LeakCheck.objects.count() == 2


@pytest.fixture
def wren(db):
    return people.crew("wren")


def test_another_person_signed_in_sends_nothing_of_sols(page, woods_phone, wire, wren, five_lines):
    check(page, five_lines[0])
    woods_phone.admit(wren)
    wire.start()
    told = phones.sync(page)
    assert (told["why"], told["person"]["name"]) == ("other_person", "Wren")
    assert standing() == []
    # From here on the phone is Wren's; what Sol logged waits for Sol.
    check(page, five_lines[1])
    phones.until(page, "(await load('outbox')).counts().then((it) => it.waiting === 1)")
    assert LeakCheck.objects.get().crew == wren
    others = phones.run(page, "(await load('outbox')).counts()")["others"]
    assert [(it["name"], it["waiting"]) for it in others] == [("Sol", 1)]


def sols_id(page):
    return phones.entries(page)[0]["person"]


HAND_OVER = "(await load('outbox')).handOver(it)"


def test_a_hand_over_the_server_does_not_allow_leaves_the_record_to_its_person(
    page, woods_phone, wire, wren, five_lines
):
    check(page, five_lines[0])
    woods_phone.admit(wren)
    wire.start()
    phones.sync(page)
    phones.run(page, HAND_OVER, sols_id(page))
    phones.sync(page)
    (kept,) = phones.entries(page)
    assert (kept["status"], kept["handedTo"]) == ("waiting", None)
    assert "Sol" in kept["reason"]
    assert standing() == []


def test_an_owner_sends_what_another_saw_and_it_stays_theirs(page, woods_phone, wire, five_lines):
    uuid = check(page, five_lines[0])
    woods_phone.admit(people.owner())
    wire.start()
    phones.sync(page)
    phones.run(page, HAND_OVER, sols_id(page))
    phones.sync(page)
    assert standing() == [uuid]
    assert LeakCheck.objects.get().crew.username == "sol"


def test_a_refused_record_stays_with_its_reason_and_the_others_go(page, wire, five_lines):
    refused = check(page, 987_654)
    check(page, five_lines[0])
    wire.start()
    told = phones.sync(page)
    assert (told["sent"], told["refused"]) == (1, 1)
    kept = next(it for it in phones.entries(page) if it["uuid"] == refused)
    assert (kept["status"], kept["field"]) == ("refused", "line")
    assert len(kept["reason"]) > 10


def test_a_refused_record_that_is_mended_goes_up(page, wire, five_lines):
    refused = check(page, 987_654)
    wire.start()
    phones.sync(page)
    mend = "(await load('outbox')).mend(it[0], { line: it[1] })"
    mended = phones.run(page, mend, [refused, five_lines[2]])
    phones.until(page, "(await load('outbox')).counts().then((it) => it.waiting === 0)")
    assert standing() == [mended]
    assert LeakCheck.objects.get().line_id == five_lines[2]


def test_taken_back_before_it_went_up_both_arrive(page, wire, five_lines):
    uuid = check(page, five_lines[0])
    phones.run(page, "(await load('outbox')).undo(it)", uuid)
    wire.start()
    assert phones.sync(page)["sent"] == 2
    assert LeakCheck.objects.get().voided


def test_taking_back_what_the_server_never_took_leaves_nothing_to_mend(page, wire, five_lines):
    uuid = check(page, 987_654)
    phones.run(page, "(await load('outbox')).undo(it)", uuid)
    wire.start()
    phones.sync(page)
    assert phones.statuses(page) == ["dropped", "dropped"]


HOTEL = b"HTTP/1.1 200 OK\r\nContent-Type: text/html\r\nContent-Length: 14\r\n\r\n<p>Welcome</p>"
EMPTY = (
    b"HTTP/1.1 200 OK\r\nContent-Type: application/json\r\nContent-Length: 32\r\n\r\n"
    b'{"server_now":1800000000000    }'
)
TO_SIGN_IN = b"HTTP/1.1 302 Found\r\nLocation: /sign-in/\r\nContent-Length: 0\r\n\r\n"
BROKEN = b"HTTP/1.1 500 Oh\r\nContent-Type: text/html\r\nContent-Length: 4\r\n\r\noops"


@pytest.mark.parametrize("raw", [HOTEL, EMPTY, TO_SIGN_IN, BROKEN])
def test_an_answer_that_names_no_record_clears_none(page, wire, five_lines, raw):
    log(page, five_lines, 2)
    # So that no try of its own is under way and takes the answer meant for the next.
    phones.sync(page)
    wire.start()
    wire.answer("POST", RECORDS, raw, times=1)
    assert phones.sync(page)["why"] == "no_answer"
    assert phones.statuses(page) == ["waiting", "waiting"]
    assert phones.sync(page)["sent"] == 2


TOO_LARGE = b"HTTP/1.1 413 Too Large\r\nContent-Length: 0\r\n\r\n"


def test_a_post_too_large_on_its_way_is_halved(page, wire, five_lines):
    uuids = log(page, five_lines, 9)
    wire.start()
    wire.answer("POST", RECORDS, TOO_LARGE, times=2)
    assert phones.sync(page)["sent"] == 9
    assert standing() == sorted(uuids)


def test_saved_with_signal_it_goes_up_by_itself(page, wire, five_lines):
    wire.start()
    check(page, five_lines[0])
    phones.until(page, "(await load('outbox')).counts().then((it) => it.waiting === 0)")
    assert LeakCheck.objects.count() == 1


def test_after_a_failure_saving_goes_on_quietly(page, wire, five_lines):
    wire.start()
    wire.cut("POST", RECORDS, times=1000)
    phones.sync(page)
    check(page, five_lines[0])
    phones.sync(page)
    tried = len(wire.asked("POST", RECORDS))
    log(page, five_lines, 5)
    # A save looks for a chance to send and finds that it is too early: no request goes out.
    assert len(wire.asked("POST", RECORDS)) == tried
    wire.heal()
    assert phones.sync(page)["sent"] == 6


def test_the_servers_time_is_learnt_and_sent_along(page, wire, five_lines):
    check(page, five_lines[0])
    anchors = phones.run(page, "(await load('clock')).anchorsFor([{ seq: 1 }])")
    assert [len(one) for one in anchors] == [5]
    wall, mono, boot, server, before = anchors[0]
    assert abs(wall - server) < 60_000
    assert (type(mono), len(boot), before) == (int, 4, 0)


def test_moments_that_agree_are_thinned_out(page, wire, five_lines):
    steady = """load('clock').then(async ({ anchor }) => {
      for (let n = 0; n < 30; n += 1) await anchor(Date.now());
    })"""
    phones.run(page, steady)
    kept = "(await load('store')).get('anchors')"
    assert len(phones.run(page, kept)) <= 3
    # An hour off: these say something new, and no more than twenty of them are kept.
    phones.run(page, steady.replace("Date.now()", "Date.now() + 3600000 * (n + 1)"))
    assert len(phones.run(page, kept)) == 20

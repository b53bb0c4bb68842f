"""What waits and what was sent: honest words, and a way out of everything the server refuses."""

import json

import pytest
from django.urls import reverse

from apps.leaks.models import LeakCheck
from tests.factories import leaks
from tests.factories import operation as people
from tests.functional import phone_views as views
from tests.functional.conftest import sign_in_here

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

STATUS = "#waiting"


@pytest.fixture(autouse=True)
def lines(fixed_clock):
    people.crew("sol")
    return [leaks.a_line(f"L{number}", planned_taps=500 - number) for number in range(1, 4)]


def log(page, state="tight", nth=0):
    """Log the nth of the three lines offered."""
    page.locator(".next-lines label").nth(nth).tap()
    page.locator(f".state-{state}").tap()
    views.save(page)


def to_outbox(page):
    page.locator(".status").tap()
    page.locator("h1", has_text="Sent and waiting").wait_for()


def head(page) -> str:
    return page.locator(STATUS).inner_text()


def sign_out_behind_its_back(page):
    page.context.clear_cookies(name="sessionid")


def test_the_head_counts_what_waits_and_says_when_all_is_sent(field_page):
    page = field_page("check/")
    assert head(page) == "All sent"
    views.cut_off(page)
    log(page)
    log(page)
    assert views.soon(lambda: head(page), "2 waiting, oldest just now") == (
        "2 waiting, oldest just now"
    )
    views.connect(page)
    to_outbox(page)
    views.touch(page, "Send now")
    assert views.soon(lambda: head(page), "All sent") == "All sent"
    assert LeakCheck.objects.count() == 2


def test_the_age_of_the_oldest_is_told(field_page):
    page = field_page("check/")
    views.cut_off(page)
    log(page)
    page.clock.install()
    page.clock.fast_forward(3 * 24 * 3600 * 1000)
    to_outbox(page)
    page.evaluate("dispatchEvent(new Event('online'))")
    assert views.soon(lambda: head(page), "1 waiting, oldest 3 days") == "1 waiting, oldest 3 days"


def test_each_record_says_who_when_and_where_it_is(field_page):
    page = field_page("check/")
    views.cut_off(page)
    log(page, "leak_left")
    to_outbox(page)
    row = page.locator("li.entry.waiting")
    assert "L1, Tamarack Hollow: leak left" in row.inner_text()
    assert "Sol, " in row.inner_text()
    assert "waiting" in row.inner_text()
    views.connect(page)
    views.touch(page, "Send now")
    page.locator("li.entry.sent", has_text="sent").wait_for()
    assert page.locator("li.entry.waiting").count() == 0


def test_no_answer_is_said_and_nothing_is_called_sent(field_page):
    page = field_page("check/")
    views.cut_off(page)
    log(page)
    to_outbox(page)
    views.touch(page, "Send now")
    page.get_by_text("No answer from the server. Everything stays here").wait_for()
    assert page.locator("li.entry.sent").count() == 0


def test_signed_out_it_keeps_everything_and_leads_to_the_sign_in(field_page, live_server):
    page = field_page("check/")
    sign_out_behind_its_back(page)
    log(page)
    assert "sign in to send" in views.soon(
        lambda: head(page), "1 waiting, oldest just now; sign in to send"
    )
    to_outbox(page)
    link = page.get_by_role("link", name="Sign in to send", exact=True)
    assert link.get_attribute("href") == f"{reverse('operation:sign_in')}?next=/field/outbox/"
    assert not LeakCheck.objects.exists()
    sign_in_here(page, live_server.url, "sol")
    assert views.wait_for(LeakCheck).crew.username == "sol"


def refused(page, lines):
    """A check of a line that is gone by the time it arrives; the outbox shows the refusal."""
    lines[0].delete()
    log(page, "leak_left")
    page.get_by_role("link", name="Put it right").tap()
    card = page.locator(".card.refused")
    card.wait_for()
    return card


def test_a_refused_record_stays_with_its_reason(field_page, lines):
    page = field_page("check/")
    card = refused(page, lines)
    assert "L1, Tamarack Hollow: leak left" in card.inner_text()
    assert "The server did not take it:" in card.inner_text()
    assert "1 refused" in head(page)


def test_a_refused_record_is_put_right_with_another_line(field_page, lines):
    page = field_page("check/")
    card = refused(page, lines)
    card.locator(".next-lines label", has_text="L2").tap()
    views.touch(page, "Put it right and send again")
    check = views.wait_for(LeakCheck)
    assert (check.line, check.state) == (lines[1], "leak_left")
    assert views.soon(lambda: head(page), "All sent") == "All sent"
    assert page.locator(".card.refused").count() == 0


def test_putting_right_needs_an_answer(field_page, lines):
    page = field_page("check/")
    refused(page, lines)
    views.touch(page, "Put it right and send again")
    page.get_by_text("Give the right answer first.").wait_for()
    assert "1 refused" in head(page)


def test_a_refused_record_can_be_let_go(field_page, lines):
    page = field_page("check/")
    card = refused(page, lines)
    card.get_by_role("button", name="Take back").tap()
    card.wait_for(state="detached")
    assert views.soon(lambda: head(page), "All sent") == "All sent"
    assert not LeakCheck.objects.exists()


def test_a_sent_record_is_taken_back_from_the_list(field_page):
    page = field_page("check/")
    log(page)
    views.wait_for(LeakCheck)
    to_outbox(page)
    page.get_by_role("button", name="Take back: L1").tap()
    assert views.soon(lambda: LeakCheck.objects.get().voided)
    page.locator("li.entry", has_text="taken back").wait_for()
    assert page.get_by_role("button", name="Take back: L1").count() == 0


def two_persons(field_page, live_server, second):
    """Sol's check waits on the phone; then another signs in on it."""
    page = field_page("check/")
    views.cut_off(page)
    log(page)
    page.context.clear_cookies()
    sign_in_here(page, live_server.url, second)
    views.connect(page)
    to_outbox(page)
    return page


def test_anothers_records_are_shown_as_theirs_and_wait(field_page, live_server):
    people.crew("marek")
    page = two_persons(field_page, live_server, "marek")
    page.get_by_text("1 record of Sol waits on this phone.").wait_for()
    page.get_by_text("Signed in on this phone: Marek.").wait_for()
    views.touch(page, "Send now")
    page.wait_for_timeout(500)
    assert not LeakCheck.objects.exists()


def test_an_owner_sends_anothers_records_and_they_stay_theirs(field_page, live_server):
    people.owner("ina")
    page = two_persons(field_page, live_server, "ina")
    views.touch(page, "Send Sol's records for Sol")
    assert views.wait_for(LeakCheck).crew.username == "sol"
    assert views.soon(lambda: head(page), "All sent") == "All sent"


def test_crew_who_may_not_send_for_another_are_told_and_nothing_is_lost(field_page, live_server):
    people.crew("marek")
    page = two_persons(field_page, live_server, "marek")
    views.touch(page, "Send Sol's records for Sol")
    page.get_by_text("1 record of Sol waits on this phone.").wait_for()
    assert "1 waiting" in head(page)
    assert not LeakCheck.objects.exists()


def test_switching_persons_signs_out_and_leaves_the_outbox(field_page):
    page = field_page("check/")
    views.cut_off(page)
    log(page)
    to_outbox(page)
    views.touch(page, "Sign out, so that another can sign in")
    page.wait_for_url("**/sign-in/**")
    page.goto(page.url.split("/sign-in/")[0] + "/field/outbox/")
    page.locator("li.entry.waiting", has_text="L1").wait_for()


def test_what_waits_can_be_saved_to_a_file(field_page):
    page = field_page("check/")
    views.cut_off(page)
    log(page, "leak_left")
    to_outbox(page)
    with page.expect_download() as coming:
        views.touch(page, "Save what waits to a file")
    kept = json.loads(coming.value.path().read_text())
    assert [(it["kind"], it["state"], it["person_name"]) for it in kept["records"]] == [
        ("check", "leak_left", "Sol")
    ]


def test_a_revoked_phone_is_told_what_to_do(field_page):
    page = field_page("check/")
    page.route(
        views.NO_ANSWER,
        lambda route: route.fulfill(status=403, json={"reason": "revoked"}),
    )
    log(page)
    to_outbox(page)
    page.get_by_text("This phone was taken off the crew's list.").wait_for()
    page.locator("li.entry.waiting", has_text="L1").wait_for()


def test_a_store_that_was_cleared_is_owned_up_to(field_page):
    page = field_page("check/")
    views.cut_off(page)
    log(page)
    views.soon(lambda: "kept=1" in page.evaluate("document.cookie"))
    page.evaluate("""async () => {
      for (const { name } of await indexedDB.databases()) indexedDB.deleteDatabase(name);
    }""")
    page = field_page("outbox/")
    page.get_by_text("1 record that had not been sent is lost.").wait_for()
    views.touch(page, "I have read this")
    page.get_by_text("is lost").wait_for(state="detached")


@pytest.mark.parametrize(
    ("answer", "says"),
    [
        ("true", "The browser has promised to keep this phone's records."),
        ("false", "The browser has not promised to keep this phone's records"),
    ],
)
def test_whether_the_store_is_kept_is_said(field_page, answer, says):
    page = field_page("outbox/")
    page.add_init_script(
        f"navigator.storage.persisted = navigator.storage.persist = async () => {answer};"
    )
    page.reload()
    page.get_by_text(says).wait_for()


def test_the_iphones_two_stores_and_the_home_screen_are_explained(field_page):
    page = field_page("outbox/")
    views.unfold(page, "iPhone: two stores")
    page.get_by_text("Both are safe, and each sends only its own").wait_for()
    views.unfold(page, "Put the app on the home screen")
    page.get_by_text("sign in once inside it where there is signal").wait_for()


def test_a_wrong_clock_is_pointed_out_with_how_far_it_is_off(field_page):
    # The test's server lives in March 2026; whatever day this runs, the browser's clock does not.
    page = field_page("outbox/")
    page.get_by_text("this phone's clock was").wait_for()
    page.get_by_text("the server puts them right and keeps both").wait_for()

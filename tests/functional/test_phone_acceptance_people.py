"""Sessions that end, people who leave and versions that come while records wait: by touches."""

import pytest

from apps.field.models import Receipt
from apps.leaks.models import LeakCheck
from apps.operation.actions import change_crew
from apps.operation.models import CrewMember
from apps.woods.models import Note
from tests.factories import leaks
from tests.factories import operation as people
from tests.functional import phone as phones
from tests.functional import phone_views as views
from tests.functional import test_phone_core_update as updates
from tests.functional.conftest import sign_in_here

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def lines():
    people.owner("ina")
    people.crew("sol")
    return [leaks.a_line(f"L{number}", planned_taps=500 - number) for number in range(1, 5)]


@pytest.fixture
def waiting(field_page, lines, fixed_clock):
    """Three checks by Sol, saved with no signal."""
    page = field_page("check/")
    views.cut_off(page)
    for _ in range(3):
        page.locator(".next-lines label").first.tap()
        page.locator(".state-leak_left").tap()
        views.save(page)
    views.connect(page)
    return page


def to_outbox(page):
    page.locator(".status").tap()
    page.locator("h1", has_text="Sent and waiting").wait_for()


def told_to_sign_in(page):
    to_outbox(page)
    views.touch(page, "Send now")
    page.get_by_text("The server does not know who you are any more.").wait_for()
    assert "3 waiting" in page.locator("#waiting").inner_text()
    assert not LeakCheck.objects.exists()


def type_sign_in(page, username):
    page.get_by_label("Username").fill(username)
    page.get_by_label("Password").fill(people.PASSWORD)
    page.get_by_role("button", name="Sign in").tap()


def assert_sols_three_arrived(page, sent_by):
    page.locator("#waiting", has_text="All sent").wait_for()
    receipts = Receipt.objects.values_list("crew__username", "sent_by__username")
    assert list(receipts) == [("sol", sent_by)] * 3
    assert LeakCheck.objects.filter(crew__username="sol").count() == 3


def test_an_expired_session_keeps_the_records_and_signing_in_sends_them(waiting):
    waiting.context.clear_cookies(name="sessionid")
    told_to_sign_in(waiting)
    waiting.get_by_role("link", name="Sign in to send", exact=True).tap()
    type_sign_in(waiting, "sol")
    assert_sols_three_arrived(waiting, "sol")


def test_records_of_a_crew_member_removed_meanwhile_go_up_with_a_colleague(waiting, live_server):
    people.crew("marek")
    change_crew(member=CrewMember.objects.get(username="sol"), role="crew", is_active=False)
    told_to_sign_in(waiting)
    waiting.get_by_text("another of the crew can sign in on this phone and hand over").wait_for()
    sign_in_here(waiting, live_server.url, "marek")
    to_outbox(waiting)
    views.touch(waiting, "Send Sol's records for Sol")
    assert_sols_three_arrived(waiting, "marek")


def test_a_refused_record_lets_the_others_go_and_is_mended_by_touches(waiting, lines):
    lines[0].delete()
    to_outbox(waiting)
    views.touch(waiting, "Send now")
    card = waiting.locator(".card.refused")
    card.wait_for()
    assert LeakCheck.objects.count() == 2
    card.locator(".next-lines label", has_text="L4").tap()
    views.touch(waiting, "Put it right and send again")
    assert_sols_three_arrived(waiting, "sol")


def test_a_note_too_long_for_the_server_is_there_to_be_shortened(field_page, lines, fixed_clock):
    page = field_page("check/")
    page.locator(".next-lines label").first.tap()
    page.locator(".state-tight").tap()
    views.unfold(page, "Place, photo, note")
    # Past the form's own limit, as an older version of it might have let through.
    written = "tee split by the frost, " * 30
    page.locator("textarea").evaluate("(it, text) => { it.value = text; }", written)
    views.save(page)
    page.get_by_role("link", name="Put it right").tap()
    box = page.locator(".card.refused textarea")
    assert box.input_value() == written.strip()
    box.fill("tee split by the frost")
    views.touch(page, "Put it right and send again")
    assert views.wait_for(LeakCheck).note == "tee split by the frost"


def test_half_an_emoji_at_the_end_of_a_note_costs_no_record(field_page, lines, fixed_clock):
    page = field_page("note/")
    page.locator("textarea").first.evaluate("(it) => { it.value = 'ice on the main \\ud83e'; }")
    views.save(page)
    assert views.wait_for(Note).text.strip() == "ice on the main"


def test_a_tag_that_spells_nothing_lets_the_line_be_chosen(field_page, lines):
    # The worker answers such an address; without one the script is told of it as by a link.
    page = field_page("check/")
    page.evaluate(
        """() => {
          history.pushState(null, "", "/field/line/tamarack-hollow/%FF/");
          dispatchEvent(new PopStateEvent("popstate"));
        }"""
    )
    page.get_by_text("The tag says line %FF").wait_for()
    assert page.locator(".pad").is_visible()


def test_the_new_version_is_taken_on_a_touch_with_twenty_records_waiting(
    sols_page, woods_phone, wire, five_lines
):
    wire.stop()
    uuids = updates.log(sols_page, five_lines, 20)
    wire.start()
    # Signal enough for the version, not for the records.
    wire.hang("POST", "/field/records/")
    updates.new_version(wire)
    phones.run(sols_page, updates.LOOK)
    offer = sols_page.get_by_role("button", name="Use the new version")
    offer.wait_for()
    with sols_page.expect_navigation():
        offer.tap()
    sols_page.locator("#waiting", has_text="20 waiting").wait_for()
    assert sols_page.evaluate(updates.SHOWN) == updates.NEXT_COLOUR
    wire.heal()
    woods_phone.visit(sols_page)
    sols_page.locator("#waiting", has_text="All sent").wait_for()
    assert sorted(str(it.uuid) for it in LeakCheck.objects.all()) == sorted(uuids)

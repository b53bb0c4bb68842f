"""A wrong and an unfinished entry on a phone, mended by what the pages themselves say."""

import pytest
from django.urls import reverse

from apps.sugarhouse.models import SapIn
from tests.factories import operation as people
from tests.factories import woods

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def page(phone, live_server, sign_in, fixed_clock, db):
    people.operation()
    people.crew()
    woods.line(woods.woodlot("Tamarack Hollow"), "1", planned_taps=400)
    sign_in(phone, "sol")
    return phone


def go(page, live_server, name):
    page.goto(live_server.url + reverse(name))
    page.wait_for_load_state()


def press(page, label):
    page.get_by_role("button", name=label, exact=True).click()
    page.wait_for_load_state()


def log_load(page, live_server, gallons):
    go(page, live_server, "sugarhouse:sap")
    page.get_by_label("Woodlot", exact=False).select_option(label="Tamarack Hollow")
    page.get_by_label("Sap hauled").fill(gallons)
    press(page, "Save sap")


def words(page):
    return " ".join(page.locator("main").inner_text().split())


def open_newest(page):
    page.locator("tbody a").first.click()
    page.wait_for_load_state()


def sticks_out(page):
    return page.evaluate("document.documentElement.scrollWidth > window.innerWidth")


def test_load_without_a_reading_is_logged_and_its_sugar_filled_in_later(page, live_server):
    log_load(page, live_server, "300")
    assert "of unknown sugar" in words(page)
    go(page, live_server, "season:review")
    assert "Sugar unknown for 300 of 300 gal of sap" in words(page)
    go(page, live_server, "sugarhouse:sap")
    open_newest(page)
    page.get_by_label("Sugar of this sap").fill("2.4")
    press(page, "Save its sugar")
    assert "300 gal at 2.4 Brix" in words(page)
    go(page, live_server, "season:review")
    assert "Sugar unknown" not in words(page)


def test_wrong_sale_is_struck_out_and_then_the_load_itself(page, live_server):
    log_load(page, live_server, "300")
    open_newest(page)
    page.get_by_label("Sap (gal)", exact=False).fill("100")
    page.get_by_label("Buyer, or why it was dumped").fill("Ledge Road")
    press(page, "Record it")
    assert "Sold as sap, 100 gal: Ledge Road" in words(page)
    press(page, "Strike this out")
    press(page, "Remove this sap")
    assert not SapIn.objects.exists()


def test_no_page_on_the_way_sticks_out_of_a_phone(page, live_server):
    log_load(page, live_server, "300")
    assert not sticks_out(page)
    open_newest(page)
    assert not sticks_out(page)
    go(page, live_server, "season:review")
    assert not sticks_out(page)

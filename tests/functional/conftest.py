"""Chromium for the browser tests: pages of a given size whose console must stay clean."""

import os
from collections.abc import Callable

import pytest
from django.urls import reverse
from playwright.sync_api import Page, sync_playwright

from tests import chromium
from tests.factories import leaks
from tests.factories import operation as people
from tests.functional import phone as phones

# Playwright's loop lives in the test's own thread, where the tests also ask the database.
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"

ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
PHONE = (390, 844)
DESK = (1366, 900)


@pytest.fixture(scope="session")
def browser():
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium.require(), args=ARGUMENTS)
        yield browser
        browser.close()


@pytest.fixture
def page_at(browser):
    """Open pages of a size; the test fails if any of them complained on its console."""
    complaints: list[str] = []
    contexts = []

    def open_page(width: int, height: int, **options) -> Page:
        context = browser.new_context(
            viewport={"width": width, "height": height}, service_workers="block", **options
        )
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: complaints.append(f"{page.url}: {error}"))
        page.on(
            "console",
            lambda said: (
                complaints.append(f"{page.url}: {said.text}") if said.type == "error" else None
            ),
        )
        return page

    yield open_page
    for context in contexts:
        context.close()
    assert complaints == []


@pytest.fixture
def phone(page_at) -> Page:
    return page_at(*PHONE, has_touch=True, is_mobile=True)


@pytest.fixture
def desk(page_at) -> Page:
    return page_at(*DESK)


@pytest.fixture
def sign_in(live_server) -> Callable[[Page, str], None]:
    """Sign a person of tests.factories.operation in by typing, as anyone would."""

    def type_it(page: Page, username: str) -> None:
        page.goto(live_server.url + reverse("operation:sign_in"))
        page.get_by_label("Username").fill(username)
        page.get_by_label("Password").fill(people.PASSWORD)
        page.get_by_role("button", name="Sign in").click()
        page.wait_for_url(lambda url: "sign-in" not in url)

    return type_it


@pytest.fixture
def wire(live_server):
    """The link to the live server, for tests that let it fail."""
    with phones.wired(live_server.thread.port) as link:
        yield link


@pytest.fixture
def make_phone(browser, tmp_path):
    """Phones with profiles of their own; the test fails if a page of theirs threw an error."""
    made: list[phones.Phone] = []

    def make(origin: str, *arguments: str, **options) -> phones.Phone:
        profile = tmp_path / f"phone-{len(made)}"
        words = [*ARGUMENTS, *arguments]
        made.append(phones.Phone(browser.browser_type, profile, origin, words, options))
        return made[-1]

    yield make
    for phone in made:
        phone.off()
    assert [fault for phone in made for fault in phone.faults] == []


@pytest.fixture
def woods_phone(make_phone, wire):
    """A phone on the wire; the wire is healed first when the test ends, so that nothing hangs."""
    yield make_phone(wire.url)
    wire.heal()


@pytest.fixture
def five_lines():
    """Five lines of one woodlot, by their numbers in the database."""
    return [leaks.a_line(f"L{number}", planned_taps=100 * number).pk for number in range(1, 6)]


@pytest.fixture
def sols_page(woods_phone, five_lines):
    """Sol signed in on a phone that is ready for the woods; nothing waits."""
    sol = people.crew("sol")
    page = woods_phone.boot()
    woods_phone.admit(sol)
    phones.until_ready(woods_phone.visit(page))
    return page


@pytest.fixture
def field_context(browser):
    """A phone's context for the phone's pages; a test may add to its options before it opens one.

    A request that fails is what these pages are made for, so only what a script threw is a fault.
    """
    faults: list[str] = []
    contexts = []

    def make(**options) -> Page:
        width, height = PHONE
        given = {"viewport": {"width": width, "height": height}, "has_touch": True}
        given |= {"is_mobile": True, "service_workers": "block", "color_scheme": "light"}
        contexts.append(browser.new_context(**given | options))
        page = contexts[-1].new_page()
        page.set_default_timeout(15_000)
        page.on("pageerror", lambda error: faults.append(f"{page.url}: {error}"))
        return page

    yield make
    for context in contexts:
        context.close()
    assert faults == []


@pytest.fixture
def field_page(field_context, live_server) -> Callable[..., Page]:
    """Open one of the phone's pages: `field_page("check/")`. Sol is signed in before the first."""
    opened: list[Page] = []

    def open_page(path: str = "", username: str = "sol", **options) -> Page:
        if not opened:
            opened.append(field_context(**options))
            sign_in_here(opened[0], live_server.url, username)
        opened[0].goto(f"{live_server.url}/field/{path}")
        opened[0].wait_for_selector("h1")
        return opened[0]

    return open_page


def sign_in_here(page: Page, url: str, username: str) -> None:
    """Sign in on the phone and wait until the list is stored."""
    page.goto(f"{url}{reverse('operation:sign_in')}?next=/field/")
    page.get_by_label("Username").fill(username)
    page.get_by_label("Password").fill(people.PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_selector("a.line")

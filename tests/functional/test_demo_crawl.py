"""From nothing to the demo: every page in the menu answers, at phone and desk size, for both roles.

The console must stay clean (the page_at fixture sees to that) and nothing may stick out sideways.
"""

import pytest

from apps.demo.generator.farm import PASSWORD
from tests.functional import demo_server
from tests.functional.conftest import DESK, PHONE

pytestmark = pytest.mark.browser
OWNERS_ONLY = {"/records/lines/import/", "/crew/", "/checks/phones/"}
# One shell for every person and day, with nothing on it that the server says anew.
SHELL = "/field/"
SIZES = {"phone": PHONE, "desk": DESK}


@pytest.fixture(scope="module")
def demo_url(tmp_path_factory):
    with demo_server.running(tmp_path_factory.mktemp("demo")) as url:
        yield url


def _sign_in(page, url, username):
    page.goto(f"{url}/sign-in/")
    page.get_by_label("Username").fill(username)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(f"{url}/")


def _menu(page):
    return page.locator("#menu a").evaluate_all("links => links.map(a => a.getAttribute('href'))")


def _visit(page, url, path):
    reply = page.goto(url + path, wait_until="load")
    assert reply.status == 200, path
    width = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
    assert width <= 0, f"{path} sticks out by {width} px"
    # The phone's shell writes its own, a moment after it is there.
    page.locator("h1").first.wait_for()
    assert page.locator("h1").count() == 1, path


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("username", ["ina", "sol"])
def test_every_page_in_the_menu_answers(demo_url, page_at, username, size):
    page = page_at(*SIZES[size])
    _sign_in(page, demo_url, username)
    paths = _menu(page)
    assert len(paths) >= 15
    assert (set(paths) >= OWNERS_ONLY) == (username == "ina")
    for path in paths:
        _visit(page, demo_url, path)


def test_every_link_on_those_pages_answers(demo_url, page_at):
    page = page_at(*DESK)
    _sign_in(page, demo_url, "ina")
    links = set()
    for path in _menu(page):
        page.goto(demo_url + path)
        links |= set(
            page.locator("main a[href^='/'], main a[href^='?']").evaluate_all(
                "links => links.map(a => new URL(a.href).pathname + new URL(a.href).search)"
            )
        )
    assert len(links) > 20
    broken = {
        link: status
        for link in sorted(links)[:150]
        if (status := page.request.get(demo_url + link).status) != 200
    }
    assert broken == {}


@pytest.mark.parametrize(("stop", "day"), [("january", "28 January 2026"), ("may", "20 May 2026")])
def test_every_page_has_something_to_show_on_another_day(demo_url, page_at, stop, day):
    page = page_at(*PHONE)
    _sign_in(page, demo_url, "ina")
    page.goto(f"{demo_url}/demo/clock/")
    page.locator(f"input[value={stop}]").check()
    page.get_by_role("button", name="Go to that day").click()
    page.wait_for_url(f"{demo_url}/", timeout=60_000)
    for path in _menu(page):
        _visit(page, demo_url, path)
        if path != SHELL:
            assert day in page.locator(".demo-bar").inner_text()

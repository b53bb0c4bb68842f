"""Hands for the phone's pages: touches counted, keys pressed, what arrived looked up."""

import time

from django.db.models import Model
from playwright.sync_api import Page

COUNT = """() => {
  window.touched = 0;
  addEventListener("pointerdown", () => { window.touched += 1; }, true);
}"""
NO_ANSWER = "**/field/records/"


def count_touches(page: Page) -> None:
    page.evaluate(COUNT)


def touches(page: Page) -> int:
    return page.evaluate("window.touched")


def touch(page: Page, name: str) -> None:
    """Touch the first button of that name."""
    page.get_by_role("button", name=name).first.tap()


def unfold(page: Page, title: str) -> None:
    page.locator("summary", has_text=title).tap()


def pick(page: Page, label: str) -> None:
    """Choose a line by our own number pad."""
    for digit in label.lstrip("L"):
        page.get_by_role("button", name=digit, exact=True).tap()


def choose(page: Page, words: str) -> None:
    """Touch the choice that says these words."""
    page.locator("label.choice", has_text=words).first.tap()


def save(page: Page) -> None:
    """Touch Save and wait until the page says it is saved."""
    page.locator(".savebar button[type=submit]").tap()
    page.wait_for_selector(".saved h2")


def try_to_save(page: Page) -> str:
    """Touch Save and give back what the page says against it."""
    page.locator(".savebar button[type=submit]").tap()
    return page.locator(".savebar [role=alert] > *").inner_text()


def cut_off(page: Page) -> None:
    """The server takes no records from here on, until `connect`."""
    page.route(NO_ANSWER, lambda route: route.abort())


def connect(page: Page) -> None:
    page.unroute(NO_ANSWER)


def soon(see, wanted=True):
    """Look again until it is as wanted; the last look is the answer either way."""
    deadline = time.monotonic() + 15
    while (seen := see()) != wanted and time.monotonic() < deadline:
        time.sleep(0.05)
    return seen


def wait_for(model: type[Model], count: int = 1) -> Model:
    """The newest row, once the phone has sent as many as are awaited; more is a doubled one."""
    assert soon(model.objects.count, count) == count
    return model.objects.order_by("pk").last()

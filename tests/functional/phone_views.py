"""Hands for the phone's pages: touches counted, keys pressed, what arrived looked up."""

import time

from django.db.models import Model
from playwright.sync_api import Page

COUNT = """() => {
  window.touched = 0;
  addEventListener("pointerdown", () => { window.touched += 1; }, true);
}"""


def count_touches(page: Page) -> None:
    page.evaluate(COUNT)


def touches(page: Page) -> int:
    return page.evaluate("window.touched")


def save(page: Page) -> None:
    """Touch Save and wait until the page says it is saved."""
    page.locator(".savebar button[type=submit]").tap()
    page.wait_for_selector(".saved h2")


def wait_for(model: type[Model], count: int = 1) -> Model:
    """The newest row, once the phone has sent as many as are awaited; more is a doubled one."""
    deadline = time.monotonic() + 15
    while (there := model.objects.count()) < count and time.monotonic() < deadline:
        time.sleep(0.05)
    assert there == count
    return model.objects.order_by("pk").last()

"""The README's pictures, taken from the demo operation: `python -m tests.screenshots`."""

import sys
import tempfile
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from tests import chromium
from tests.functional import demo_server

ROOT = Path(__file__).resolve().parents[1]
FOLDER = ROOT / "fixtures" / "screenshots"
PASSWORD = "sugar-moon-demo"
# (file, day of the demo, page, width, height)
PICTURES = (
    ("start-date", "january", "/outlook/start-date/", 1100, 900),
    ("leak-check", "march", "/field/check/", 390, 844),
    ("season-review", "may", "/season/", 1100, 900),
)


def _sign_in(page: Page, url: str) -> None:
    page.goto(f"{url}/sign-in/")
    page.get_by_label("Username").fill("ina")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(f"{url}/")


def _go_to_day(page: Page, url: str, stop: str) -> None:
    page.goto(f"{url}/demo/clock/")
    page.locator(f"input[value={stop}]").check()
    page.get_by_role("button", name="Go to that day").click(timeout=240_000)
    page.wait_for_url(f"{url}/", timeout=240_000)


def take(url: str) -> None:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=chromium.require(), args=["--no-sandbox"]
        )
        page = browser.new_page()
        _sign_in(page, url)
        for name, stop, path, width, height in PICTURES:
            _go_to_day(page, url, stop)
            page.set_viewport_size({"width": width, "height": height})
            page.goto(url + path, wait_until="networkidle")
            # The page is the picture, not its menu.
            page.locator("#menu").evaluate_all("menus => menus.forEach((it) => (it.open = false))")
            page.screenshot(path=FOLDER / f"{name}.png")
        browser.close()


def main() -> int:
    FOLDER.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder, demo_server.running(Path(folder)) as url:
        take(url)
    sys.stdout.write(f"{len(PICTURES)} pictures in {FOLDER.relative_to(ROOT)}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())

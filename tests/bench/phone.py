"""The phone: bytes over a counted wire and times in Chromium, as an operation serves it.

Bytes are exact and also asserted in tests/functional/test_phone_core_bytes.py; times depend on
the machine and are only printed: the least disturbed of a few rounds, as everywhere here, with
the median beside it.
"""

import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from statistics import median

from playwright.sync_api import Page, sync_playwright

from tests.functional import phone as phones
from tests.functional.conftest import ARGUMENTS
from tests.functional.wire import Exchange, Wire

LINES, MORE_LINES = 200, 200
ROUNDS = 7
KB = 1024
SLOWED = 4
MAKE = """
from tests.factories import operation, woods
operation.operation()
operation.crew("sol")
for number in range(4):
    woods.woodlot(name=f"Woodlot {number}")
"""
# Walked before, each with a place of its own: what a line costs that says all it can.
GROW = """
from random import Random
from apps.woods.models import Woodlot
from tests.factories import leaks, woods
lots, chance = list(Woodlot.objects.order_by("pk")), Random(%(seed)d)
for number in range(%(lines)d):
    label = f"{'LM'[%(seed)d]}{number}"
    line = woods.line(lots[number %% 4], label, planned_taps=chance.randrange(20, 300))
    at = {"latitude": 43.9 + chance.random() / 50, "longitude": -75.3 - chance.random() / 50}
    state = chance.choice(["tight", "leak_fixed", "leak_left", "frozen"])
    hours = chance.randrange(1, 900)
    leaks.bare_check(line, state, observed_at=leaks.hours_ago(hours), position_accuracy_m=9, **at)
"""
SESSION = """
from django.test import Client
from apps.operation.models import CrewMember
client = Client()
client.force_login(CrewMember.objects.get(username="sol"))
print(client.cookies["sessionid"].value)
"""
IDS = "(await load('data')).cached().then((it) => it.data.lines.map(([id]) => id))"
GONE_UP = "(await load('outbox')).counts().then((it) => it.waiting === 0)"
# From the touch on Save until the card that says so has been painted.
TIMED_SAVE = """() => new Promise((resolve) => {
  const button = document.querySelector(".savebar button[type=submit]");
  let begun;
  const seen = new MutationObserver(() => {
    if (!document.querySelector(".saved h2")) return;
    seen.disconnect();
    requestAnimationFrame(() => resolve(performance.now() - begun));
  });
  document.querySelector(".saved")?.remove();
  seen.observe(document.getElementById("main"), { childList: true, subtree: true });
  begun = performance.now();
  button.click();
})"""


def lines() -> Iterator[str]:
    yield f"{'the phone, 200 lines':<58} {'found':>9} {'wanted':>9}"
    with _served() as (server, wire, phone):
        page = phone.boot()
        session = server.manage("shell", "--no-imports", text=SESSION).split()[-1]
        cookie = {"name": "sessionid", "value": session, "url": wire.url}
        phone.context.add_cookies([cookie])
        phones.until_ready(phone.visit(page))
        page.wait_for_timeout(500)
        yield from _bytes(server, wire, page)
        yield from _times(wire, phone, page)


@contextmanager
def _served() -> Iterator[tuple[phones.Server, Wire, phones.Phone]]:
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        server = phones.Server(Path(folder), collected=True)
        try:
            server.prepare(MAKE + GROW % {"seed": 0, "lines": LINES})
            server.start()
            with phones.wired(server.port) as wire:
                profile = Path(folder) / "phone"
                phone = phones.Phone(playwright.chromium, profile, wire.url, ARGUMENTS)
                yield server, wire, phone
                wire.heal()
                phone.off()
        finally:
            server.kill()


def _row(name: str, found: float, wanted: float, unit: str) -> str:
    return f"{name:<58} {found:>9,.0f} {f'<= {wanted:,}':>9} {unit}"


def _down(exchanges: list[Exchange]) -> int:
    return sum(it.down for it in exchanges)


def _bytes(server: phones.Server, wire: Wire, page: Page) -> Iterator[str]:
    first = "first load: page, scripts, worker, lines"
    yield _row(first, _down(wire.exchanges), 60 * KB, "bytes down")
    ids = phones.run(page, IDS)
    small = _data_bytes(wire, page)
    server.manage("shell", "--no-imports", text=GROW % {"seed": 1, "lines": MORE_LINES})
    large = _data_bytes(wire, page)
    yield _row("each line more", (large - small) / MORE_LINES, 40, "bytes down")
    yield _row("one check", _up(wire, page, ids[:1]), int(1.3 * KB), "bytes up")
    yield _row("fifty checks in one go", _up(wire, page, ids[:50]), 9 * KB, "bytes up")


def _data_bytes(wire: Wire, page: Page) -> int:
    before = len(wire.exchanges)
    phones.run(page, "(await load('data')).refresh()")
    return _down(wire.exchanges[before:])


def _up(wire: Wire, page: Page, ids: list[int]) -> int:
    """What these checks cost when they are saved without signal and sent when it is back."""
    wire.stop()
    for line in ids:
        phones.save(page, kind="check", line=line, state="leak_fixed")
    before = len(wire.exchanges)
    wire.start()
    phones.sync(page)
    phones.until(page, GONE_UP)
    return sum(it.up for it in wire.exchanges[before:])


def _times(wire: Wire, phone: phones.Phone, page: Page) -> Iterator[str]:
    wire.hang("GET", "/field/data.json")
    wire.hang("POST", "/field/records/")
    yield _timed("open while the link hangs", lambda: _open(phone, page), 1_000)
    wire.heal()
    wire.stop()
    yield _timed("open with no server", lambda: _open(phone, page), 400)
    slow = phone.context.new_cdp_session(page)
    yield from _saves(phone, page, "touch on Save until it says saved")
    slow.send("Emulation.setCPUThrottlingRate", {"rate": SLOWED})
    slowed = f"processor slowed {SLOWED} times"
    yield _timed(f"open with no server, {slowed}", lambda: _open(phone, page), 400)
    yield from _saves(phone, page, f"touch on Save, {slowed}")


def _timed(name: str, once: Callable[[], float], wanted: float) -> str:
    times = [once() for _ in range(ROUNDS)]
    return f"{_row(name, min(times), wanted, 'ms')}, median {median(times):,.0f}"


def _open(phone: phones.Phone, page: Page) -> float:
    """Milliseconds until the first line of the walk can be touched."""
    page.goto("about:blank")
    begun = time.perf_counter()
    page.goto(f"{phone.origin}/field/", wait_until="commit")
    page.wait_for_selector("a.line")
    return (time.perf_counter() - begun) * 1000


def _saves(phone: phones.Phone, page: Page, name: str) -> Iterator[str]:
    page.goto(f"{phone.origin}/field/check/")

    def once() -> float:
        page.locator(".next-lines label").first.tap()
        page.locator(".state-tight").tap()
        return page.evaluate(TIMED_SAVE)

    yield _timed(name, once, 50)

"""A phone on a hillside and the farm's server in a process of its own, which can be killed.

The server has the books of the test run, so that a test looks its rows up itself; the address
that the phone knows is the wire's and stays when the server behind it is another one.
"""

from base64 import b64encode
from contextlib import suppress
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path

from playwright.sync_api import Page

from apps.leaks.models import LeakCheck, Photo
from tests.factories.pictures import picture
from tests.functional import phone as phones
from tests.functional import phone_views as views
from tests.functional.wire import Wire
from tests.soak.kills import Server

STATES = ("tight", "leak_fixed", "leak_left", "frozen")
SAVE_ALL = """(async () => {
  const { save } = await load("outbox");
  const uuids = [];
  for (const { photo, ...fields } of it) {
    const bytes = Uint8Array.from(atob(photo), (c) => c.charCodeAt(0)).buffer;
    uuids.push(await save({ kind: "check", ...fields }, { photos: [bytes] }));
  }
  return uuids;
})()"""
BEGIN = "load('sync').then((it) => { window.told = it.sync('touch'); })"


@dataclass
class Farm:
    """The server of today behind the phone's wire, and at times a spare beside it."""

    data_dir: Path
    wire: Wire
    server: Server | None = None
    spare: Server | None = None

    def start(self) -> None:
        self.server = self.spare or Server(self.data_dir)
        self.spare = None
        self.server.wait()
        self.wire.server_port = self.server.port

    def make_spare(self) -> None:
        """Started while the one before it is still at work: then killing it costs no time."""
        self.spare = Server(self.data_dir)

    def kill(self) -> None:
        self.server.kill()
        self.server.gone()
        self.server = None

    def close(self) -> None:
        for one in (self.server, self.spare):
            if one:
                with suppress(ProcessLookupError):
                    one.kill()
                one.gone()


@dataclass
class Logged:
    """What the crew believes is kept: each check's uuid with the hash of its photo."""

    page: Page
    lines: list[int]
    states: dict[str, str] = field(default_factory=dict)
    hashes: dict[str, str] = field(default_factory=dict)

    def keep(self, times: int, size: tuple[int, int] = (48, 36)) -> None:
        """Through the page's own outbox, as the form keeps them; a photo with each."""
        first = len(self.states)
        sent = [
            {
                "line": self.lines[n % len(self.lines)],
                "state": STATES[n % 4],
                "photo": b64encode(picture(size=size, seed=n)).decode(),
            }
            for n in range(first, first + times)
        ]
        uuids = phones.run(self.page, SAVE_ALL, sent)
        self.states |= dict(zip(uuids, (it["state"] for it in sent), strict=True))
        self.note_hashes()

    def touch(self, times: int) -> None:
        """By touches on the form, which has been opened."""
        for n in range(times):
            put_away(self.page)
            self.page.locator(".next-lines label").first.tap()
            self.page.locator(f".state-{STATES[n % 4]}").tap()
            views.unfold(self.page, "Place, photo, note")
            shot = picture("PNG", size=(400, 300), seed=1000 + n)
            file = {"name": "valve.png", "mimeType": "image/png", "buffer": shot}
            self.page.locator("input[type=file]").set_input_files(file)
            self.page.locator("#main").get_by_text("Photo ready").wait_for()
            views.save(self.page)
        for entry in phones.entries(self.page)[-times:]:
            self.states[entry["uuid"]] = entry["record"]["state"]
        self.note_hashes()

    def note_hashes(self) -> None:
        for entry in phones.entries(self.page):
            for photo in entry["photos"]:
                self.hashes[entry["uuid"]] = photo["sha256"]

    def assert_there_once(self, folder: Path) -> None:
        """Every row and every photo in the books, exactly once, and its bytes in the folder.

        A piece that a killed server left half written lies apart, and is cleared away by its age.
        """
        rows = {str(row.uuid): row.state for row in LeakCheck.objects.all()}
        assert LeakCheck.objects.count() == len(self.states)
        assert rows == self.states
        photos = list(Photo.objects.select_related("leak_check"))
        told = sorted((str(it.leak_check.uuid), it.sha256) for it in photos)
        assert told == sorted(self.hashes.items())
        kept = [path for path in folder.rglob("*.*") if path.parent.name != "partial"]
        assert sorted(kept) == sorted(folder / it.file_name for it in photos)
        for it in photos:
            assert sha256((folder / it.file_name).read_bytes()).hexdigest() == it.sha256


def put_away(page: Page) -> None:
    """Without the card of the check before, so that waiting for a card waits for the next."""
    page.evaluate("document.querySelector('.saved')?.remove()")


def all_gone_up(page: Page) -> bool:
    waits = phones.run(page, "(await load('outbox')).counts()")
    return (waits["waiting"], waits["photos"]) == (0, 0)


def send_all(page: Page, rounds: int = 20) -> None:
    """As a person does who touches "Send now" until nothing waits any more."""
    for _ in range(rounds):
        phones.sync(page)
        if all_gone_up(page):
            return
        page.wait_for_timeout(100)
    raise AssertionError(f"still waiting: {phones.statuses(page)}")

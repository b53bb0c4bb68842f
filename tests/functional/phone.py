"""A phone for the browser tests: a profile that survives a reboot, its worker allowed to work.

Other browser tests block service workers; these are about nothing else. The phone talks to the
server over a `Wire`, whose address stays when the server behind it is killed.
"""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path

from django.test import Client
from playwright.sync_api import BrowserContext, BrowserType, Page

from apps.operation.models import CrewMember
from tests import chromium
from tests.factories import operation as people
from tests.functional.demo_server import ROOT, _answers, free_port
from tests.functional.wire import Wire

# A module of the page that is open, under whatever name it was served.
MODULE = """(name) => {
  const links = [...document.querySelectorAll("link[rel=modulepreload]")];
  return import(links.find((it) => new RegExp(`/${name}\\\\.`).test(it.href)).href);
}"""
READY = "(await load('data')).readiness()"


@dataclass
class Phone:
    """One browser profile on one origin; `boot` opens it, and again after `off`."""

    kind: BrowserType
    profile: Path
    origin: str
    arguments: list[str]
    options: dict = field(default_factory=dict)
    context: BrowserContext | None = None
    faults: list[str] = field(default_factory=list)

    def boot(self) -> Page:
        self.context = self.kind.launch_persistent_context(
            self.profile,
            executable_path=chromium.require(),
            args=self.arguments,
            viewport={"width": 390, "height": 844},
            has_touch=True,
            is_mobile=True,
            service_workers="allow",
            **self.options,
        )
        return self.tab()

    def tab(self) -> Page:
        page = self.context.new_page()
        page.on("pageerror", lambda error: self.faults.append(f"{page.url}: {error}"))
        return page

    def off(self) -> None:
        if self.context:
            self.context.close()
            self.context = None

    def reboot(self) -> Page:
        self.off()
        return self.boot()

    def visit(self, page: Page, path: str = "/field/") -> Page:
        page.goto(self.origin + path, wait_until="load")
        return page

    def admit(self, person: CrewMember) -> None:
        """Signed in without the typing, where that is not what a test is about."""
        client = Client()
        client.force_login(person)
        session = client.cookies["sessionid"].value
        self.context.add_cookies([{"name": "sessionid", "value": session, "url": self.origin}])

    def sign_in(self, page: Page, username: str) -> None:
        page.goto(f"{self.origin}/sign-in/?next=/field/worker.js")
        page.get_by_label("Username").fill(username)
        page.get_by_label("Password").fill(people.PASSWORD)
        page.get_by_role("button", name="Sign in").click()
        page.wait_for_url(lambda url: "worker.js" in url)


def run(page: Page, script: str, argument=None):
    """Run a script's expression in the page, with `load(name)` for the phone's own modules."""
    return page.evaluate(
        f"async (it) => {{ const load = {MODULE}; return await ({script}); }}", argument
    )


def until(page: Page, script: str, seconds: float = 20):
    """The value of a script's expression once it is truthy; its last value in the complaint."""
    deadline = time.monotonic() + seconds
    while not (value := run(page, script)):
        if time.monotonic() > deadline:
            raise AssertionError(f"never true: {script}: {value!r}")
        page.wait_for_timeout(50)
    return value


def until_ready(page: Page) -> dict:
    """Wait for "ready for the woods" as the phone's own module tells it."""
    until(page, f"(await {READY}).ready")
    return run(page, READY)


def save(page: Page, **fields) -> str:
    return run(page, "(await load('outbox')).save(it)", fields)


def entries(page: Page) -> list[dict]:
    return run(page, "(await load('outbox')).all()")


def statuses(page: Page) -> list[str]:
    return [it["status"] for it in entries(page)]


def sync(page: Page) -> dict:
    return run(page, "(await load('sync')).sync('touch')")


@dataclass
class Server:
    """A server as an operation runs it, in a process and a data folder of its own."""

    data_dir: Path
    collected: bool = False
    port: int = field(default_factory=free_port)
    process: subprocess.Popen | None = None

    @property
    def environment(self) -> dict[str, str]:
        # The folder's own file, whichever database the rest of the suite runs on.
        plain = {key: value for key, value in os.environ.items() if key != "DATABASE_URL"}
        return plain | {
            "THAWLINE_DATA_DIR": str(self.data_dir),
            "THAWLINE_COLLECTED_STATIC": "1" if self.collected else "",
        }

    def manage(self, *words: str, text: str = "") -> str:
        done = subprocess.run(
            [sys.executable, "manage.py", *words],
            cwd=ROOT,
            env=self.environment,
            input=text,
            text=True,
            capture_output=True,
            check=False,
        )
        if done.returncode:
            raise RuntimeError(done.stderr)
        return done.stdout

    def prepare(self, script: str) -> None:
        """An empty database, then rows by a script of Python."""
        self.manage("migrate", "--verbosity", "0")
        if self.collected:
            # The charts' script takes a minute to compress, and no page of the phone has it.
            words = ("--noinput", "--verbosity", "0", "--ignore", "plotly*")
            self.manage("collectstatic", *words)
        self.manage("shell", "--no-imports", text=script)

    def start(self) -> None:
        words = ["--interface", "wsgi", "--host", "127.0.0.1", "--port", str(self.port)]
        words += ["--no-ws", "--log-level", "warning", "--workers", "1", "--blocking-threads", "4"]
        self.process = subprocess.Popen(
            [sys.executable, "-m", "granian", *words, "apps.config.wsgi:application"],
            cwd=ROOT,
            env=self.environment,
            start_new_session=True,
        )
        deadline = time.monotonic() + 60
        while not _answers(f"http://127.0.0.1:{self.port}/sign-in/"):
            if self.process.poll() is not None or time.monotonic() > deadline:
                raise RuntimeError("The server did not start.")
            time.sleep(0.1)

    def kill(self) -> None:
        """As a power cut would: the process and its worker, with no time to tidy up."""
        if self.process:
            with suppress(ProcessLookupError):
                os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait(timeout=30)
            self.process = None


@contextmanager
def wired(port: int, **options) -> Iterator[Wire]:
    wire = Wire(port, **options)
    wire.start()
    try:
        yield wire
    finally:
        wire.stop()

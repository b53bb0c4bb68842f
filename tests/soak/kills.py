"""A server that is killed again and again while a phone sends, and the phone that keeps trying.

The server is the one of production in a process of its own, killed with all it started and
without a word (SIGKILL). The phone is as stubborn as the real one: what no answer named is sent
again, a photo goes on where the server says it ended. It shares the database of the test run.
"""

import http.client
import json
import os
import random
import signal
import subprocess
import sys
import time
from contextlib import closing
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path
from threading import Timer
from uuid import uuid4

from django.conf import settings
from django.db import connection

from apps.operation.management.commands.serve import server_command
from tests.factories.pictures import picture
from tests.functional.demo_server import ROOT, free_port

PATIENCE_SECONDS = 60
PIECE = 2_000
# A record and what it needs before it: a void and a reading go after their check.
PER_ROUND = 30
NO_ANSWER = (OSError, http.client.HTTPException)


class Server:
    """One server process; ready when it answers."""

    def __init__(self, data_dir: Path) -> None:
        self.port = free_port()
        self.log = (data_dir / f"server-{self.port}.log").open("w")
        self.process = subprocess.Popen(
            server_command(host="127.0.0.1", port=self.port),
            cwd=ROOT,
            env=os.environ | environment(data_dir),
            stdout=self.log,
            stderr=subprocess.STDOUT,
            start_new_session=True,
        )

    def wait(self) -> None:
        deadline = time.monotonic() + PATIENCE_SECONDS
        while True:
            try:
                token(self.port)
            except NO_ANSWER:
                if self.process.poll() is not None or time.monotonic() > deadline:
                    raise RuntimeError(Path(self.log.name).read_text()) from None
                time.sleep(0.05)
            else:
                return

    def kill(self) -> None:
        """All of it at once, as when the power goes."""
        os.killpg(self.process.pid, signal.SIGKILL)

    def gone(self) -> None:
        """A worker that lost its parent is killed with it; nothing may answer any more."""
        self.process.wait(timeout=PATIENCE_SECONDS)
        self.log.close()


def environment(data_dir: Path) -> dict[str, str]:
    """The server's: the same books and key as this process, pictures in a folder of its own."""
    given = {"THAWLINE_DATA_DIR": str(data_dir), "THAWLINE_SECRET_KEY": settings.SECRET_KEY}
    return given | {"DATABASE_URL": database_url(connection.settings_dict)}


def database_url(known: dict[str, object]) -> str:
    if connection.vendor == "sqlite":
        return f"sqlite:///{known['NAME']}"
    host = f"{known['HOST'] or '127.0.0.1'}:{known['PORT'] or 5432}"
    return f"postgres://{known['USER']}:{known['PASSWORD']}@{host}/{known['NAME']}"


def connect(port: int) -> http.client.HTTPConnection:
    return http.client.HTTPConnection("127.0.0.1", port, timeout=20)


def token(port: int) -> str:
    """A fresh one, as the phone fetches it; any server takes it that shares the key."""
    with closing(connect(port)) as link:
        link.request("GET", "/field/whoami.json")
        cookie = link.getresponse().headers["Set-Cookie"]
    return cookie.partition("csrftoken=")[2].partition(";")[0]


@dataclass
class SentPhoto:
    """One picture, of which the phone knows how much the server has."""

    of: str
    data: bytes
    uuid: str = field(default_factory=lambda: str(uuid4()))
    done: bool = False

    def address(self, at: int) -> str:
        digest = sha256(self.data).hexdigest()
        said = f"of={self.of}&sha256={digest}&total={len(self.data)}&at={at}"
        return f"/field/photos/{self.uuid}/?{said}"


@dataclass
class StubbornPhone:
    """Keeps every record until an answer names it."""

    person: int
    line: int
    session: str
    chance: random.Random
    name: str = field(default_factory=lambda: str(uuid4()))
    sent: list[dict] = field(default_factory=list)
    waiting: list[dict] = field(default_factory=list)
    photos: list[SentPhoto] = field(default_factory=list)
    unanswered: int = 0
    had: int = 0
    token: str = ""

    def log_a_round(self) -> None:
        for _ in range(PER_ROUND):
            check = self._record("check", state=self._state(), parts={"tee": 2, "drop": 1})
            self._keep(check)
            if self.chance.random() < 0.25:
                self._keep(self._record("void", of=check["uuid"]))
            if self.chance.random() < 0.25:
                self._keep(self._record("tally", taps=7))
        # The last one of each round is not taken back, so that its photo has a check that stands.
        of = self._record("check", state="leak_left", parts={"tee": 1})
        self._keep(of)
        self.photos.append(SentPhoto(of["uuid"], picture(size=(48, 48), seed=len(self.photos))))

    def _state(self) -> str:
        return self.chance.choice(["tight", "leak_left", "leak_fixed", "frozen"])

    def _record(self, kind: str, **fields: object) -> dict:
        now = {"uuid": str(uuid4()), "kind": kind, "at": round(time.time() * 1000)}
        line = {} if kind == "void" else {"line": self.line}
        return now | line | fields

    def _keep(self, record: dict) -> None:
        self.sent.append(record)
        self.waiting.append(record)

    def send(self, port: int) -> None:
        """Everything that waits, records first; stops at the first answer that does not come."""
        try:
            self.send_records(port)
            self.send_photos(port)
        except NO_ANSWER:
            self.unanswered += 1

    def send_records(self, port: int) -> None:
        while self.waiting:
            self._post(port)

    def send_photos(self, port: int) -> None:
        for photo in self.photos:
            while not photo.done:
                self._piece(port, photo)

    def _ask(self, port: int, method: str, address: str, body: bytes = b"") -> dict:
        with closing(connect(port)) as link:
            kind = "application/json" if method == "POST" else "application/octet-stream"
            cookie = f"sessionid={self.session}; csrftoken={self.token}"
            headers = {"Cookie": cookie, "X-CSRFToken": self.token, "Content-Type": kind}
            link.request(method, address, body, headers)
            answer = link.getresponse()
            told = json.loads(answer.read())
        if answer.status not in (200, 409):
            raise AssertionError(f"{answer.status} {told}")
        return told

    def _post(self, port: int) -> None:
        batch = self.waiting[:100]
        body = {
            "format": 1,
            "phone": self.name,
            "person": self.person,
            "now": round(time.time() * 1000),
            "anchors": [],
            "records": batch,
        }
        told = self._ask(port, "POST", "/field/records/", json.dumps(body).encode())
        for one in told["answers"]:
            assert one["answer"] in ("accepted", "had"), one
            self.had += one["answer"] == "had"
        named = {one["uuid"] for one in told["answers"]}
        self.waiting = [one for one in self.waiting if one["uuid"] not in named]

    def _piece(self, port: int, photo: SentPhoto) -> None:
        at = self._ask(port, "GET", f"/field/photos/{photo.uuid}/")
        photo.done = at["done"]
        if not photo.done:
            start = at["received"]
            piece = photo.data[start : start + PIECE]
            photo.done = self._ask(port, "PUT", photo.address(start), piece).get("done", False)


def campaign(phone: StubbornPhone, data_dir: Path, kills: int) -> None:
    """Kill the server that many times while the phone sends to it, then let the phone finish."""
    server, spare = Server(data_dir), Server(data_dir)
    try:
        server.wait()
        phone.token = token(server.port)
        seconds = _undisturbed(phone, server)
        for _ in range(kills):
            phone.log_a_round()
            timer = Timer(_moment(phone.chance, seconds), server.kill)
            timer.start()
            phone.send(server.port)
            timer.join()
            server.gone()
            # Started while the one before was under way: a spare costs no time.
            server, spare = spare, Server(data_dir)
            server.wait()
        while phone.waiting or not all(photo.done for photo in phone.photos):
            phone.send(server.port)
    finally:
        for one in (server, spare):
            one.kill()
            one.gone()


def _undisturbed(phone: StubbornPhone, server: Server) -> tuple[float, float]:
    """Seconds that the records of a round take, and its photo, when nothing happens."""
    # Twice, since the first round finds a server that has not done any of it before.
    for _ in range(2):
        phone.log_a_round()
        started = time.monotonic()
        phone.send_records(server.port)
        between = time.monotonic()
        phone.send_photos(server.port)
    return between - started, time.monotonic() - between


def _moment(chance: random.Random, seconds: tuple[float, float]) -> float:
    """Seconds after the start: mostly among the records, else among the pieces of a photo."""
    records, photos = seconds
    if chance.random() < 0.7:
        return chance.uniform(0, 1.3 * records)
    return records + chance.uniform(0, photos)


def say(words: str) -> None:
    sys.stdout.write(f"{words}\n")

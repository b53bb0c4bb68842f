"""`manage.py serve --lan` as a farm starts it: a process of its own, in a folder of its own."""

import os
import ssl
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from tests.functional.demo_server import ROOT, free_port

NAME = "sugarhouse.local"


@dataclass(frozen=True)
class Farm:
    """Where it listens, and the folder of its data."""

    port: int
    handout_port: int
    folder: Path

    @property
    def authority(self) -> Path:
        return self.folder / "tls" / "authority.pem"

    def trusting(self) -> ssl.SSLContext:
        """A client that trusts the farm's authority and nobody else, by the letter of RFC 5280."""
        context = ssl.create_default_context(cafile=str(self.authority))
        context.verify_flags |= ssl.VERIFY_X509_STRICT
        return context

    def log(self) -> str:
        return (self.folder / "serve.log").read_text()


def environment(folder: Path) -> dict[str, str]:
    # A database of its own, also where the suite has been given another.
    kept = {name: value for name, value in os.environ.items() if name != "DATABASE_URL"}
    kept.pop("DJANGO_ALLOW_ASYNC_UNSAFE", None)
    return kept | {"THAWLINE_DATA_DIR": str(folder), "PYTHONIOENCODING": "utf-8"}


@contextmanager
def running(folder: Path, patience_seconds: float = 180) -> Iterator[Farm]:
    farm = Farm(free_port(), free_port(), folder)
    words = ["--lan", "--name", NAME, "--weather-every", "0"]
    words += ["--port", str(farm.port), "--handout-port", str(farm.handout_port)]
    with (folder / "serve.log").open("w") as out:
        process = subprocess.Popen(
            [sys.executable, "manage.py", "serve", *words],
            cwd=ROOT,
            env=environment(folder),
            stdout=out,
            stderr=subprocess.STDOUT,
            start_new_session=True,
        )
        try:
            deadline = time.monotonic() + patience_seconds
            while not _answers(farm):
                if process.poll() is not None or time.monotonic() > deadline:
                    raise RuntimeError(f"It did not start:\n{farm.log()}")
                time.sleep(0.3)
            yield farm
        finally:
            process.terminate()
            process.wait(timeout=30)


def _answers(farm: Farm) -> bool:
    if not farm.authority.exists():
        return False
    url = f"https://localhost:{farm.port}/sign-in/"
    try:
        with urllib.request.urlopen(url, timeout=5, context=farm.trusting()) as reply:
            return reply.status == 200
    except OSError:
        return False

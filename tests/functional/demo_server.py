"""The demo operation as a newcomer starts it: a process of its own, in a folder of its own."""

import os
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def _answers(url: str) -> bool:
    try:
        with urllib.request.urlopen(url, timeout=5) as reply:  # noqa: S310 - our own loopback
            return reply.status == 200
    except OSError:
        return False


@contextmanager
def running(data_dir: Path, *words: str, patience_seconds: float = 180) -> Iterator[str]:
    """`manage.py demo` until it answers; its address; the whole group of processes goes after."""
    port = free_port()
    log = data_dir / "demo.log"
    with log.open("w") as out:
        process = subprocess.Popen(
            [sys.executable, "manage.py", "demo", "--port", str(port), *words],
            cwd=ROOT,
            env=os.environ | {"THAWLINE_DATA_DIR": str(data_dir)},
            stdout=out,
            stderr=subprocess.STDOUT,
            start_new_session=True,
        )
        try:
            url = f"http://127.0.0.1:{port}"
            deadline = time.monotonic() + patience_seconds
            while not _answers(f"{url}/sign-in/"):
                if process.poll() is not None or time.monotonic() > deadline:
                    raise RuntimeError(f"The demo did not start:\n{log.read_text()}")
                time.sleep(0.3)
            yield url
        finally:
            # The command alone is told to stop, and must take what it started along.
            process.terminate()
            process.wait(timeout=30)
    if _answers(f"{url}/sign-in/"):
        raise RuntimeError("The demo's server outlived the command that started it.")

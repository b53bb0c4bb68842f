"""Run the operation on this machine with the production server."""

import os
import signal
import subprocess
import sys
from argparse import ArgumentParser
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Event, Thread
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand

# Often enough for every run of every model; where there is nothing newer little is asked.
WEATHER_EVERY_HOURS = 3.0


class Command(BaseCommand):
    help = "Migrate, collect the static files and serve; stop with Ctrl-C."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--host", default="127.0.0.1")
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--certificate", help="PEM file, to serve HTTPS itself")
        parser.add_argument("--key", help="PEM file of the certificate's key")
        parser.add_argument(
            "--weather-every",
            type=float,
            default=WEATHER_EVERY_HOURS,
            metavar="HOURS",
            help="refresh the forecast this often; 0 leaves it to the button and cron",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        # For every step alike: the server must look for the file names that collecting made.
        environment = os.environ | {"THAWLINE_COLLECTED_STATIC": "1"}
        manage = [sys.executable, str(Path(settings.BASE_DIR) / "manage.py")]
        # In processes of their own: this one read its settings before the static files had names.
        for step in (["migrate"], ["collectstatic", "--noinput"]):
            subprocess.run(  # noqa: S603 - our own commands, no outside words
                [*manage, *step, "--verbosity", "0"], check=True, env=environment
            )
        scheme = "https" if options["certificate"] else "http"
        self.stdout.write(f"Thawline on {scheme}://{options['host']}:{options['port']}/")
        # The server never returns, and a pipe holds words back until its end.
        self.stdout.flush()
        command = server_command(
            **{name: options[name] for name in ("host", "port", "certificate", "key")}
        )
        with repeated([*manage, "refresh_weather"], 3600 * options["weather_every"], environment):
            code = run_server(command, environment)
        raise SystemExit(code)


@contextmanager
def repeated(
    command: list[str], every_seconds: float, environment: dict[str, str]
) -> Iterator[None]:
    """Run a command of ours at once and then every so often, beside whatever goes on inside.

    It says itself how it went, and a failure is tried again the next time. Zero seconds: never.
    """
    done = Event()

    def run() -> None:
        while not done.is_set():
            subprocess.run(command, check=False, env=environment)  # noqa: S603 - our own command
            done.wait(every_seconds)

    # A daemon: a refresh under way never holds up the end of the server.
    timer = Thread(target=run, daemon=True)
    if every_seconds > 0:
        timer.start()
    try:
        yield
    finally:
        done.set()


def run_server(command: list[str], environment: dict[str, str]) -> int:
    """Run the server to its end and give its exit code; a plain kill of ours ends it too."""
    server = subprocess.Popen(command, env=environment)  # noqa: S603 - our own command
    # Ctrl-C reaches the whole group, a kill this process alone: the server would keep the port.
    signal.signal(signal.SIGTERM, lambda *_: server.terminate())
    try:
        return server.wait()
    except KeyboardInterrupt:
        return server.wait()


def server_command(
    *, host: str, port: int, certificate: str | None = None, key: str | None = None
) -> list[str]:
    command = [sys.executable, "-m", "granian", "--interface", "wsgi", "--host", host]
    command += ["--port", str(port), "--no-ws", "--log-level", "warning"]
    # One process, a few threads: a farm's phones and desk, and SQLite takes one writer anyway.
    command += ["--workers", "1", "--blocking-threads", "4", "--backpressure", "64"]
    if certificate and key:
        command += ["--ssl-certificate", certificate, "--ssl-keyfile", key]
    return [*command, "apps.config.wsgi:application"]

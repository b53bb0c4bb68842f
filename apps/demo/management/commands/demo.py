"""One command from nothing to the running demo operation."""

import os
import socket
import subprocess
import sys
from argparse import ArgumentParser
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from apps.demo.generator.farm import PASSWORD
from apps.operation.management.commands.serve import run_server, server_command

# The stand-in answers for every service, so that the demo never asks a real one.
SERVICES = (
    "THAWLINE_WEATHER_URL",
    "THAWLINE_ENSEMBLE_URL",
    "THAWLINE_ARCHIVE_URL",
    "THAWLINE_NWS_URL",
    "THAWLINE_MET_URL",
)


class Command(BaseCommand):
    help = "Make the demo operation, its weather service and its server; stop with Ctrl-C."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--host", default="127.0.0.1")
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--fresh", action="store_true", help="make all records anew")

    def handle(self, *args: Any, **options: Any) -> None:
        host, port = options["host"], options["port"]
        # Before ten seconds of making records, not after.
        if _taken(host, port):
            raise CommandError(f"Port {port} is in use: stop what runs there or name another.")
        # Any free one: two demos may run beside each other.
        weather_port = _free_port()
        service = f"http://127.0.0.1:{weather_port}"
        environment = os.environ | {"THAWLINE_DEMO": "1"} | dict.fromkeys(SERVICES, service)
        # Up before the records: making them asks for the forecast.
        with _weather(weather_port, environment):
            self._prepare(environment, fresh=options["fresh"])
            self.stdout.write(
                f"\nThawline's demo operation: http://{host}:{port}/\n"
                f"Sign in as ina (owner) or sol (crew), password {PASSWORD}\n"
                "Stop with Ctrl-C.\n"
            )
            self.stdout.flush()
            raise SystemExit(run_server(server_command(host=host, port=port), environment))

    def _prepare(self, environment: dict[str, str], *, fresh: bool) -> None:
        self.stdout.write("Making the demo operation: four seasons, about ten seconds ...")
        self.stdout.flush()
        _manage(environment, "migrate", "--verbosity", "0")
        _manage(environment, "demo_records", *(["--fresh"] if fresh else []))


def _manage(environment: dict[str, str], *words: str) -> None:
    manage = str(Path(settings.BASE_DIR) / "manage.py")
    subprocess.run([sys.executable, manage, *words], check=True, env=environment)  # noqa: S603


def _taken(host: str, port: int) -> bool:
    with socket.socket() as probe:
        probe.settimeout(1)
        return probe.connect_ex((host, port)) == 0


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def _weather(port: int, environment: dict[str, str]) -> Iterator[None]:
    """The stand-in weather service, beside the demo for as long as it runs."""
    command = [sys.executable, "-m", "tests.standin", "--port", str(port)]
    command += ["--any-day", "--with-parent"]
    service = subprocess.Popen(  # noqa: S603 - our own command
        command, env=environment, cwd=settings.BASE_DIR, stdout=subprocess.PIPE, text=True
    )
    try:
        # It prints its address once it answers; nothing printed means that it could not start.
        if service.stdout is None or not service.stdout.readline():
            raise CommandError("The demo's weather service did not start.")
        yield
    finally:
        service.terminate()
        service.wait(timeout=10)
        # The pipe outlives the process that wrote into it.
        if service.stdout is not None:
            service.stdout.close()

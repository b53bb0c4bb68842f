"""Run the operation on this machine with the production server."""

import os
import subprocess
import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand


class Command(BaseCommand):
    help = "Migrate, collect the static files and serve; stop with Ctrl-C."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--host", default="127.0.0.1")
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--certificate", help="PEM file, to serve HTTPS itself")
        parser.add_argument("--key", help="PEM file of the certificate's key")

    def handle(self, *args: Any, **options: Any) -> None:
        environment = os.environ | {"THAWLINE_COLLECTED_STATIC": "1"}
        manage = [sys.executable, str(Path(settings.BASE_DIR) / "manage.py")]
        for step in (["migrate"], ["collectstatic", "--noinput"]):
            subprocess.run(  # noqa: S603 - our own commands, no outside words
                [*manage, *step, "--verbosity", "0"], check=True, env=environment
            )
        scheme = "https" if options["certificate"] else "http"
        self.stdout.write(f"Thawline on {scheme}://{options['host']}:{options['port']}/")
        self.stdout.flush()
        command = server_command(
            **{name: options[name] for name in ("host", "port", "certificate", "key")}
        )
        raise SystemExit(
            subprocess.run(command, check=False, env=environment).returncode  # noqa: S603
        )


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

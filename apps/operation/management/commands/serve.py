"""Run the operation on this machine with the production server."""

import os
import signal
import subprocess
import sys
from argparse import ArgumentParser
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from threading import Event, Thread
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from apps.operation import clock
from apps.operation.tls import lan
from apps.operation.tls.handing_out import handing_out
from apps.operation.tls.keeping import AuthorityUnusable
from apps.operation.tls.names import NameRefused, of_this_machine

# Often enough for every run of every model; where there is nothing newer little is asked.
WEATHER_EVERY_HOURS = 3.0
# How late the brief may be. The command itself knows whether it is due and whether it has gone.
BRIEF_EVERY_SECONDS = 600
PORT, LAN_PORT, HANDOUT_PORT = 8000, 8443, 8080
EVERYWHERE = "0.0.0.0"  # noqa: S104 - phones come over the network


class Command(BaseCommand):
    help = "Migrate, collect the static files and serve; stop with Ctrl-C."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--host", help="127.0.0.1, and with --lan every address")
        parser.add_argument("--port", type=int, help=f"{PORT}, and with --lan {LAN_PORT}")
        parser.add_argument("--certificate", help="PEM file, to serve HTTPS itself")
        parser.add_argument("--key", help="PEM file of the certificate's key (PKCS 8)")
        parser.add_argument(
            "--lan",
            action="store_true",
            help="serve HTTPS to the phones on this network, with an authority of our own",
        )
        parser.add_argument("--name", default="", help="with --lan: the name the phones shall use")
        parser.add_argument("--handout-port", type=int, default=HANDOUT_PORT)
        parser.add_argument(
            "--weather-every",
            type=float,
            default=WEATHER_EVERY_HOURS,
            metavar="HOURS",
            help="refresh the forecast this often; 0 leaves it to the button and cron",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        network = self._network(options) if options["lan"] else None
        # For every step alike: the server must look for the file names that collecting made.
        environment = os.environ | {"THAWLINE_COLLECTED_STATIC": "1"}
        if network:
            environment |= network.environment(os.environ)
        manage = [sys.executable, str(Path(settings.BASE_DIR) / "manage.py")]
        # In processes of their own: this one read its settings before the static files had names.
        for step in (["migrate"], ["collectstatic", "--noinput"]):
            subprocess.run(  # noqa: S603 - our own commands, no outside words
                [*manage, *step, "--verbosity", "0"], check=True, env=environment
            )
        with ExitStack() as beside:
            if network:
                _open_handout(beside, network)
            command = server_command(**_bound(options, network))
            self._announce(options, network)
            weather = [*manage, "refresh_weather"]
            beside.enter_context(repeated(weather, 3600 * options["weather_every"], environment))
            brief_every = BRIEF_EVERY_SECONDS if settings.EMAIL_HOST else 0
            beside.enter_context(
                repeated([*manage, "send_brief", "--when-due"], brief_every, environment)
            )
            code = run_server(command, environment)
        raise SystemExit(code)

    def _network(self, options: dict[str, Any]) -> lan.Lan:
        try:
            return lan.prepare(
                data_dir=settings.DATA_DIR,
                names=of_this_machine(options["name"]),
                port=options["port"] or LAN_PORT,
                handout_port=options["handout_port"],
                now=clock.now(),
            )
        except (AuthorityUnusable, NameRefused) as refusal:
            raise CommandError(str(refusal)) from refusal

    def _announce(self, options: dict[str, Any], network: lan.Lan | None) -> None:
        if network:
            self.stdout.write(lan.announcement(network, sys.stdout.encoding or "ascii"))
        else:
            bound = _bound(options, None)
            scheme = "https" if bound["certificate"] else "http"
            self.stdout.write(f"Thawline on {scheme}://{bound['host']}:{bound['port']}/")
        # The server never returns, and a pipe holds words back until its end.
        self.stdout.flush()


def _bound(options: dict[str, Any], network: lan.Lan | None) -> dict[str, Any]:
    """Where the server listens and with which certificate."""
    if network is None:
        files = {name: options[name] for name in ("certificate", "key")}
        default_host = "127.0.0.1"
    else:
        kept = network.kept
        files = {"certificate": str(kept.certificate_path), "key": str(kept.key_path)}
        # Every phone on the network is meant to reach it.
        default_host = EVERYWHERE
    port = network.port if network else options["port"] or PORT
    return {"host": options["host"] or default_host, "port": port, **files}


def _open_handout(beside: ExitStack, network: lan.Lan) -> None:
    door = handing_out(network.handout(), EVERYWHERE, network.handout_port)
    try:
        beside.enter_context(door)
    except OSError as error:
        words = f"Port {network.handout_port}, for the certificate, cannot be opened: {error}."
        raise CommandError(f"{words} Choose another with --handout-port.") from error


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
        # Phones from before 2019 know nothing newer.
        command += ["--ssl-protocol-min", "tls1.2"]
        command += ["--ssl-certificate", certificate, "--ssl-keyfile", key]
    return [*command, "apps.config.wsgi:application"]

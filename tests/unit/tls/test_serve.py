"""What `manage.py serve` starts, where it listens, and what it runs beside the server."""

import socket
import subprocess
from contextlib import contextmanager

import pytest
from django.core.management import CommandError, call_command

from apps.operation.management.commands import serve
from apps.operation.management.commands.serve import EVERYWHERE
from apps.operation.tls import lan
from apps.operation.tls.lan import prepare
from tests.unit.tls.given import NOW, names


@pytest.fixture
def started(monkeypatch, settings, tmp_path):
    """Everything that would be started, by name, and nothing that is."""
    seen = {"steps": [], "beside": {}, "server": None, "environment": None}

    @contextmanager
    def repeated(command, every_seconds, environment):
        seen["beside"][command[2]] = (command[2:], every_seconds)
        yield

    def run_server(command, environment):
        seen.update(server=command, environment=environment)
        return 0

    def run(command, **options):
        seen["steps"].append(command[2])

    settings.DATA_DIR = tmp_path
    monkeypatch.setattr(serve, "repeated", repeated)
    monkeypatch.setattr(serve, "run_server", run_server)
    monkeypatch.setattr(subprocess, "run", run)
    monkeypatch.setattr(serve, "of_this_machine", lambda name: names(*filter(None, [name])))
    monkeypatch.setattr(serve.clock, "now", lambda: NOW)
    return seen


def free_port():
    with socket.socket() as probe:
        probe.bind((EVERYWHERE, 0))
        return probe.getsockname()[1]


def start(*words):
    with pytest.raises(SystemExit) as ended:
        call_command("serve", *words)
    assert ended.value.code == 0


def bound(seen):
    command = seen["server"]
    return [command[command.index(word) + 1] for word in ("--host", "--port")]


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        ([], ["127.0.0.1", "8000"]),
        (["--port", "8123"], ["127.0.0.1", "8123"]),
        (["--host", EVERYWHERE], [EVERYWHERE, "8000"]),
        (["--lan"], [EVERYWHERE, "8443"]),
        (["--lan", "--port", "9443"], [EVERYWHERE, "9443"]),
        (["--lan", "--host", "10.0.0.7"], ["10.0.0.7", "8443"]),
    ],
)
def test_it_listens_here_alone_and_everywhere_on_a_network(started, words, expected):
    start(*words, *(["--handout-port", str(free_port())] if "--lan" in words else []))
    assert bound(started) == expected


def test_tables_and_static_files_come_first(started):
    start()
    assert started["steps"] == ["migrate", "collectstatic"]


def test_on_the_network_it_serves_the_certificate_it_made(started, tmp_path):
    start("--lan", "--handout-port", str(free_port()))
    command = started["server"]
    assert command[command.index("--ssl-certificate") + 1] == str(tmp_path / "tls" / "server.pem")
    assert command[command.index("--ssl-keyfile") + 1] == str(tmp_path / "tls" / "server.key")
    assert command[command.index("--ssl-protocol-min") + 1] == "tls1.2"


def test_on_the_network_the_server_knows_its_names(started):
    start("--lan", "--name", "sugarhouse.lan", "--handout-port", str(free_port()))
    environment = started["environment"]
    assert environment["THAWLINE_HTTPS"] == "1"
    assert environment["THAWLINE_ADDRESS"] == "https://sugarhouse.lan:8443/"
    assert environment["THAWLINE_HOSTS"].startswith("sugarhouse.lan,")


def test_without_the_network_nothing_is_made_and_nothing_set(started, tmp_path):
    start()
    assert not (tmp_path / "tls").exists()
    assert "THAWLINE_ADDRESS" not in started["environment"]


@pytest.mark.parametrize(("host", "every"), [("", 0), ("mail.invalid", serve.BRIEF_EVERY_SECONDS)])
def test_the_brief_is_asked_for_where_mail_is_set_up(started, settings, host, every):
    settings.EMAIL_HOST = host
    start()
    command, seconds = started["beside"]["send_brief"]
    assert (command, seconds) == (["send_brief", "--when-due"], every)


@pytest.mark.parametrize(("words", "seconds"), [([], 3 * 3600), (["--weather-every", "0"], 0)])
def test_the_forecast_is_refreshed_as_often_as_asked(started, words, seconds):
    start(*words)
    assert started["beside"]["refresh_weather"] == (["refresh_weather"], seconds)


@pytest.mark.parametrize(
    ("name", "words"),
    [("192.168.1.20", "give a name"), ("sap house", "no host name")],
)
def test_a_name_that_will_not_do_is_refused_before_anything(started, monkeypatch, name, words):
    monkeypatch.undo()
    with pytest.raises(CommandError, match=words):
        call_command("serve", "--lan", "--name", name)


def test_an_authority_that_cannot_sign_stops_it(started, tmp_path):
    prepare(data_dir=tmp_path, names=names(), port=8443, handout_port=8080, now=NOW)
    with pytest.raises(CommandError, match=r"may not sign for sap\.example"):
        call_command("serve", "--lan", "--name", "sap.example")
    assert started["server"] is None


def test_a_port_in_use_is_named_with_a_way_out(started):
    with socket.socket() as taken:
        taken.bind((EVERYWHERE, 0))
        taken.listen()
        port = str(taken.getsockname()[1])
        with pytest.raises(CommandError, match=f"Port {port}.*--handout-port"):
            call_command("serve", "--lan", "--handout-port", port)
    assert started["server"] is None


def test_the_window_is_told_the_addresses(started, capsys, monkeypatch):
    start("--lan", "--handout-port", str(free_port()))
    assert "Thawline on https://sugarhouse.local:8443/" in capsys.readouterr().out
    start("--port", "8123")
    assert capsys.readouterr().out == "Thawline on http://127.0.0.1:8123/\n"


def test_a_certificate_of_ones_own_is_still_served(started, capsys):
    start("--certificate", "c.pem", "--key", "k.pem")
    assert started["server"][-5:-1] == ["--ssl-certificate", "c.pem", "--ssl-keyfile", "k.pem"]
    assert "https://127.0.0.1:8000/" in capsys.readouterr().out


def test_where_no_address_is_known_the_name_is_shown(tmp_path):
    found = lan.prepare(
        data_dir=tmp_path, names=names(ips=("127.0.0.1",)), port=1, handout_port=2, now=NOW
    )
    assert found.handout_address == "http://sugarhouse.local:2/"

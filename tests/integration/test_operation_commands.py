"""The first owner comes from the command line."""

import io

import pytest
from django.core.management import CommandError, call_command

from apps.operation.management.commands.serve import server_command
from apps.operation.models import CrewMember

pytestmark = pytest.mark.django_db


def _add(monkeypatch, password, *arguments):
    monkeypatch.setattr("sys.stdin", io.StringIO(f"{password}\n"))
    out = io.StringIO()
    call_command("add_crew", *arguments, "--password-stdin", stdout=out)
    return out.getvalue()


def test_first_owner_is_added_from_the_command_line(monkeypatch):
    said = _add(monkeypatch, "ice-on-the-lines", "ina", "--owner")
    assert said == "ina can sign in as owner.\n"
    member = CrewMember.objects.get(username="ina")
    assert member.is_owner
    assert member.shown_name == "Ina"
    assert member.check_password("ice-on-the-lines")


def test_weak_password_is_refused(monkeypatch):
    with pytest.raises(CommandError, match="at least 10"):
        _add(monkeypatch, "short", "ina")
    assert not CrewMember.objects.exists()


def test_same_name_twice_is_refused(monkeypatch):
    _add(monkeypatch, "ice-on-the-lines", "ina")
    with pytest.raises(CommandError, match="already a person called ina"):
        _add(monkeypatch, "ice-on-the-lines", "ina")


def test_server_speaks_https_when_given_a_certificate():
    plain = server_command(host="127.0.0.1", port=8000)
    secure = server_command(host="127.0.0.1", port=8443, certificate="c.pem", key="k.pem")
    assert "--ssl-certificate" not in plain
    assert secure[-5:-1] == ["--ssl-certificate", "c.pem", "--ssl-keyfile", "k.pem"]
    assert plain[-1] == secure[-1] == "apps.config.wsgi:application"

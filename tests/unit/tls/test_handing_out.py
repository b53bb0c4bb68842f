"""The plain-http door gives the certificate and how to install it, and nothing else."""

import http.client
import socket

import pytest
from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding

from apps.operation.tls.authority import fingerprint
from apps.operation.tls.handing_out import CERTIFICATE_PATH, Handout, handing_out
from apps.operation.tls.lan import announcement, prepare
from tests.unit.tls.given import NOW, names


def a_lan(folder):
    return prepare(data_dir=folder, names=names(), port=8443, handout_port=8080, now=NOW)


@pytest.fixture(scope="module")
def lan(tmp_path_factory):
    return a_lan(tmp_path_factory.mktemp("lan"))


@pytest.fixture(scope="module")
def door(lan):
    with handing_out(lan.handout(), "127.0.0.1", 0) as port:
        yield port


def ask(port, path, method="GET", **headers):
    link = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
    link.request(method, path, headers=headers)
    reply = link.getresponse()
    body = reply.read()
    link.close()
    return reply, body


def test_the_certificate_comes_as_phones_install_it(door, lan):
    reply, body = ask(door, CERTIFICATE_PATH)
    assert reply.getheader("Content-Type") == "application/x-x509-ca-cert"
    assert x509.load_der_x509_certificate(body) == lan.kept.authority


def test_the_page_names_the_steps_the_fingerprint_and_the_address(door, lan):
    reply, body = ask(door, "/")
    page = body.decode()
    assert reply.status == 200
    for words in (
        "Profile Downloaded",
        "Certificate Trust Settings",
        "CA certificate",
        fingerprint(lan.kept.authority),
        f'href="{CERTIFICATE_PATH}"',
        'href="https://sugarhouse.local:8443/field/"',
    ):
        assert words in page


@pytest.mark.parametrize(
    "path",
    ["/authority.key", "/server.key", "/tls/authority.key", "/../authority.key", "/field/",
     "/%2e%2e/authority.key", "http://sugarhouse.local/server.pem"],
)  # fmt: skip
def test_nothing_else_is_there(door, path):
    reply, body = ask(door, path)
    assert (reply.status, body) == (404, b"Nothing here.\n")


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "OPTIONS"])
def test_it_takes_nothing(door, method):
    assert ask(door, "/", method)[0].status == 501


def test_a_head_has_no_body(door):
    reply, body = ask(door, "/", "HEAD")
    assert (reply.status, body) == (200, b"")
    assert int(reply.getheader("Content-Length")) > 1000


def test_no_key_ever_leaves_by_it(door, lan):
    secret = lan.kept.key_path.with_name("authority.key").read_bytes().splitlines()[1]
    for path in ("/", CERTIFICATE_PATH):
        body = ask(door, path)[1]
        assert b"PRIVATE" not in body
        assert secret not in body


def test_every_answer_is_safe_to_show(door):
    for path in ("/", CERTIFICATE_PATH, "/else"):
        reply, _ = ask(door, path)
        assert reply.getheader("X-Content-Type-Options") == "nosniff"
        assert reply.getheader("Cache-Control") == "no-store"
        assert "default-src 'none'" in reply.getheader("Content-Security-Policy")
        assert "Python" not in reply.getheader("Server")


def test_once_closed_it_answers_nobody():
    with handing_out(Handout(b"der", b"page"), "127.0.0.1", 0) as port:
        assert ask(port, "/")[1] == b"page"
    with pytest.raises(ConnectionRefusedError), socket.create_connection(("127.0.0.1", port), 2):
        pass


def test_the_server_is_told_its_names_and_to_ask_for_no_strict_transport(lan):
    told = lan.environment({})
    assert told["THAWLINE_HOSTS"].split(",") == [
        "sugarhouse.local", "sugarhouse", "localhost", "192.168.1.20", "127.0.0.1",
    ]  # fmt: skip
    assert (told["THAWLINE_HTTPS"], told["THAWLINE_HSTS"]) == ("1", "0")
    assert told["THAWLINE_ADDRESS"] == "https://sugarhouse.local:8443/"


def test_what_the_owner_has_set_stays(lan):
    told = lan.environment({"THAWLINE_HOSTS": "a.lan", "THAWLINE_ADDRESS": "https://a.lan/"})
    assert told["THAWLINE_HOSTS"].startswith("a.lan,sugarhouse.local,")
    assert told["THAWLINE_ADDRESS"] == "https://a.lan/"


def test_the_terminal_shows_addresses_codes_and_the_warning(lan):
    said = announcement(lan, "utf-8")
    for words in (
        "Thawline on https://sugarhouse.local:8443/",
        "http://192.168.1.20:8080/",
        fingerprint(lan.kept.authority),
        "every phone installs it once",
        "Guard ",
        "Use the name, never the number",
    ):
        assert words in said
    assert said.count("▄▄▄▄▄") > 4


def test_a_terminal_without_blocks_gets_the_words_alone(lan):
    said = announcement(lan, "ascii")
    assert "▄" not in said
    assert "https://sugarhouse.local:8443/" in said


def test_the_authority_is_called_new_once(tmp_path):
    said = [announcement(a_lan(tmp_path), "ascii") for _ in range(2)]
    assert ["is new" in one for one in said] == [True, False]


def test_what_is_handed_out_is_the_certificate_alone(lan):
    assert lan.handout().certificate == lan.kept.authority.public_bytes(Encoding.DER)

"""HTTPS in a farmhouse, end to end: the running server, clients that trust it, Chromium."""

import base64
import http.client
import shutil
import socket
import ssl
import subprocess
import sys
from hashlib import sha256

import pytest
from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
from playwright.sync_api import Error

from apps.operation.tls.authority import fingerprint
from apps.operation.tls.handing_out import CERTIFICATE_PATH
from tests import chromium
from tests.factories.operation import PASSWORD
from tests.functional import lan_server
from tests.functional.conftest import ARGUMENTS
from tests.functional.lan_server import NAME

pytestmark = pytest.mark.browser
# The name is known to no network here: the browser is told where it is, as a router would tell it.
RESOLVED = f"--host-resolver-rules=MAP {NAME} 127.0.0.1"
WORKER = """async () => {
  await navigator.serviceWorker.register("/field/worker.js", { scope: "/field/" });
  const ready = await navigator.serviceWorker.ready;
  return { scope: ready.scope, secure: isSecureContext };
}"""


@pytest.fixture(scope="module")
def farm(tmp_path_factory):
    with lan_server.running(tmp_path_factory.mktemp("farm")) as farm:
        subprocess.run(
            [sys.executable, "manage.py", "add_crew", "sol", "--password-stdin"],
            cwd=lan_server.ROOT,
            env=lan_server.environment(farm.folder),
            input=f"{PASSWORD}\n",
            text=True,
            check=True,
            capture_output=True,
        )
        yield farm


def handshake(farm, context, name):
    with (
        socket.create_connection(("127.0.0.1", farm.port), timeout=10) as plain,
        context.wrap_socket(plain, server_hostname=name) as secure,
    ):
        return secure.version(), secure.getpeercert()


@pytest.mark.parametrize("name", [NAME, "localhost", "127.0.0.1"])
def test_a_strict_client_that_trusts_the_authority_shakes_hands(farm, name):
    version, certificate = handshake(farm, farm.trusting(), name)
    assert version == "TLSv1.3"
    assert ("DNS", NAME) in certificate["subjectAltName"]


def test_phones_of_some_years_ago_are_served_too(farm):
    context = farm.trusting()
    context.maximum_version = ssl.TLSVersion.TLSv1_2
    assert handshake(farm, context, NAME)[0] == "TLSv1.2"


@pytest.mark.parametrize(
    ("context", "name", "words"),
    [
        (lambda farm: ssl.create_default_context(), NAME, "issuer certificate|self-signed"),
        (lambda farm: farm.trusting(), "elsewhere.local", "Hostname mismatch"),
    ],
)
def test_a_stranger_and_another_name_are_refused(farm, context, name, words):
    with pytest.raises(ssl.SSLCertVerificationError, match=words):
        handshake(farm, context(farm), name)


def ask(farm, path, **headers):
    link = http.client.HTTPSConnection("localhost", farm.port, context=farm.trusting(), timeout=30)
    link.request("GET", path, headers=headers)
    reply = link.getresponse()
    reply.body = reply.read()
    link.close()
    return reply


def test_it_asks_for_secure_cookies_and_for_no_strict_transport(farm):
    reply = ask(farm, "/sign-in/", Host=f"{NAME}:{farm.port}")
    assert reply.status == 200
    assert "Secure" in reply.getheader("Set-Cookie")
    assert reply.getheader("Strict-Transport-Security") is None


def test_it_answers_to_no_other_host(farm):
    assert ask(farm, "/sign-in/", Host="elsewhere.local").status == 400


def handed_out(farm, path):
    link = http.client.HTTPConnection("127.0.0.1", farm.handout_port, timeout=10)
    link.request("GET", path)
    reply = link.getresponse()
    body = reply.read()
    link.close()
    return reply.status, body


def test_the_plain_door_gives_the_authority_the_server_is_signed_by(farm):
    status, body = handed_out(farm, CERTIFICATE_PATH)
    given = x509.load_der_x509_certificate(body)
    assert status == 200
    assert given.public_bytes(Encoding.PEM) == farm.authority.read_bytes()
    served = ssl.get_server_certificate(("127.0.0.1", farm.port))
    x509.load_pem_x509_certificate(served.encode()).verify_directly_issued_by(given)


@pytest.mark.parametrize("path", ["/sign-in/", "/field/", "/tls/authority.key", "/static/"])
def test_the_plain_door_gives_nothing_of_the_app(farm, path):
    assert handed_out(farm, path)[0] == 404


def test_the_window_shows_where_to_go(farm):
    said = farm.log()
    authority = x509.load_pem_x509_certificate(farm.authority.read_bytes())
    assert f"Thawline on https://{NAME}:{farm.port}/" in said
    assert f":{farm.handout_port}/" in said
    assert fingerprint(authority) in said
    assert "█" in said


@pytest.fixture
def chromium_with(browser, tmp_path):
    """Chromium with a home of its own, trusting the authority or not."""
    opened = []

    def open_it(farm, *, trusting):
        home = tmp_path / f"home-{len(opened)}"
        extra = _trust(farm, home) if trusting else []
        context = browser.browser_type.launch_persistent_context(
            home / "profile",
            executable_path=chromium.require(),
            args=[*ARGUMENTS, RESOLVED, *extra],
            env={"HOME": str(home)},
        )
        opened.append(context)
        return context.pages[0]

    yield open_it
    for context in opened:
        context.close()


def _trust(farm, home):
    """Install the authority as a person would, where the tool for it is; else name the one key."""
    store = home / ".pki" / "nssdb"
    store.mkdir(parents=True)
    certutil = shutil.which("certutil")
    if certutil is None:
        served = ssl.get_server_certificate(("127.0.0.1", farm.port))
        key = x509.load_pem_x509_certificate(served.encode()).public_key()
        info = key.public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)
        digest = base64.b64encode(sha256(info).digest()).decode()
        return [f"--ignore-certificate-errors-spki-list={digest}"]
    database = ["-d", f"sql:{store}"]
    subprocess.run([certutil, "-N", *database, "--empty-password"], check=True)
    add = ["-A", *database, "-t", "C,,", "-n", "farm", "-i", str(farm.authority)]
    subprocess.run([certutil, *add], check=True)
    return []


def test_without_the_authority_chromium_refuses_the_page(farm, chromium_with):
    page = chromium_with(farm, trusting=False)
    with pytest.raises(Error, match="ERR_CERT_AUTHORITY_INVALID"):
        page.goto(f"https://{NAME}:{farm.port}/field/")


def test_with_it_the_phones_worker_registers(farm, chromium_with):
    page = chromium_with(farm, trusting=True)
    page.goto(f"https://{NAME}:{farm.port}/field/")
    assert page.evaluate(WORKER) == {
        "scope": f"https://{NAME}:{farm.port}/field/",
        "secure": True,
    }


def test_a_person_signs_in_over_it_and_finds_the_codes_address(farm, chromium_with):
    page = chromium_with(farm, trusting=True)
    page.goto(f"https://{NAME}:{farm.port}/sign-in/?next=/checks/phone-help/")
    page.get_by_label("Username").fill("sol")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url("**/checks/phone-help/")
    assert page.locator("img.app-code").get_attribute("alt") == (
        f"Code for https://{NAME}:{farm.port}/field/"
    )
    assert page.locator(".worries").count() == 0

"""The chain, held against cryptography's own verifier and the limits of RFC 5280 and of phones."""

from datetime import timedelta
from hashlib import sha256
from ipaddress import ip_address

import pytest
from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding
from cryptography.x509.oid import ExtendedKeyUsageOID
from cryptography.x509.verification import PolicyBuilder, Store, VerificationError

from apps.operation.tls import authority
from apps.operation.tls.authority import AuthorityEnds, NotPermitted, make_authority, make_server
from tests.unit.tls.given import DAY, NOW, names


@pytest.fixture(scope="module")
def signer():
    return make_authority(names=names(), now=NOW)


@pytest.fixture(scope="module")
def server(signer):
    return make_server(authority=signer, names=names(), now=NOW)


def verified(signer, server, subject, *, at=NOW):
    """What an independent verifier of X.509 (web profile) makes of the chain."""
    store = Store([signer.certificate])
    verifier = PolicyBuilder().store(store).time(at).build_server_verifier(subject)
    return verifier.verify(server.certificate, [])


def extension(signed, kind):
    return signed.certificate.extensions.get_extension_for_class(kind)


@pytest.mark.parametrize("name", ["sugarhouse.local", "sugarhouse", "localhost"])
def test_the_chain_holds_for_every_name(signer, server, name):
    chain = verified(signer, server, x509.DNSName(name))
    assert chain == [server.certificate, signer.certificate]


@pytest.mark.parametrize("ip", ["192.168.1.20", "127.0.0.1"])
def test_the_chain_holds_for_every_address(signer, server, ip):
    assert len(verified(signer, server, x509.IPAddress(ip_address(ip)))) == 2


def test_the_chain_holds_for_no_other_name(signer, server):
    with pytest.raises(VerificationError):
        verified(signer, server, x509.DNSName("elsewhere.local"))


def test_another_farms_authority_vouches_for_nothing_here(server):
    stranger = make_authority(names=names(), now=NOW)
    with pytest.raises(VerificationError):
        verified(stranger, server, x509.DNSName("sugarhouse.local"))


@pytest.mark.parametrize(
    ("after", "good"),
    [
        # A phone 47 minutes slow, and one set to the day before.
        (timedelta(minutes=-47), True),
        (timedelta(hours=-23), True),
        (timedelta(days=-2), False),
        (timedelta(days=395), True),
        (timedelta(days=397), False),
    ],
)
def test_the_server_is_trusted_from_the_day_before_to_the_397th(signer, server, after, good):
    if good:
        assert verified(signer, server, x509.DNSName("localhost"), at=NOW + after)
    else:
        with pytest.raises(VerificationError):
            verified(signer, server, x509.DNSName("localhost"), at=NOW + after)


def test_it_refuses_to_sign_for_a_public_site(signer):
    with pytest.raises(NotPermitted, match=r"bank\.example"):
        make_server(authority=signer, names=names("bank.example"), now=NOW)


def test_what_a_stolen_key_signs_for_a_public_site_is_refused(signer, monkeypatch):
    """By the verifier, which heeds the constraints where our own refusal is bypassed."""
    monkeypatch.setattr(authority, "not_permitted", lambda certificate, names: [])
    forged = make_server(authority=signer, names=names("bank.example"), now=NOW)
    assert forged.certificate.issuer == signer.certificate.subject
    with pytest.raises(VerificationError, match="constraint"):
        verified(signer, forged, x509.DNSName("bank.example"))


@pytest.mark.parametrize(
    ("wanted", "outside"),
    [
        (names("other.local"), []),
        (names("deep.sugarhouse"), []),
        (names("sugarhouse.example"), ["sugarhouse.example"]),
        (names("notlocal"), ["notlocal"]),
        (names(ips=("10.0.0.7", "fd00::2")), []),
        (names(ips=("8.8.8.8",)), ["8.8.8.8"]),
    ],
)
def test_what_is_outside_is_named(signer, wanted, outside):
    assert authority.not_permitted(signer.certificate, wanted) == outside


@pytest.mark.parametrize(
    ("kind", "critical"),
    [(x509.BasicConstraints, True), (x509.KeyUsage, True), (x509.NameConstraints, True)],
)
def test_the_authority_is_marked_as_rfc_5280_asks(signer, kind, critical):
    """RFC 5280 (2008), 4.2.1.9, 4.2.1.3 and 4.2.1.10."""
    assert extension(signer, kind).critical is critical


def test_the_authority_signs_certificates_and_no_further_authority(signer):
    basic = extension(signer, x509.BasicConstraints).value
    usage = extension(signer, x509.KeyUsage).value
    assert (basic.ca, basic.path_length) == (True, 0)
    assert (usage.key_cert_sign, usage.digital_signature) == (True, False)


def test_the_servers_certificate_is_that_and_nothing_more(server):
    assert extension(server, x509.BasicConstraints).value.ca is False
    assert extension(server, x509.KeyUsage).value.key_cert_sign is False
    purposes = list(extension(server, x509.ExtendedKeyUsage).value)
    assert purposes == [ExtendedKeyUsageOID.SERVER_AUTH]


def test_lives_and_keys(signer, server):
    lives = [
        signed.ends_at - signed.certificate.not_valid_before_utc for signed in (signer, server)
    ]
    assert lives == [timedelta(days=3651), timedelta(days=397)]
    assert {signed.key.curve.name for signed in (signer, server)} == {"secp256r1"}
    assert {signed.certificate.version for signed in (signer, server)} == {x509.Version.v3}


def test_serial_numbers_are_random_and_short_enough(signer, server):
    """RFC 5280, 4.1.2.2: positive, at most 20 octets."""
    serials = {signed.certificate.serial_number for signed in (signer, server)}
    assert len(serials) == 2
    assert all(0 < serial < 2**159 for serial in serials)


def test_a_certificate_never_outlives_its_authority(signer):
    late = signer.ends_at - 10 * DAY
    server = make_server(authority=signer, names=names(), now=late)
    assert server.ends_at == signer.ends_at
    assert verified(signer, server, x509.DNSName("localhost"), at=late)


def test_an_authority_that_has_ended_signs_nothing(signer):
    with pytest.raises(AuthorityEnds, match="ended on 2036-02-27"):
        make_server(authority=signer, names=names(), now=signer.ends_at)


def test_the_fingerprint_is_the_sha256_of_the_certificate(signer):
    digest = sha256(signer.certificate.public_bytes(Encoding.DER)).hexdigest()
    shown = authority.fingerprint(signer.certificate)
    assert shown.replace(":", "").lower() == digest
    assert len(shown.split(":")) == 32


def test_a_very_long_name_still_makes_a_certificate():
    long = f"{'a' * 60}.{'b' * 60}.local"
    signer = make_authority(names=names(long), now=NOW)
    server = make_server(authority=signer, names=names(long), now=NOW)
    assert verified(signer, server, x509.DNSName(long))

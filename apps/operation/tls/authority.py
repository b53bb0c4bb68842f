"""An authority of one farm and the certificates it signs, as X.509 (RFC 5280) wants them.

Keys are P-256. The authority lives ten years, signs no further authority (path length 0) and may
sign only private names and addresses (name constraints, critical as RFC 5280 section 4.2.1.10
asks). A server's certificate lives 397 days: phones refuse private ones over 825 (Apple, HT210176).
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import cast

from cryptography import x509
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from apps.operation.tls.names import PRIVATE_NETWORKS, Address, Names

AUTHORITY_DAYS = 3650
SERVER_DAYS = 397
# A phone whose clock is slow must not find the certificate not valid yet.
BACKDATED = timedelta(days=1)
# Names that no public authority gives out (RFC 6762, RFC 6761, RFC 8375, and in wide use).
PRIVATE_NAMES = ("local", "localhost", "home.arpa", "internal", "lan")


class NotPermitted(ValueError):
    """The authority was not made for these names; phones would refuse its signature."""

    def __init__(self, names: Iterable[str]) -> None:
        super().__init__(f"the authority may not sign for {', '.join(names)}")


class AuthorityEnds(ValueError):
    """The authority itself has run out, or is about to."""


@dataclass(frozen=True)
class Signed:
    """A certificate and the key that belongs to it."""

    certificate: x509.Certificate
    key: ec.EllipticCurvePrivateKey

    @property
    def ends_at(self) -> datetime:
        return self.certificate.not_valid_after_utc

    @property
    def is_whole(self) -> bool:
        """Whether the key is the certificate's own."""
        return self.certificate.public_key() == self.key.public_key()


def make_authority(*, names: Names, now: datetime) -> Signed:
    """A self-signed authority for private names and the given ones."""
    key = ec.generate_private_key(ec.SECP256R1())
    # Named after the machine, so that two farms' entries on one phone can be told apart.
    subject = _subject(f"Thawline on {names.first}")
    builder = _builder(subject, subject, key, now - BACKDATED, now + timedelta(AUTHORITY_DAYS))
    usage = _usage(digital_signature=False, key_cert_sign=True, crl_sign=True)
    public = key.public_key()
    certificate = (
        builder.add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(usage, critical=True)
        .add_extension(_constraints(names), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(public), critical=False)
        .sign(key, SHA256())
    )
    return Signed(certificate, key)


def make_server(*, authority: Signed, names: Names, now: datetime) -> Signed:
    """A certificate for a server of these names. Raises NotPermitted and AuthorityEnds."""
    if outside := not_permitted(authority.certificate, names):
        raise NotPermitted(outside)
    ends_at = min(now - BACKDATED + timedelta(SERVER_DAYS), authority.ends_at)
    if ends_at <= now:
        raise AuthorityEnds(f"the authority ended on {authority.ends_at:%Y-%m-%d}")
    key = ec.generate_private_key(ec.SECP256R1())
    issuer = authority.certificate.subject
    builder = _builder(_subject(names.first), issuer, key, now - BACKDATED, ends_at)
    issued_by = x509.AuthorityKeyIdentifier.from_issuer_public_key(authority.key.public_key())
    extensions: list[tuple[x509.ExtensionType, bool]] = [
        (x509.BasicConstraints(ca=False, path_length=None), True),
        (_usage(digital_signature=True, key_cert_sign=False, crl_sign=False), True),
        (x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), False),
        (_alternative_names(names), False),
        (x509.SubjectKeyIdentifier.from_public_key(key.public_key()), False),
        (issued_by, False),
    ]
    for extension, critical in extensions:
        builder = builder.add_extension(extension, critical=critical)
    return Signed(builder.sign(authority.key, SHA256()), key)


def not_permitted(certificate: x509.Certificate, names: Names) -> list[str]:
    """Those of the names that the authority's own constraints leave out."""
    constraints = certificate.extensions.get_extension_for_class(x509.NameConstraints).value
    permitted = [subtree.value for subtree in constraints.permitted_subtrees or []]
    stems = [value for value in permitted if isinstance(value, str)]
    networks = [value for value in permitted if not isinstance(value, str)]
    dns = [name for name in names.dns if not any(_is_under(name, stem) for stem in stems)]
    return dns + [str(ip) for ip in names.ips if not any(ip in network for network in networks)]


def alternative_names(certificate: x509.Certificate) -> tuple[set[str], set[Address]]:
    """The host names and addresses a server's certificate is for."""
    extension = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    dns = set(extension.get_values_for_type(x509.DNSName))
    # There they are single addresses; networks stand in constraints alone.
    return dns, set(cast("list[Address]", extension.get_values_for_type(x509.IPAddress)))


def fingerprint(certificate: x509.Certificate) -> str:
    """SHA-256 in pairs, as phones and computers show it."""
    return certificate.fingerprint(SHA256()).hex(":").upper()


def _is_under(name: str, stem: str) -> bool:
    return name == stem or name.endswith(f".{stem}")


def _subject(common_name: str) -> x509.Name:
    # RFC 5280 ends a common name after 64 characters; the whole name stands among the others.
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, common_name[:64])])


def _builder(
    subject: x509.Name,
    issuer: x509.Name,
    key: ec.EllipticCurvePrivateKey,
    starts_at: datetime,
    ends_at: datetime,
) -> x509.CertificateBuilder:
    builder = x509.CertificateBuilder().subject_name(subject).issuer_name(issuer)
    builder = builder.public_key(key.public_key()).serial_number(x509.random_serial_number())
    return builder.not_valid_before(starts_at).not_valid_after(ends_at)


def _constraints(names: Names) -> x509.NameConstraints:
    stems = dict.fromkeys([*PRIVATE_NAMES, *names.dns])
    permitted: list[x509.GeneralName] = [x509.DNSName(stem) for stem in stems]
    permitted += [x509.IPAddress(network) for network in PRIVATE_NETWORKS]
    return x509.NameConstraints(permitted_subtrees=permitted, excluded_subtrees=None)


def _alternative_names(names: Names) -> x509.SubjectAlternativeName:
    dns: list[x509.GeneralName] = [x509.DNSName(name) for name in names.dns]
    return x509.SubjectAlternativeName(dns + [x509.IPAddress(ip) for ip in names.ips])


def _usage(*, digital_signature: bool, key_cert_sign: bool, crl_sign: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=digital_signature,
        key_cert_sign=key_cert_sign,
        crl_sign=crl_sign,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        encipher_only=False,
        decipher_only=False,
    )

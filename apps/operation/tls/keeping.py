"""The authority and the server's certificate as files: made once, kept, renewed in time."""

import os
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding

from apps.operation.tls import authority
from apps.operation.tls.authority import Signed
from apps.operation.tls.names import Names

RENEW_WITHIN = timedelta(days=30)


class AuthorityUnusable(Exception):
    """There is an authority and it cannot sign; making another is the owner's to decide.

    Every phone that trusts this one would have to be given the next.
    """

    def __init__(self, folder: Path, why: str) -> None:
        super().__init__(
            f"The authority in {folder} cannot be used: {why}. Put its two files back from a "
            "backup, or remove that folder; then a new one is made, and every phone must "
            "install it."
        )


@dataclass(frozen=True)
class Kept:
    """Where everything lies, and what was made anew this time."""

    authority: x509.Certificate
    certificate_path: Path
    key_path: Path
    ends_at: datetime
    authority_is_new: bool
    certificate_is_new: bool


def ready(*, folder: Path, names: Names, now: datetime) -> Kept:
    """An authority and a certificate for these names, made or renewed where needed.

    Raises AuthorityUnusable where there is an authority that cannot sign for them.
    """
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    signer, authority_is_new = _authority(folder, names, now)
    server = _read(folder, "server")
    renewed = server is None or _is_stale(server, signer, names, now)
    if server is None or renewed:
        server = _server(folder, signer, names, now)
        _write(folder, "server", server)
    return Kept(
        authority=signer.certificate,
        certificate_path=folder / "server.pem",
        key_path=folder / "server.key",
        ends_at=server.ends_at,
        authority_is_new=authority_is_new,
        certificate_is_new=renewed,
    )


def _authority(folder: Path, names: Names, now: datetime) -> tuple[Signed, bool]:
    if not (folder / "authority.pem").exists():
        made = authority.make_authority(names=names, now=now)
        _write(folder, "authority", made)
        return made, True
    kept = _read(folder, "authority")
    if kept is None or not kept.is_whole:
        raise AuthorityUnusable(folder, "its key is missing, damaged or of another authority")
    return kept, False


def _server(folder: Path, signer: Signed, names: Names, now: datetime) -> Signed:
    try:
        return authority.make_server(authority=signer, names=names, now=now)
    except (authority.NotPermitted, authority.AuthorityEnds) as refusal:
        raise AuthorityUnusable(folder, str(refusal)) from refusal


def _is_stale(server: Signed, signer: Signed, names: Names, now: datetime) -> bool:
    same_names = authority.alternative_names(server.certificate) == (set(names.dns), set(names.ips))
    # One that ends with its authority cannot be bettered by renewing.
    soon = server.ends_at - now < RENEW_WITHIN and server.ends_at < signer.ends_at
    over = server.ends_at <= now
    return soon or over or not (same_names and server.is_whole and _is_signed(server, signer))


def _is_signed(server: Signed, signer: Signed) -> bool:
    try:
        server.certificate.verify_directly_issued_by(signer.certificate)
    except Exception:
        return False
    return True


def _read(folder: Path, name: str) -> Signed | None:
    """What the two files hold; None where one is missing or is not what it should be."""
    try:
        certificate = x509.load_pem_x509_certificate((folder / f"{name}.pem").read_bytes())
        secret = (folder / f"{name}.key").read_bytes()
        key = serialization.load_pem_private_key(secret, password=None)
    except (OSError, ValueError, TypeError):
        return None
    return Signed(certificate, key) if isinstance(key, ec.EllipticCurvePrivateKey) else None


def _write(folder: Path, name: str, signed: Signed) -> None:
    secret = signed.key.private_bytes(
        Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    # The key first: a certificate on disk then always has one.
    _replace(folder / f"{name}.key", secret)
    _replace(folder / f"{name}.pem", signed.certificate.public_bytes(Encoding.PEM))


def _replace(path: Path, content: bytes) -> None:
    """In one step, and readable to nobody else from its first moment."""
    partial = path.with_suffix(f"{path.suffix}.partial")
    partial.unlink(missing_ok=True)
    handle = os.open(partial, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(handle, "wb") as file:
        file.write(content)
        file.flush()
        os.fsync(handle)
    partial.replace(path)

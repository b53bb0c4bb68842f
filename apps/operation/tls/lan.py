"""Everything a phone on the same network needs of the machine that serves."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from io import StringIO
from pathlib import Path

import segno
from cryptography.hazmat.primitives.serialization import Encoding
from django.template.loader import render_to_string

from apps.operation.tls import keeping
from apps.operation.tls.authority import fingerprint
from apps.operation.tls.handing_out import CERTIFICATE_PATH, Handout
from apps.operation.tls.keeping import Kept
from apps.operation.tls.names import Names

GUARD = "Guard {}: whoever holds the authority's key can pose as a server to those phones."
BY_NAME = (
    "Use the name, never the number: a new address is another app to a phone, and what waits in "
    "it stays behind."
)


@dataclass(frozen=True)
class Lan:
    """A farm's network served over HTTPS: names, files and addresses."""

    names: Names
    kept: Kept
    port: int
    handout_port: int

    @property
    def address(self) -> str:
        return f"https://{self.names.first}:{self.port}/"

    @property
    def handout_address(self) -> str:
        """By number: it is used once, and a phone may not know the name yet."""
        return f"http://{self.names.lan_ip or self.names.first}:{self.handout_port}/"

    def environment(self, given: Mapping[str, str]) -> dict[str, str]:
        """What the server must be told; what the owner has set stays."""
        hosts = [*filter(None, [given.get("THAWLINE_HOSTS", "")]), *self.names.hosts()]
        return {
            "THAWLINE_HOSTS": ",".join(hosts),
            "THAWLINE_HTTPS": "1",
            # A browser told to take HTTPS alone would refuse the page that mends a lost trust.
            "THAWLINE_HSTS": given.get("THAWLINE_HSTS", "0"),
            "THAWLINE_ADDRESS": given.get("THAWLINE_ADDRESS") or self.address,
        }

    def handout(self) -> Handout:
        page = render_to_string("operation/handout.html", {"lan": self, "path": CERTIFICATE_PATH})
        return Handout(self.kept.authority.public_bytes(Encoding.DER), page.encode())

    @property
    def fingerprint(self) -> str:
        return fingerprint(self.kept.authority)


def prepare(*, data_dir: Path, names: Names, port: int, handout_port: int, now: datetime) -> Lan:
    """Make or renew what is needed. Raises AuthorityUnusable."""
    kept = keeping.ready(folder=data_dir / "tls", names=names, now=now)
    return Lan(names=names, kept=kept, port=port, handout_port=handout_port)


def announcement(lan: Lan, encoding: str) -> str:
    """What the terminal says: addresses, codes to scan, and what to be careful with."""
    kept = lan.kept
    said = [
        f"Thawline on {lan.address}  (certificate until {kept.ends_at:%Y-%m-%d})",
        *_code(lan.address, encoding),
        "Phones that do not trust it yet get the certificate and the steps here:",
        f"{lan.handout_address}  (SHA-256 {lan.fingerprint})",
        *_code(lan.handout_address, encoding),
    ]
    if kept.authority_is_new:
        said.append("The authority is new: every phone installs it once.")
    said.append(GUARD.format(kept.key_path.parent))
    said.append(BY_NAME)
    return "\n".join(said)


def _code(text: str, encoding: str) -> list[str]:
    """A code that a phone reads off the terminal, where the terminal has the blocks for it."""
    out = StringIO()
    segno.make_qr(text, error="l").terminal(out, compact=True, border=2)
    drawn = out.getvalue()
    try:
        drawn.encode(encoding)
    except UnicodeEncodeError:
        return []
    return [drawn]

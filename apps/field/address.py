"""The address printed on tags and shown to phones, and what would make it a poor one."""

from ipaddress import ip_address
from urllib.parse import urlsplit

from django.conf import settings
from django.http import HttpRequest

# A tag hangs for years: to a phone a new address is another app, and what waits stays in the old.
PLAIN = (
    "It is plain http. A phone keeps no page without HTTPS, so nothing works there without signal."
)
THIS_MACHINE = "It names this machine alone: on a phone it opens nothing."
NUMBER = (
    "It is a number, and numbers change. To a phone a new address is another app, and what waits "
    "in the old one stays there. Use a name."
)


def base_address(request: HttpRequest) -> str:
    """Where phones find the app, without a slash at its end: as set, else as asked for."""
    set_up: str = settings.THAWLINE_ADDRESS
    return (set_up or request.build_absolute_uri("/")).rstrip("/")


def worries(base: str) -> list[str]:
    """Why nothing should be printed with this address, in whole sentences."""
    parts = urlsplit(base)
    host = parts.hostname or ""
    found = [] if parts.scheme == "https" else [PLAIN]
    if _is_loopback(host):
        return [*found, THIS_MACHINE]
    return [*found, NUMBER] if _is_number(host) else found


def _is_number(host: str) -> bool:
    try:
        ip_address(host)
    except ValueError:
        return False
    return True


def _is_loopback(host: str) -> bool:
    if host == "localhost" or host.endswith(".localhost"):
        return True
    return _is_number(host) and ip_address(host).is_loopback

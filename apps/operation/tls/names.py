"""What this machine is called on its own network."""

import re
import socket
from collections.abc import Iterable
from dataclasses import dataclass
from ipaddress import IPv4Address, IPv6Address, ip_address, ip_network

Address = IPv4Address | IPv6Address

LABEL = re.compile(r"[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?", re.ASCII)
# Kept for documentation (RFC 5737, RFC 3849): nothing is sent there, the system only says from
# which of its own addresses it would.
ELSEWHERE = ((socket.AF_INET, "192.0.2.1"), (socket.AF_INET6, "2001:db8::1"))

# RFC 1918, loopback, and unique local addresses (RFC 4193).
PRIVATE_NETWORKS = tuple(
    map(
        ip_network,
        ["10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "127.0.0.0/8", "::1/128", "fc00::/7"],
    )
)


class NameRefused(ValueError):
    """The name cannot stand in a certificate; the message says why."""


@dataclass(frozen=True)
class Names:
    """Host names, the one to be used first, and addresses of one machine."""

    dns: tuple[str, ...]
    ips: tuple[Address, ...]

    @property
    def first(self) -> str:
        return self.dns[0]

    @property
    def lan_ip(self) -> Address | None:
        """The address by which others on the network reach it; of the kind we listen on."""
        outward = (ip for ip in self.ips if ip.version == 4 and not ip.is_loopback)
        return next(outward, None)

    def hosts(self) -> list[str]:
        """As a Host header spells them."""
        return [*self.dns, *(f"[{ip}]" if ip.version == 6 else str(ip) for ip in self.ips)]


def dns_name(text: str) -> str:
    """The name in small letters. Raises NameRefused for what no certificate can carry."""
    name = text.strip().rstrip(".").lower()
    labels = name.split(".")
    if len(name) > 253 or not all(LABEL.fullmatch(label) for label in labels):
        raise NameRefused(f"{text!r} is no host name: letters, digits, hyphens and dots alone.")
    # All digits at the end is an IP address, mistyped or not.
    if labels[-1].isdecimal():
        raise NameRefused(f"{text!r} is an address, and those change: give a name.")
    return name


def of_this_machine(name: str = "") -> Names:
    """The names and private addresses it answers to; the name given, if any, comes first."""
    own = _host_name()
    # A bare name resolves where the router knows it, .local where machines announce themselves.
    dns = [dns_name(name)] if name else []
    dns += [f"{own.split('.')[0]}.local", own, "localhost"] if own else ["localhost"]
    loopback = [ip_address("127.0.0.1"), ip_address("::1")]
    return Names(tuple(dict.fromkeys(dns)), tuple(dict.fromkeys([*lan_addresses(), *loopback])))


def _host_name() -> str:
    try:
        name = dns_name(socket.gethostname())
    except NameRefused:
        # A machine may be called anything; it is reached by the name given instead.
        return ""
    return "" if name == "localhost" else name


def lan_addresses() -> list[Address]:
    """Private addresses under which the network reaches this machine."""
    found = (ip_address(text) for text in [*_outward(), *_looked_up()])
    # A public one would be outside of what the authority may sign, and nobody needs it here.
    private = (ip for ip in found if any(ip in network for network in PRIVATE_NETWORKS))
    return [ip for ip in private if not ip.is_loopback]


def _outward() -> Iterable[str]:
    for family, elsewhere in ELSEWHERE:
        try:
            with socket.socket(family, socket.SOCK_DGRAM) as probe:
                probe.connect((elsewhere, 9))
                yield probe.getsockname()[0]
        except OSError:
            # No network of that kind.
            continue


def _looked_up() -> Iterable[str]:
    try:
        found = socket.getaddrinfo(socket.gethostname(), None)
    except OSError:
        return
    for _, _, _, _, address in found:
        # An address of one link alone carries the link's name behind a percent sign.
        yield str(address[0]).split("%")[0]

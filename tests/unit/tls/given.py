"""An invented farm's machine and the day it is set up."""

from datetime import UTC, datetime, timedelta
from ipaddress import ip_address

from apps.operation.tls.names import Names

NOW = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)
DAY = timedelta(days=1)


def names(*dns: str, ips: tuple[str, ...] = ("192.168.1.20", "127.0.0.1")) -> Names:
    given = dns or ("sugarhouse.local", "sugarhouse", "localhost")
    return Names(given, tuple(ip_address(ip) for ip in ips))

"""What the machine is called: names first, addresses that are private, nothing a phone refuses."""

import socket
from ipaddress import ip_address

import pytest

from apps.operation.tls import names as machine
from apps.operation.tls.names import NameRefused, Names, dns_name, of_this_machine


@pytest.fixture
def network(monkeypatch):
    """A machine of the given name and addresses."""

    def set_up(name="Sugarhouse", *addresses):
        monkeypatch.setattr(socket, "gethostname", lambda: name)
        monkeypatch.setattr(machine, "_outward", lambda: addresses[:1])
        monkeypatch.setattr(machine, "_looked_up", lambda: addresses)

    return set_up


@pytest.mark.parametrize(
    ("typed", "name"),
    [
        ("Sap.Farm.example.", "sap.farm.example"),
        (" sugarhouse.local ", "sugarhouse.local"),
        ("a-1", "a-1"),
        ("a" * 63, "a" * 63),
    ],
)
def test_a_name_is_kept_in_small_letters(typed, name):
    assert dns_name(typed) == name


@pytest.mark.parametrize(
    "typed",
    [
        "",
        ".",
        "a..b",
        "-a",
        "a-",
        "a b",
        "a_b",
        "é.local",
        "a" * 64,
        "x." * 127 + "local",
        "*.local",
    ],
)
def test_what_is_no_name_is_refused(typed):
    with pytest.raises(NameRefused, match="no host name"):
        dns_name(typed)


def test_an_address_is_refused_as_a_name():
    with pytest.raises(NameRefused, match="those change"):
        dns_name("192.168.1.20")


@pytest.mark.parametrize(
    ("host", "given", "expected"),
    [
        ("Sugarhouse", "", ("sugarhouse.local", "sugarhouse", "localhost")),
        ("sap.barn.lan", "", ("sap.local", "sap.barn.lan", "localhost")),
        ("sugarhouse", "barn.lan", ("barn.lan", "sugarhouse.local", "sugarhouse", "localhost")),
        ("sugarhouse", "sugarhouse", ("sugarhouse", "sugarhouse.local", "localhost")),
        ("localhost", "", ("localhost",)),
        ("Ina's laptop", "", ("localhost",)),
    ],
)
def test_the_name_given_comes_first_then_the_machines_own(network, host, given, expected):
    network(host)
    assert of_this_machine(given).dns == expected


def test_addresses_are_private_ones_once_each_and_the_machines_own(network):
    network("a", "192.168.1.20", "8.8.8.8", "169.254.3.3", "127.0.1.1", "fd00::2", "2a00::1")
    expected = ["192.168.1.20", "fd00::2", "127.0.0.1", "::1"]
    assert of_this_machine().ips == tuple(map(ip_address, expected))


@pytest.mark.parametrize(
    ("ips", "expected"),
    [
        (("fd00::2", "192.168.1.20", "127.0.0.1"), "192.168.1.20"),
        (("127.0.0.1", "::1"), None),
        (("fd00::2",), None),
    ],
)
def test_others_reach_it_by_its_first_address_of_the_old_kind(ips, expected):
    found = Names(("a.local",), tuple(map(ip_address, ips))).lan_ip
    assert found == (expected and ip_address(expected))


def test_hosts_are_written_as_a_browser_sends_them():
    names = Names(("a.local",), (ip_address("10.0.0.7"), ip_address("::1")))
    assert names.hosts() == ["a.local", "10.0.0.7", "[::1]"]


class NoNetwork:
    def __init__(self, *args):
        raise OSError("network is unreachable")


def test_without_a_network_the_machines_own_addresses_remain(monkeypatch):
    monkeypatch.setattr(socket, "gethostname", lambda: "sugarhouse")
    monkeypatch.setattr(socket, "socket", NoNetwork)
    monkeypatch.setattr(socket, "getaddrinfo", NoNetwork)
    assert of_this_machine().ips == (ip_address("127.0.0.1"), ip_address("::1"))


def test_a_looked_up_address_loses_the_name_of_its_link(monkeypatch):
    found = [(socket.AF_INET6, 1, 6, "", ("fd00::2%eth0", 0, 0, 2))]
    monkeypatch.setattr(socket, "getaddrinfo", lambda *args: found)
    monkeypatch.setattr(machine, "_outward", list)
    assert machine.lan_addresses() == [ip_address("fd00::2")]


def test_asking_where_it_would_send_from_sends_nothing(monkeypatch):
    asked = []

    class Probe:
        def __init__(self, family, kind):
            asked.append((family, kind))

        def __enter__(self):
            return self

        def __exit__(self, *args):
            asked.append("closed")

        def connect(self, address):
            asked.append(address)

        def getsockname(self):
            return ("10.0.0.7", 50_000)

    monkeypatch.setattr(socket, "socket", Probe)
    assert list(machine._outward()) == ["10.0.0.7", "10.0.0.7"]
    # A datagram socket that connects and never sends: nothing else was called on it.
    assert asked == [
        (socket.AF_INET, socket.SOCK_DGRAM), ("192.0.2.1", 9), "closed",
        (socket.AF_INET6, socket.SOCK_DGRAM), ("2001:db8::1", 9), "closed",
    ]  # fmt: skip

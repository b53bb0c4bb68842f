"""What a tag may carry as its address, and what it had better not."""

import pytest
from django.test import RequestFactory

from apps.field.address import NUMBER, PLAIN, THIS_MACHINE, base_address, worries


@pytest.mark.parametrize(
    ("base", "expected"),
    [
        ("https://sap.example", []),
        ("https://sugarhouse.local:8443", []),
        ("https://10.example", []),
        ("http://sugarhouse.local", [PLAIN]),
        ("https://192.168.1.20:8443", [NUMBER]),
        ("https://[fd00::2]:8443", [NUMBER]),
        ("http://192.168.1.20", [PLAIN, NUMBER]),
        ("https://localhost", [THIS_MACHINE]),
        ("https://sap.localhost", [THIS_MACHINE]),
        ("http://localhost:8000", [PLAIN, THIS_MACHINE]),
        ("https://127.0.0.1", [THIS_MACHINE]),
        ("https://[::1]", [THIS_MACHINE]),
        ("sap.example", [PLAIN]),
    ],
)
def test_a_poor_address_is_told_why(base, expected):
    assert worries(base) == expected


@pytest.mark.parametrize("is_set", ["https://sap.example", "https://sap.example/"])
def test_the_address_set_goes_before_the_one_asked_under(settings, is_set):
    settings.THAWLINE_ADDRESS = is_set
    assert base_address(RequestFactory().get("/checks/sheets/")) == "https://sap.example"


@pytest.mark.parametrize(
    ("secure", "host", "expected"),
    [
        (True, "sap.example", "https://sap.example"),
        (True, "sap.example:8443", "https://sap.example:8443"),
        (False, "localhost:8000", "http://localhost:8000"),
    ],
)
def test_without_one_it_is_the_one_asked_under(settings, secure, host, expected):
    settings.THAWLINE_ADDRESS = ""
    settings.ALLOWED_HOSTS = ["sap.example", "localhost"]
    request = RequestFactory().get("/checks/sheets/", secure=secure, headers={"host": host})
    assert base_address(request) == expected

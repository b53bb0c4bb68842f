"""Fixtures every test may use."""

import pytest

from tests.factories import operation as people


@pytest.fixture
def fixed_clock(settings):
    """The edge reads 2026-03-16 11:00 UTC, whatever day it really is."""
    settings.THAWLINE_CLOCK = "tests.factories.operation.fixed_now"
    return people.FIXED_NOW


@pytest.fixture(autouse=True)
def quick_passwords(settings):
    """Slow hashing protects people, not tests."""
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


@pytest.fixture
def owner(db):
    people.operation()
    return people.owner()


@pytest.fixture
def crew(db):
    people.operation()
    return people.crew()


@pytest.fixture
def owner_client(client, owner, fixed_clock):
    client.force_login(owner)
    return client


@pytest.fixture
def crew_client(client, crew, fixed_clock):
    client.force_login(crew)
    return client

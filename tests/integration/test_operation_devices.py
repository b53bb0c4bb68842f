"""Devices: known by the hash of a token that was shown once."""

from hashlib import sha256

import pytest

from apps.operation import actions, queries
from apps.operation.models import Device
from tests.factories.operation import FIXED_NOW as NOW

pytestmark = pytest.mark.django_db


def test_a_device_is_found_by_its_token_and_only_the_hash_is_kept():
    new = actions.add_device(name="North wall", now=NOW)
    assert queries.device_of(new.token) == new.device
    assert new.device.token_sha256 == sha256(new.token.encode()).hexdigest()
    assert (new.device.added_at, new.device.seen_at, new.device.active) == (NOW, None, True)


def test_no_two_tokens_are_alike():
    tokens = {actions.add_device(name=f"Device {n}", now=NOW).token for n in range(20)}
    assert len(tokens) == 20
    assert min(map(len, tokens)) >= 43


@pytest.mark.parametrize("token", ["", "x", "a" * 64, "tokén"])
def test_a_stranger_is_nobody(token):
    actions.add_device(name="North wall", now=NOW)
    assert queries.device_of(token) is None


def test_the_hash_itself_opens_nothing():
    new = actions.add_device(name="North wall", now=NOW)
    assert queries.device_of(new.device.token_sha256) is None


def test_a_name_already_used_is_refused_and_the_first_device_stays():
    new = actions.add_device(name="North wall", now=NOW)
    with pytest.raises(actions.DeviceRefused, match="already a device called North wall"):
        actions.add_device(name="North wall", now=NOW)
    assert queries.device_of(new.token) == Device.objects.get()


def test_a_stopped_device_is_nobody_and_the_others_go_on():
    one, other = (actions.add_device(name=name, now=NOW) for name in ("North", "South"))
    actions.stop_device(device=one.device)
    assert queries.device_of(one.token) is None
    assert queries.device_of(other.token) == other.device


def test_a_device_is_noted_when_it_was_last_heard():
    one, other = (actions.add_device(name=name, now=NOW) for name in ("North", "South"))
    actions.note_device_seen(device=one.device, now=NOW)
    one.device.refresh_from_db()
    other.device.refresh_from_db()
    assert (one.device.seen_at, other.device.seen_at) == (NOW, None)

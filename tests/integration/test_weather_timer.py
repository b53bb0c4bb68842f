"""The timer beside the server: at once, then every so often, until the server ends."""

import os
import sys
import time

import pytest

from apps.operation.management.commands.serve import repeated


def counting(tmp_path):
    file = tmp_path / "turns"
    code = f"open({str(file)!r}, 'a').write('x'); raise SystemExit(1)"
    return file, [sys.executable, "-c", code]


def turns(file):
    return len(file.read_text()) if file.exists() else 0


def wait_for(file, count, seconds=20):
    end = time.monotonic() + seconds
    while turns(file) < count and time.monotonic() < end:
        time.sleep(0.02)
    return turns(file)


def test_a_command_that_fails_is_run_again_and_again(tmp_path):
    file, command = counting(tmp_path)
    with repeated(command, 0.05, dict(os.environ)):
        assert wait_for(file, 3) >= 3


def test_after_the_server_has_ended_it_is_not_run_again(tmp_path):
    file, command = counting(tmp_path)
    with repeated(command, 60, dict(os.environ)):
        assert wait_for(file, 1) == 1
    time.sleep(0.2)
    assert turns(file) == 1


@pytest.mark.parametrize("every", [0, -1])
def test_zero_leaves_it_to_the_button(tmp_path, every):
    file, command = counting(tmp_path)
    with repeated(command, every, dict(os.environ)):
        time.sleep(0.3)
    assert turns(file) == 0

"""The browser is found, installed or asked for: never skipped."""

import pytest

from tests import chromium


def test_named_program_wins(monkeypatch):
    monkeypatch.setenv("CHROMIUM", "my-chromium")
    assert chromium.find() == "my-chromium"


@pytest.fixture
def no_chromium(monkeypatch):
    monkeypatch.delenv("CHROMIUM", raising=False)
    monkeypatch.setattr(chromium.shutil, "which", lambda name: None)
    monkeypatch.setattr(chromium, "PLACES", ())


def test_missing_browser_fails_and_says_what_to_install(no_chromium, capsys):
    assert chromium.main() == 1
    assert "apt-get install chromium" in capsys.readouterr().err


def test_browser_tests_fail_rather_than_skip(no_chromium):
    with pytest.raises(RuntimeError, match="none was found"):
        chromium.require()

"""Find Chromium for the browser tests, install Debian's where that is possible, or say what to do.

Run as `python -m tests.chromium` it leaves with an error when there is none, so that a suite
without a browser is never taken for a green one.
"""

import os
import shutil
import subprocess
import sys
from pathlib import Path

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome")
PLACES = (
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    r"C:\Program Files\Google\Chrome\Application\chrome.exe",
    r"C:\Program Files\Chromium\Application\chrome.exe",
)
ADVICE = (
    "The browser tests need Chromium and none was found. Install it (Debian and Ubuntu: "
    "apt-get install chromium; macOS: Chromium or Chrome in Applications) or name the program "
    "in the environment variable CHROMIUM."
)


def find() -> str | None:
    if named := os.environ.get("CHROMIUM"):
        return named
    found = (shutil.which(name) for name in NAMES)
    places = (place for place in PLACES if Path(place).exists())
    return next((path for path in (*found, *places) if path), None)


def require() -> str:
    path = find()
    if path is None:
        raise RuntimeError(ADVICE)
    return path


def install() -> None:
    """Debian's package, where this account may install packages."""
    if shutil.which("apt-get") is None or os.name != "posix" or os.geteuid() != 0:
        return
    environment = os.environ | {"DEBIAN_FRONTEND": "noninteractive"}
    subprocess.run(["apt-get", "update", "-qq"], check=False, env=environment)
    subprocess.run(
        ["apt-get", "install", "-y", "-qq", "chromium"],
        check=False,
        env=environment,
        stdout=subprocess.DEVNULL,
    )


def main() -> int:
    if find() is None:
        install()
    path = find()
    sys.stdout.write(f"Chromium: {path}\n" if path else "")
    sys.stderr.write("" if path else f"{ADVICE}\n")
    return 0 if path else 1


if __name__ == "__main__":
    sys.exit(main())

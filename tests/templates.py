"""Templates keep their indentation and every one of them compiles: `python -m tests.templates`."""

import os
import subprocess
import sys
from pathlib import Path

import django
from django.template.loader import get_template

ROOT = Path(__file__).resolve().parents[1] / "templates"


def main() -> int:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "apps.config.settings")
    django.setup()
    names = sorted(path.relative_to(ROOT).as_posix() for path in ROOT.rglob("*.html"))
    for name in names:
        get_template(name)
    files = [str(ROOT / name) for name in names]
    check = [sys.executable, "-m", "djhtml", "--check", "--tabwidth", "2", *files]
    return subprocess.run(check, check=False).returncode


if __name__ == "__main__":
    sys.exit(main())

"""Pin pyproject.toml's dependencies by hash for every platform: `python -m tests.lock`."""

import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
HEAD = '# Written by "make lock" from pyproject.toml: pinned by hash for Linux, macOS, Windows.\n'
COMPILE = [
    "pip", "compile", "pyproject.toml", "--group", "dev", "--universal", "--python-version",
    "3.11", "--generate-hashes", "--no-emit-index-url", "--no-header", "--quiet",
]  # fmt: skip


def main() -> int:
    uv = shutil.which("uv")
    if uv is None:
        sys.stderr.write("make lock needs the program uv (pip install uv).\n")
        return 1
    done = subprocess.run([uv, *COMPILE], cwd=ROOT, capture_output=True, text=True, check=False)
    if done.returncode:
        sys.stderr.write(done.stderr)
        return done.returncode
    (ROOT / "requirements.lock").write_text(HEAD + done.stdout)
    return 0


if __name__ == "__main__":
    sys.exit(main())

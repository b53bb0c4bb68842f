"""What the phone keeps to open without signal: one page, its files, and a version of both."""

import hashlib
import json
from pathlib import Path

from django.conf import settings
from django.contrib.staticfiles import finders
from django.template.loader import render_to_string
from django.templatetags.static import static

from apps.field.scripts import bare
from apps.operation.middleware import CONTENT_SECURITY_POLICY

SCRIPTS = "js/field"
WORKER = f"{SCRIPTS}/worker.js"
# Asked for on plain http alone, where there is no worker to keep it.
ELSEWHERE = f"{SCRIPTS}/sha256.js"
STYLES = ("css/phone.css",)
ICON = "img/thawline.svg"


def scripts() -> list[str]:
    """Every module for the woods; the worker is no module and is served by its view."""
    folder = Path(settings.BASE_DIR) / "static" / SCRIPTS
    names = sorted(f"{SCRIPTS}/{path.name}" for path in folder.glob("*.js"))
    return [name for name in names if name not in {WORKER, ELSEWHERE}]


def page() -> str:
    """The shell: rendered without the request, so that nothing of a person can get into it."""
    modules = [static(name) for name in scripts()]
    return render_to_string("field/shell.html", {"modules": modules})


def worker() -> str:
    """The worker's script with the page and the addresses of its files written above it.

    The page travels inside the script and not beside it: a page fetched by itself could already
    be of the next version, whose files this one does not have.
    """
    html = page()
    names = [*scripts(), *STYLES, ICON]
    constants = {
        "VERSION": _version(html, names),
        "FILES": [static(name) for name in names],
        "FETCH": "default" if _hashed(WORKER) else "no-cache",
        "SHELL": html,
        "HEADERS": {
            "Content-Type": "text/html; charset=utf-8",
            "Content-Security-Policy": CONTENT_SECURITY_POLICY,
        },
    }
    lines = [f"const {name} = {json.dumps(value)};" for name, value in constants.items()]
    return "\n".join([*lines, bare(_contents(WORKER).decode())])


def manifest() -> dict[str, object]:
    """What a phone needs to put the pages on its home screen."""
    return {
        "id": "/field/",
        "name": "Thawline: the woods",
        "short_name": "Thawline",
        "start_url": "/field/",
        "scope": "/field/",
        "display": "standalone",
        "background_color": "#f6f8f9",
        "theme_color": "#14415f",
        "icons": [_icon("192"), _icon("512"), _icon("512-maskable", purpose="maskable")],
    }


def _icon(name: str, *, purpose: str = "any") -> dict[str, str]:
    size = name.partition("-")[0]
    address = static(f"img/phone-{name}.png")
    return {"src": address, "sizes": f"{size}x{size}", "type": "image/png", "purpose": purpose}


def _hashed(name: str) -> bool:
    # A content hash in the name makes the browser's ordinary cache safe: nothing crosses twice.
    return not static(name).endswith(f"/{name}")


def _contents(name: str) -> bytes:
    found = finders.find(name)
    if not isinstance(found, str):
        raise FileNotFoundError(name)
    return Path(found).read_bytes()


def _version(html: str, names: list[str]) -> str:
    """Names the contents of everything kept, the worker's own script included."""
    digest = hashlib.sha256(html.encode())
    for name in [*names, WORKER]:
        # The address too: a server that hashes names differently serves other files.
        digest.update(static(name).encode() + b"\0" + _contents(name))
    return digest.hexdigest()[:16]

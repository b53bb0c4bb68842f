"""The phone's page, worker and manifest: public, equal for all, and one version at a time."""

import json
import re
from pathlib import Path

import pytest
from django.conf import settings
from django.contrib.staticfiles import finders
from django.urls import reverse
from PIL import Image

from apps.field import shell

pytestmark = pytest.mark.django_db

PAGES = [
    "phone",
    "phone_check",
    "phone_tally",
    "phone_pull",
    "phone_dip",
    "phone_gauge",
    "phone_obstruction",
    "phone_note",
    "phone_outbox",
]
ASSETS = [*PAGES, "worker", "manifest"]


def of_worker(name, text=None):
    """One of the constants that the view writes above the worker's script."""
    found = re.search(rf"^const {name} = (.*);$", text or shell.worker(), re.MULTILINE)
    return json.loads(found[1])


def address(name):
    return reverse(f"field:{name}")


@pytest.mark.parametrize("name", PAGES)
def test_every_page_of_the_phone_is_the_same_shell(client, name):
    assert client.get(address(name)).content == client.get(address("phone")).content


def test_the_link_on_a_valves_tag_is_the_shell_too(client):
    tag = reverse("field:phone_line", kwargs={"woodlot": "home-bush", "label": "L12"})
    assert client.get(tag).content == client.get(address("phone")).content


@pytest.mark.parametrize("name", ASSETS)
def test_nobody_has_to_be_signed_in_for_it(client, name):
    reply = client.get(address(name))
    assert reply.status_code == 200
    assert len(reply.content) > 100


@pytest.mark.parametrize("name", ASSETS)
def test_it_is_the_same_for_the_owner_and_for_a_stranger(client, owner_client, name):
    anonymous = client.__class__().get(address(name)).content
    assert owner_client.get(address(name)).content == anonymous


@pytest.mark.parametrize("name", ASSETS)
def test_it_leaves_no_cookie(owner_client, name):
    assert not owner_client.get(address(name)).cookies


@pytest.mark.parametrize("name", ASSETS)
def test_it_is_asked_for_anew_each_time(client, name):
    assert client.get(address(name)).headers["Cache-Control"] == "no-cache"


@pytest.mark.parametrize("name", ["phone", "worker"])
def test_unchanged_it_costs_a_line(client, name):
    first = client.get(address(name), headers={"accept-encoding": "gzip"})
    assert first.headers["Content-Encoding"] == "gzip"
    again = client.get(
        address(name),
        headers={"accept-encoding": "gzip", "if-none-match": first.headers["ETag"]},
    )
    assert (again.status_code, again.content) == (304, b"")


@pytest.mark.parametrize("name", ASSETS)
def test_it_takes_no_post(client, name):
    assert client.post(address(name)).status_code == 405


@pytest.mark.parametrize("name", PAGES)
def test_the_shell_keeps_the_policy_that_forbids_inline_scripts(client, name):
    reply = client.get(address(name))
    assert "default-src 'self'" in reply.headers["Content-Security-Policy"]
    html = reply.content.decode()
    assert not re.search(r"<script(?![^>]*\bsrc=)|\sstyle=|\son\w+=", html)


def test_the_shell_brings_neither_htmx_nor_a_chart(client):
    html = client.get(address("phone")).content.decode()
    assert set(re.findall(r'<script src="([^"]+)"', html)) == {"/static/js/field/app.js"}
    assert "csrf" not in html


def test_the_worker_is_a_script_that_reaches_the_phones_pages(client):
    reply = client.get(address("worker"))
    assert reply.headers["Content-Type"] == "text/javascript; charset=utf-8"
    assert address("worker").rpartition("/")[0] + "/" == address("phone")


def test_the_page_in_the_worker_is_the_page_that_is_served(client):
    html = client.get(address("phone")).content.decode()
    assert of_worker("SHELL") == html
    policy = client.get(address("phone")).headers["Content-Security-Policy"]
    assert of_worker("HEADERS")["Content-Security-Policy"] == policy


def test_every_module_and_style_of_the_page_is_kept(client):
    html = client.get(address("phone")).content.decode()
    tags = re.findall(r"<(?:script|link)[^>]+>", html)
    needed = {
        re.search(r'(?:src|href)="([^"]+)"', tag)[1]
        for tag in tags
        if re.search(r"stylesheet|modulepreload|type=\"module\"", tag)
    }
    assert needed <= set(of_worker("FILES"))
    assert len(needed) > 10


def imported():
    folder = Path(settings.BASE_DIR) / "static" / shell.SCRIPTS
    texts = [path.read_text() for path in folder.glob("*.js")]
    return {name for text in texts for name in re.findall(r'from "\./([^"]+)";', text)}


def test_whatever_a_module_imports_is_kept():
    kept = {path.rpartition("/")[2] for path in of_worker("FILES")}
    assert len(imported()) > 5
    assert imported() <= kept


def test_every_kept_file_is_there():
    files = of_worker("FILES")
    assert len(files) == len(set(files))
    assert all(finders.find(file.removeprefix("/static/")) for file in files)


def test_names_without_a_hash_are_asked_for_past_the_browsers_cache():
    assert of_worker("FETCH") == "no-cache"


def test_hashed_names_may_come_from_the_browsers_cache(monkeypatch):
    monkeypatch.setattr(shell, "static", lambda name: f"/static/{name[:-3]}.0a1b2c3d4e5f.js")
    assert of_worker("FETCH", shell.worker()) == "default"


def test_the_version_stays_while_nothing_changes():
    assert of_worker("VERSION") == of_worker("VERSION")


@pytest.mark.parametrize("name", [*shell.scripts(), *shell.STYLES, shell.ICON, shell.WORKER])
def test_the_version_changes_with_any_file(monkeypatch, name):
    before = of_worker("VERSION")
    read = shell._contents
    # As many bytes as before: it is the contents that count.
    monkeypatch.setattr(
        shell, "_contents", lambda it: read(it)[:-1] + b"~" if it == name else read(it)
    )
    assert of_worker("VERSION") != before


def test_the_version_changes_with_the_page(monkeypatch):
    before = of_worker("VERSION")
    html = shell.page()
    monkeypatch.setattr(shell, "page", lambda: html + "<!-- -->")
    assert of_worker("VERSION") != before


def test_the_manifest_puts_the_phones_pages_on_a_home_screen(client):
    reply = client.get(address("manifest"))
    assert reply.headers["Content-Type"] == "application/manifest+json"
    told = reply.json()
    assert told["start_url"] == told["scope"] == told["id"] == address("phone")
    assert told["display"] == "standalone"


def test_every_icon_of_the_manifest_has_the_size_it_says(client):
    icons = client.get(address("manifest")).json()["icons"]
    assert {(icon["sizes"], icon["purpose"]) for icon in icons} == {
        ("192x192", "any"),
        ("512x512", "any"),
        ("512x512", "maskable"),
    }
    for icon in icons:
        with Image.open(finders.find(icon["src"].removeprefix("/static/"))) as picture:
            assert f"{picture.width}x{picture.height}" == icon["sizes"]
            assert picture.format == "PNG"


def test_a_maskable_icon_leaves_no_corner_bare():
    with Image.open(finders.find("img/phone-512-maskable.png")) as picture:
        pixels = picture.convert("RGBA")
        corners = [pixels.getpixel(at) for at in ((0, 0), (511, 0), (0, 511), (511, 511))]
    assert set(corners) == {(0x14, 0x41, 0x5F, 255)}

"""A photo is shown to who has signed in, as what it is, and kept by nobody else."""

from uuid import uuid4

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.urls import reverse

from tests.factories import leaks

pytestmark = pytest.mark.django_db
BYTES = b"\xff\xd8\xff\xe0 the bytes of a picture"


@pytest.fixture(autouse=True)
def folder(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    return tmp_path


@pytest.fixture
def check(db):
    return leaks.check(leaks.a_line("L7"), "leak_left")


@pytest.fixture
def photo(check):
    name = default_storage.save("one.jpg", ContentFile(BYTES))
    return leaks.photo(leak_check=check, file_name=name)


def address(photo):
    return reverse("field:photo", args=[photo.uuid])


def test_its_bytes_come_back_as_they_came_in(crew_client, photo):
    reply = crew_client.get(address(photo))
    assert reply.status_code == 200
    assert reply.getvalue() == BYTES


@pytest.mark.parametrize("kind", ["jpeg", "png", "webp"])
def test_it_is_called_what_it_is(crew_client, photo, kind):
    type(photo).objects.update(kind=kind)
    reply = crew_client.get(address(photo))
    assert reply.headers["Content-Type"] == f"image/{kind}"
    assert reply.headers["Content-Disposition"] == f'inline; filename="{photo.uuid}.{kind}"'
    reply.close()


@pytest.mark.parametrize(
    ("header", "value"),
    [
        ("X-Content-Type-Options", "nosniff"),
        ("Cache-Control", "private, max-age=31536000, immutable"),
        ("Content-Security-Policy", "default-src 'none'; sandbox"),
        ("Content-Length", str(len(BYTES))),
    ],
)
def test_it_is_safe_to_open(crew_client, photo, header, value):
    reply = crew_client.get(address(photo))
    assert reply.headers[header] == value
    reply.close()


def test_a_stranger_is_shown_nothing(client, photo):
    reply = client.get(address(photo))
    assert reply.status_code == 302
    assert "sign-in" in reply.url


def test_it_takes_nothing(crew_client, photo):
    assert crew_client.post(address(photo)).status_code == 405


def test_an_unknown_photo_is_not_found(crew_client):
    assert crew_client.get(reverse("field:photo", args=[uuid4()])).status_code == 404


def test_a_row_whose_file_is_gone_is_not_found(crew_client, photo, folder):
    (folder / photo.file_name).unlink()
    assert crew_client.get(address(photo)).status_code == 404


def test_a_file_outside_of_the_photos_is_never_given(crew_client, check, tmp_path_factory):
    secret = tmp_path_factory.mktemp("else") / "secret_key"
    secret.write_text("secret")
    row = leaks.photo(leak_check=check, file_name=f"../{secret.parent.name}/secret_key")
    assert crew_client.get(address(row)).status_code == 400


def test_the_page_of_its_check_shows_it(crew_client, photo, check):
    text = crew_client.get(reverse("field:saved", args=[check.uuid])).content.decode()
    assert f'src="{address(photo)}"' in text


def test_a_photo_of_an_obstruction_is_shown_too(crew_client, photo):
    type(photo).objects.filter(pk=photo.pk).update(
        leak_check=None, obstruction=leaks.obstruction(leaks.a_line("L8"))
    )
    reply = crew_client.get(address(photo))
    assert reply.status_code == 200
    reply.close()

"""An address that leads nowhere is answered in words a person can use."""

import pytest

pytestmark = pytest.mark.django_db


def _page(client, path):
    response = client.get(path)
    assert response.status_code == 404
    return response.content.decode()


def test_an_address_nothing_answers_is_told_without_the_frameworks_words(owner_client):
    page = _page(owner_client, "/no/such/place/")
    assert "Nothing stands at this address" in page
    assert "Resolver404" not in page


def test_our_own_words_about_what_is_missing_are_kept(owner_client):
    page = _page(owner_client, "/settings/no.such.key/")
    assert "There is no setting called no.such.key." in page
    assert "Nothing stands at this address" not in page

"""The pages of the woods: who may see and change what, and what they say."""

import pytest
from django.urls import reverse

from tests.factories import woods

ON_NOTHING = ["woodlots", "woodlot_add", "landowners", "landowner_add"]
ON_A_WOODLOT = [
    "woodlot",
    "woodlot_edit",
    "lines",
    "paper",
    "line_add",
    "pump_house_add",
    "lease_add",
]


@pytest.mark.parametrize("name", ON_NOTHING)
def test_pages_open_before_anything_is_entered(owner_client, name):
    assert owner_client.get(reverse(f"woods:{name}")).status_code == 200


@pytest.mark.parametrize("name", ON_A_WOODLOT)
def test_pages_of_a_bare_woodlot_open(owner_client, name):
    lot = woods.woodlot()
    assert owner_client.get(reverse(f"woods:{name}", args=[lot.pk])).status_code == 200

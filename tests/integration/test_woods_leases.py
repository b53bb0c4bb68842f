"""A lease written down wrongly is mended, by the same rules it was written under."""

from datetime import date
from decimal import Decimal

import pytest
from django.urls import reverse

from apps.woods import actions
from apps.woods.models import Lease
from tests.factories import woods

pytestmark = pytest.mark.django_db


@pytest.fixture
def lot():
    return woods.woodlot("North", landowner=woods.landowner())


@pytest.fixture
def lease(lot):
    return woods.lease(lot, landowner=lot.landowner)


def edit(client, lease, **typed):
    url = reverse("woods:lease_edit", args=[lease.pk])
    form = client.get(url).context["form"]
    shown = {field.name: field.value() for field in form if field.value() is not None}
    return client.post(url, shown | typed)


def terms(lease):
    lease.refresh_from_db()
    return (lease.rule, lease.rate_per_tap, lease.index_then, lease.gross_share)


@pytest.mark.parametrize(
    "given",
    [
        {"rule": "fixed", "rate_per_tap": Decimal("0.8525")},
        {"rule": "indexed", "rate_per_tap": Decimal("0.8"), "index_then": Decimal("310.326")},
        {"rule": "share", "rate_per_tap": None, "gross_share": Decimal("0.1")},
        {"rule": "share", "rate_per_tap": None, "gross_share": Decimal("0.1255")},
        {"rule": "share", "rate_per_tap": None, "gross_share": Decimal(1)},
    ],
)
def test_saved_untouched_it_is_untouched(owner_client, lot, given):
    lease = woods.lease(lot, landowner=lot.landowner, **given)
    before = terms(lease)
    assert edit(owner_client, lease).status_code == 302
    assert terms(lease) == before
    assert (lease.starts_on, lease.ends_on) == (date(2022, 5, 1), date(2027, 4, 30))


@pytest.mark.parametrize(
    ("typed", "after"),
    [
        ({"rate_per_tap": "0.95"}, ("fixed", Decimal("0.95"), None, None)),
        (
            {"rule": "indexed", "index_then": "300"},
            ("indexed", Decimal("0.80"), Decimal(300), None),
        ),
        (
            {"rule": "share", "gross_share": "12.5", "rate_per_tap": ""},
            ("share", None, None, Decimal("0.125")),
        ),
    ],
)
def test_its_terms_can_be_changed(owner_client, lease, typed, after):
    edit(owner_client, lease, **typed)
    assert terms(lease) == after
    assert Lease.objects.count() == 1


def test_it_may_keep_its_own_first_day_but_not_take_anothers(owner_client, lot, lease):
    next_one = woods.lease(
        lot, landowner=lot.landowner, starts_on=date(2027, 5, 1), ends_on=date(2032, 4, 30)
    )
    assert edit(owner_client, lease, ends_on="2027-04-15").status_code == 302
    response = edit(owner_client, next_one, starts_on="2022-05-01")
    assert "already has a lease that starts that day" in str(response.context["form"].errors)
    next_one.refresh_from_db()
    assert next_one.starts_on == date(2027, 5, 1)


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"rate_per_tap": ""}, "rate_per_tap"),
        ({"rule": "share"}, "gross_share"),
        ({"ends_on": "2022-05-01"}, "ends_on"),
        ({"landowner": ""}, "landowner"),
    ],
)
def test_what_is_wrong_is_named_and_nothing_is_changed(owner_client, lease, typed, field):
    before = terms(lease)
    response = edit(owner_client, lease, **typed)
    assert list(response.context["form"].errors) == [field]
    assert terms(lease) == before


def test_the_woodlots_page_leads_an_owner_to_it(owner_client, lot, lease):
    page = owner_client.get(reverse("woods:woodlot", args=[lot.pk])).content.decode()
    assert reverse("woods:lease_edit", args=[lease.pk]) in page
    assert edit(owner_client, lease).url == reverse("woods:woodlot", args=[lot.pk])


def test_a_lease_that_is_not_there_is_not_found(owner_client):
    assert owner_client.get(reverse("woods:lease_edit", args=[9])).status_code == 404


def test_a_changed_lease_stays_in_its_woodlot(lot, lease):
    with pytest.raises(actions.Taken, match="North already has a lease"):
        actions.save_lease(
            woodlot=lot,
            landowner=lot.landowner,
            rule="share",
            gross_share=Decimal("0.1"),
            starts_on=lease.starts_on,
            ends_on=lease.ends_on,
        )
    actions.save_lease(woodlot=lot, lease=lease, starts_on=date(2022, 5, 2))
    lease.refresh_from_db()
    assert (lease.woodlot, lease.starts_on) == (lot, date(2022, 5, 2))

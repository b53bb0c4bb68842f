"""Sap whose sugar nobody measured: in the books as sap, in no figure of sugar, and said so."""

import re
from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.urls import reverse

from apps.domain.units import litres_from_us_gallons as gallons
from apps.season.queries import season_yield
from apps.sugarhouse import actions, prediction, queries
from apps.sugarhouse.models import SapIn
from tests.factories import sugarhouse, woods

pytestmark = pytest.mark.django_db

SAP = reverse("sugarhouse:sap")
BATCHES = reverse("sugarhouse:batches")
REVIEW = reverse("season:review")


def text(response):
    plain = re.sub(r"<(script|style).*?</\1>|<[^>]+>", " ", response.content.decode(), flags=re.S)
    return re.sub(r"\s+", " ", plain)


def load(woodlot, volume, brix, *, left=None):
    """A load in whole gallons; nothing is left of it unless said."""
    return sugarhouse.sap_in(
        woodlot,
        volume_litres=gallons(float(volume)),
        remaining_litres=gallons(float(volume if left is None else left)),
        brix=brix,
    )


def receipt(row):
    return reverse("sugarhouse:sap_receipt", args=[row.pk])


def sweeten(client, row, brix):
    there = reverse("sugarhouse:sap_sugar", args=[row.pk])
    return client.post(there, {"brix": brix}, follow=True)


@pytest.fixture
def north():
    return woods.woodlot("North")


@pytest.fixture
def south():
    return woods.woodlot("South")


@pytest.fixture
def unread(north):
    return load(north, 300, None)


@pytest.fixture
def read(south):
    return load(south, 430, 2.0)


def test_load_can_be_logged_without_its_sugar(crew_client, north):
    typed = {"uuid": uuid4(), "at": "2026-03-16T06:30", "woodlot": north.pk, "share": "100"}
    page = crew_client.post(SAP, typed | {"volume": "300", "brix": ""}, follow=True)
    row = SapIn.objects.get()
    assert row.brix is None
    assert row.volume_litres == pytest.approx(gallons(300))
    assert "of unknown sugar" in text(page)


def test_nothing_is_promised_by_unknown_sugar():
    assert prediction.equivalent(1000.0, None, 66.0) == prediction.NOTHING


def test_stock_blends_what_was_measured_and_names_the_rest(unread, read):
    stock = queries.stock(2026)
    assert stock.litres == pytest.approx(gallons(730))
    assert stock.unread_litres == pytest.approx(gallons(300))
    assert stock.brix == pytest.approx(2.0)


def test_stock_of_unknown_sugar_alone_has_no_brix(unread):
    assert queries.stock(2026).brix is None


@pytest.mark.parametrize("there", [SAP, BATCHES])
def test_pages_tell_the_stock_of_unknown_sugar_apart(crew_client, unread, read, there):
    words = text(crew_client.get(there))
    assert "730 gal of sap at 2.00 Brix" in words
    assert "without the 300 gal of unknown sugar" in words


def test_receipt_says_unknown_and_offers_to_fill_it_in(crew_client, unread, read):
    words = text(crew_client.get(receipt(unread)))
    assert "300 gal at unknown sugar" in words
    assert "Fill in its sugar" in words
    assert "Fill in its sugar" not in text(crew_client.get(receipt(read)))


def test_sugar_found_later_is_filled_in(crew_client, unread):
    page = sweeten(crew_client, unread, "2.4")
    unread.refresh_from_db()
    assert unread.brix == 2.4
    assert "300 gal at 2.4 Brix" in text(page)


@pytest.mark.parametrize("typed", ["", "0.4", "41", "sweet", "nan"])
def test_impossible_sugar_is_refused_and_stays_typed(crew_client, unread, typed):
    page = sweeten(crew_client, unread, typed)
    assert page.context["sugar_form"].errors["brix"]
    assert page.context["sugar_form"]["brix"].value() == typed
    unread.refresh_from_db()
    assert unread.brix is None


@pytest.mark.parametrize("typed", ["0.5", "40"])
def test_sugar_at_its_limits_is_taken(crew_client, unread, typed):
    sweeten(crew_client, unread, typed)
    unread.refresh_from_db()
    assert unread.brix == float(typed)


def test_sugar_once_read_is_never_written_over(crew_client, read):
    page = sweeten(crew_client, read, "2.4")
    assert "another reading already" in text(page)
    read.refresh_from_db()
    assert read.brix == 2.0


def test_same_sugar_sent_twice_is_no_refusal(unread):
    for _ in range(2):
        actions.record_sugar(sap_in=unread, brix=2.4)
    with pytest.raises(actions.SugarKnown):
        actions.record_sugar(sap_in=unread, brix=2.5)


def test_filling_in_is_never_a_plain_link(crew_client, unread):
    assert crew_client.get(reverse("sugarhouse:sap_sugar", args=[unread.pk])).status_code == 405


def test_sugar_of_sap_that_is_not_there_is_not_found(crew_client):
    assert crew_client.post(reverse("sugarhouse:sap_sugar", args=[999_999])).status_code == 404


# Batches: 430 gal at 2.0 promise 9.947 gal (87.1 / 2 - 0.32 = 43.23 to one).


def boil(*rows, syrup=9.5):
    return actions.record_batch(
        uuid=uuid4(),
        season=2026,
        boiled_at=sugarhouse.AT + timedelta(hours=1),
        syrup_litres=gallons(syrup),
        syrup_brix=66.0,
        crew=None,
        draws={row.pk: row.volume_litres for row in rows},
    )


def account(batch):
    (found,) = queries.batch_accounts(queries.with_sap(type(batch).objects.all()), 66.0)
    return found


def test_batch_with_some_sugar_unknown_predicts_nothing(unread, read):
    found = account(boil(unread, read))
    assert (found.blend, found.predicted, found.recovery) == (None, None, None)
    assert found.sap_litres == pytest.approx(gallons(730))
    assert found.unread_litres == pytest.approx(gallons(300))


def test_its_sources_know_no_share(unread, read):
    sources = account(boil(unread, read)).sources
    assert [row.name for row in sources] == ["North", "South"]
    assert [row.sugar_share for row in sources] == [None, None]
    assert sources[0].sugar_kg is None


def test_only_source_has_all_the_syrup_however_sweet(unread, north):
    (source,) = account(boil(unread, load(north, 100, 2.0))).sources
    assert (source.sugar_share, source.sugar_kg) == (1.0, None)


def test_season_accounts_agree_with_the_pages(unread, read):
    batch = boil(unread, read)
    assert queries.season_accounts(2026, 66.0) == [account(batch)]


@pytest.mark.parametrize(
    "words",
    [
        "730 gal of unknown sugar",
        "Sugar unknown for 300 gal of this sap",
        "shared out to no source",
        "sugar unknown",
        "Recovery unknown",
    ],
)
def test_batch_page_says_what_is_missing(crew_client, unread, read, words):
    batch = boil(unread, read)
    assert words in text(crew_client.get(reverse("sugarhouse:batch", args=[batch.pk])))


def test_batch_page_of_one_source_does_not_say_it_is_unshared(crew_client, unread):
    batch = boil(unread)
    words = text(crew_client.get(reverse("sugarhouse:batch", args=[batch.pk])))
    assert "Sugar unknown for 300 gal" in words
    assert "shared out to no source" not in words


def test_list_of_batches_marks_the_gap(crew_client, unread, read):
    boil(unread, read)
    assert "2 sources, some sugar unknown" in text(crew_client.get(BATCHES))


# The season.


def by_name(review):
    return {row.name: row for row in (*review.woodlots, review.all_woodlots, review.operation)}


def test_unread_sap_counts_as_sap_and_in_no_sugar_figure(unread, read):
    rows = by_name(season_yield(2026, "us", 66.0))
    north, whole = rows["North"], rows["Operation"]
    assert (north.sap, north.unread_sap, north.equivalent) == (300, 300, 0)
    assert north.mean_brix is None
    assert (whole.sap, whole.unread_sap) == (730, 300)
    assert whole.equivalent == Decimal("9.95")
    assert whole.mean_brix == pytest.approx(2.0)


def test_what_was_dumped_unread_is_missing_from_the_loss_alone(north):
    row = load(north, 300, None, left=0)
    sugarhouse.sap_out(row, kind="dumped", volume_litres=gallons(300.0))
    found = by_name(season_yield(2026, "us", 66.0))["North"]
    assert (found.unread["dumped"], found.unread_kept) == (300, 0)


def test_unshared_syrup_is_drawn_and_nobodys(unread, read):
    boil(unread, read)
    boil(load(read.woodlot, 100, 2.0), syrup=2.0)
    review = season_yield(2026, "us", 66.0)
    assert (review.drawn, review.unshared, review.untraced) == (
        Decimal("11.50"),
        Decimal("9.50"),
        0,
    )
    assert review.operation.allocated == Decimal("2.00")


def test_recovery_leaves_the_unread_batch_out(unread, read):
    boil(unread, syrup=7.0)
    boil(read)
    recovery = season_yield(2026, "us", 66.0).recovery
    assert recovery.share == pytest.approx(9.5 / (430 / 43.23))
    assert (recovery.batches, recovery.batches_unread, recovery.batches_without_sap) == (2, 1, 0)


def test_filling_in_the_sugar_completes_every_figure(unread, read):
    boil(unread, read, syrup=16.0)
    actions.record_sugar(sap_in=unread, brix=2.0)
    review = season_yield(2026, "us", 66.0)
    assert (review.unshared, review.recovery.batches_unread) == (0, 0)
    # 300 and 430 gal of one sugar: 16.00 x 300 / 730 = 6.575 and 9.425.
    assert [row.allocated for row in review.woodlots] == [Decimal("6.58"), Decimal("9.42")]


@pytest.mark.parametrize(
    "words",
    [
        "Sugar unknown for 300 of 730 gal of sap",
        "Left out: 1 batch with sap of unknown sugar",
        "Batches of several sources, some sugar unknown 9.50 not shared out",
        "at least 9.95",
        "nobody knows how much",
    ],
)
def test_review_says_what_is_missing(crew_client, unread, read, words):
    boil(unread, read)
    assert words in text(crew_client.get(REVIEW))


def test_review_calls_the_yield_of_unread_sap_unknown_not_nothing(crew_client, unread):
    woods.line(unread.woodlot, planned_taps=100)
    words = text(crew_client.get(REVIEW))
    assert "North 100 planned 300 3.00 unknown unknown unknown" in words


def test_review_of_sap_all_measured_speaks_of_no_gap(crew_client, read):
    words = text(crew_client.get(REVIEW))
    assert "at least" not in words
    assert "Sugar unknown" not in words


def test_season_of_unread_sap_alone_is_not_empty(unread):
    assert not season_yield(2026, "us", 66.0).is_empty


def test_sap_boiled_before_its_sugar_was_read_can_still_be_struck_out(unread):
    actions.undo_batch(batch=boil(unread))
    assert queries.stock(2026).unread_litres == pytest.approx(gallons(300))

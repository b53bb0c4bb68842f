from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.season.queries.shown import Steps, per_tap, percent_shares
from apps.season.queries.yields import allocate
from apps.sugarhouse.models import Batch
from apps.sugarhouse.queries import BatchAccount, BatchSource

SUGAR_KG = st.floats(0.001, 1e6)
SOURCES = st.dictionaries(st.none() | st.integers(1, 8), SUGAR_KG, min_size=1)
BATCHES = st.lists(st.tuples(st.floats(0.01, 1e5), SOURCES), max_size=12)


def account(syrup_litres, sugar_kg_by_source):
    whole_kg = sum(sugar_kg_by_source.values())
    sources = tuple(
        BatchSource(woodlot, str(woodlot), 1.0, sugar_kg, sugar_kg / whole_kg)
        for woodlot, sugar_kg in sugar_kg_by_source.items()
    )
    batch = Batch(syrup_litres=syrup_litres, syrup_brix=66.0)
    return BatchAccount(batch, sources, None, None, syrup_litres)


@pytest.mark.parametrize("unit_system", ["us", "metric"])
@given(batches=BATCHES)
def test_shares_of_all_batches_sum_to_the_syrup_shown(unit_system, batches):
    steps = Steps(unit_system, 2)
    found = allocate([account(*batch) for batch in batches], steps)
    shown = sum((steps.shown(litres) for litres, _ in batches), Decimal(0))
    assert sum(found.values(), Decimal(0)) == shown


@given(litres=st.floats(0.01, 1e5), sugar=SOURCES)
def test_no_share_is_more_than_a_hundredth_from_its_quota(litres, sugar):
    steps = Steps("us", 2)
    found = allocate([account(litres, sugar)], steps)
    for source, part in found.items():
        quota = float(steps.shown(litres)) * sugar[source] / sum(sugar.values())
        assert abs(float(part) - quota) < 0.01 + 1e-9


@given(st.lists(st.decimals(0, 10_000, places=2), min_size=1, max_size=9))
def test_percentages_sum_to_a_hundred_or_are_unknown(amounts):
    shares = percent_shares(amounts)
    if any(amounts):
        assert sum(shares) == 100
    else:
        assert set(shares) == {None}


def test_batch_without_sap_is_shared_with_nobody():
    assert allocate([account(10.0, {})], Steps("us", 2)) == {}


@pytest.mark.parametrize(
    ("taps", "expected"), [(None, None), (0, None), (3, Decimal("0.33")), (200, Decimal("0.01"))]
)
def test_per_tap_is_unknown_without_taps_and_halves_round_up(taps, expected):
    assert per_tap(Decimal(1), taps, 2) == expected

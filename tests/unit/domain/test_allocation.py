"""Shares that sum to the whole exactly, every time."""

from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.domain.allocation import allocate, largest_remainder, shares
from apps.domain.errors import DomainError, OutOfRange

WEIGHTS = st.lists(st.floats(0.0, 1e6), min_size=1, max_size=12).filter(any)
# Hamilton's method on published examples.
PUBLISHED = [
    # US House, census of 1790, 120 seats: the bill by Hamilton's method that Washington vetoed.
    # Populations and seats from memory of Balinski and Young, Fair Representation (1982), ch. 2.
    (
        {
            "CT": (236841, 8),
            "DE": (55540, 2),
            "GA": (70835, 2),
            "KY": (68705, 2),
            "MD": (278514, 9),
            "MA": (475327, 16),
            "NH": (141822, 5),
            "NJ": (179570, 6),
            "NY": (331589, 11),
            "NC": (353523, 12),
            "PA": (432879, 14),
            "RI": (68446, 2),
            "SC": (206236, 7),
            "VT": (85533, 3),
            "VA": (630560, 21),
        },
        120,
    ),
    # The textbook Alabama paradox: one seat more, one share less (weights 6, 6, 2; 10 then 11).
    ({"a": (6, 4), "b": (6, 4), "c": (2, 2)}, 10),
    ({"a": (6, 5), "b": (6, 5), "c": (2, 1)}, 11),
]


@pytest.mark.parametrize(("rows", "total"), PUBLISHED)
def test_published_apportionments_are_reproduced(rows, total):
    weights = [weight for weight, _ in rows.values()]
    assert largest_remainder(weights, total) == [seats for _, seats in rows.values()]


@pytest.mark.parametrize(
    ("weights", "total", "expected"),
    [
        ([1.0, 1.0, 1.0], 10, [4, 3, 3]),
        ([1.0, 1.0, 1.0], 11, [4, 4, 3]),
        ([0.0, 5.0], 7, [0, 7]),
        ([0.1, 0.2, 0.3], 6, [1, 2, 3]),
        ([3.0], 9, [9]),
        ([2.0, 1.0], 0, [0, 0]),
        ([1e-300, 1.0], 3, [0, 3]),
    ],
)
def test_leftovers_go_to_the_largest_remainder_then_to_the_first_named(weights, total, expected):
    assert largest_remainder(weights, total) == expected


def test_ten_thousand_random_batches_sum_exactly():
    chance = np.random.default_rng(9)
    for _ in range(10_000):
        weights = chance.uniform(0.0, 900.0, chance.integers(1, 10)).tolist()
        total = int(chance.integers(0, 100_000))
        units = largest_remainder(weights, total)
        assert sum(units) == total
        quotas = [total * weight / sum(weights) for weight in weights]
        assert all(abs(unit - quota) < 1 + 1e-6 for unit, quota in zip(units, quotas, strict=True))


@given(WEIGHTS, st.integers(0, 10**12))
def test_nobody_is_a_whole_unit_away_from_the_quota(weights, total):
    units = largest_remainder(weights, total)
    assert sum(units) == total
    assert all(unit >= 0 for unit in units)
    assert all(unit == 0 for unit, weight in zip(units, weights, strict=True) if weight == 0)


@given(WEIGHTS, st.integers(0, 10_000))
def test_the_unit_of_the_weights_does_not_matter(weights, total):
    # Doubling is exact in binary, so the shares may not move at all.
    assert largest_remainder([2 * w for w in weights], total) == largest_remainder(weights, total)


@pytest.mark.parametrize(
    ("amount", "step", "weights", "expected"),
    [
        ("100.00", "0.01", [1, 1, 1], ["33.34", "33.33", "33.33"]),
        ("41.5", "0.5", [3, 1], ["31.0", "10.5"]),
        ("41.5", "0.1", [3, 1], ["31.1", "10.4"]),
        ("0.0", "0.1", [3, 1], ["0.0", "0.0"]),
    ],
)
def test_an_amount_is_shared_in_the_step_it_is_shown_in(amount, step, weights, expected):
    parts = allocate(Decimal(amount), Decimal(step), weights)
    assert [str(part) for part in parts] == expected


@given(WEIGHTS, st.integers(0, 10**7))
def test_cents_sum_to_the_amount(weights, cents):
    amount = Decimal(cents) / 100
    assert sum(allocate(amount, Decimal("0.01"), weights)) == amount


def test_shares_and_their_errors_match_a_simulation():
    # 40,000 draws give a spread to 0.35 %; tolerance 2 % also covers the curvature left out.
    weights, errors = [120.0, 300.0, 45.0], [3.0, 6.0, 2.0]
    drawn = np.random.default_rng(4).normal(weights, errors, (40_000, 3))
    parts = drawn / drawn.sum(axis=1, keepdims=True)
    for share, simulated in zip(shares(weights, errors), parts.T, strict=True):
        assert share.fraction == pytest.approx(simulated.mean(), abs=1e-3)
        assert share.error == pytest.approx(simulated.std(), rel=0.02)


def test_a_lone_source_has_the_whole_without_doubt():
    (only,) = shares([250.0], [12.0])
    assert (only.fraction, only.error) == (1.0, 0.0)


@given(WEIGHTS)
def test_shares_sum_to_one(weights):
    assert sum(s.fraction for s in shares(weights, [0.0] * len(weights))) == pytest.approx(1.0)


@pytest.mark.parametrize("weights", [[], [0.0, 0.0]])
def test_weights_that_share_nothing_out_are_refused(weights):
    with pytest.raises(DomainError, match="at least one above 0"):
        largest_remainder(weights, 5)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: largest_remainder([1.0, -1.0], 5), "weights must be at least 0, not -1"),
        (lambda: largest_remainder([float("nan")], 5), "weights must be at least 0, not nan"),
        (lambda: largest_remainder([1.0], -1), "total_units must be at least 0, not -1"),
        (lambda: allocate(Decimal("-1"), Decimal("0.1"), [1.0]), "amount must be at least 0"),
        (lambda: shares([1.0, 2.0], [0.1, -0.1]), "errors must be at least 0, not -0.1"),
        (lambda: shares([1.0], [float("inf")]), "errors must be at least 0, not inf"),
    ],
)
def test_what_cannot_be_is_refused_with_value_and_range(call, message):
    with pytest.raises(OutOfRange, match=message):
        call()


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: allocate(Decimal("1.05"), Decimal("0.1"), [1.0]), "multiple of 0.1, not 1.05"),
        (lambda: allocate(Decimal(1), Decimal(0), [1.0]), "step must be above 0, not 0"),
        (lambda: allocate(Decimal(1), Decimal("NaN"), [1.0]), "step must be above 0, not NaN"),
        (lambda: shares([1.0], []), "1 weights need as many errors, not 0"),
    ],
)
def test_what_does_not_fit_together_is_refused(call, message):
    with pytest.raises(DomainError, match=message):
        call()


def test_one_infinite_error_among_known_ones_is_refused():
    with pytest.raises(OutOfRange, match="errors must be at least 0, not inf"):
        shares([1.0, 1.0], [0.1, float("inf")])

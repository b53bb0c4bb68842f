"""Water taken out by membrane or added from a bucket: mass is kept."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.domain.blend import Portion, blend
from apps.domain.concentration import add_to_reach, brix_after_removing, concentrate
from apps.domain.errors import OutOfRange
from apps.domain.sugar import density_kg_m3, sap_per_syrup_mass_balance, sugar_mass_kg

LITRES = st.floats(0.1, 50_000.0)
# UVM Extension (Maple Minute) and producers' rule: share of the volume removed, 1 - x / y.
RULE_SHARE_REMOVED = [(2, 4, 0.50), (2, 8, 0.75), (2, 12, 0.8333), (2, 16, 0.875), (2, 20, 0.90)]
# 1,000 of feed by mass balance, worked apart with CRC Handbook densities at 20 C (1006.0, 1029.9,
# 1038.1, 1081.0 at 2, 8, 10, 20 Brix; water 998.2): concentrate, water. Tolerance 0.02 %.
BY_HAND = [
    (2, 8, 1006.0 * 2 / (1029.9 * 8) * 1000, 1006.0 * (1 - 2 / 8) / 998.2 * 1000),
    (2, 10, 1006.0 * 2 / (1038.1 * 10) * 1000, 1006.0 * (1 - 2 / 10) / 998.2 * 1000),
    (2, 20, 1006.0 * 2 / (1081.0 * 20) * 1000, 1006.0 * (1 - 2 / 20) / 998.2 * 1000),
    (8, 20, 1029.9 * 8 / (1081.0 * 20) * 1000, 1029.9 * (1 - 8 / 20) / 998.2 * 1000),
]


@pytest.mark.parametrize(("feed", "target", "share"), RULE_SHARE_REMOVED)
def test_the_rule_of_thumb_is_given_beside(feed, target, share):
    result = concentrate(1000.0, float(feed), float(target))
    assert 1 - result.rule_concentrate_litres / 1000 == pytest.approx(share, abs=5e-5)
    # The rule counts water in volumes of feed; exact shares lie at most 1.1 points above it.
    assert share < result.water_share_of_feed < share + 0.011


@pytest.mark.parametrize(("feed", "target", "concentrate_litres", "water_litres"), BY_HAND)
def test_concentrate_matches_hand_working(feed, target, concentrate_litres, water_litres):
    result = concentrate(1000.0, float(feed), float(target))
    assert result.concentrate_litres == pytest.approx(concentrate_litres, rel=2e-4)
    assert result.water_litres == pytest.approx(water_litres, rel=2e-4)


def test_a_small_measured_pass():
    # A home blog's pass: 9 gal at 2.3 Brix came out at 2.8; the rule removes 17.9 %.
    result = concentrate(9.0, 2.3, 2.8)
    assert result.water_litres / 9.0 == pytest.approx(0.179, abs=0.002)


@given(LITRES, st.floats(0.5, 20.0), st.floats(0.0, 45.0))
def test_concentrating_keeps_sugar_and_water(volume, brix, more):
    result = concentrate(volume, brix, brix + more)
    sugar = sugar_mass_kg(volume, brix)
    water = volume / 1000 * density_kg_m3(brix) - sugar
    mass_left = result.concentrate_litres / 1000 * density_kg_m3(brix + more)
    sugar_left = sugar_mass_kg(result.concentrate_litres, brix + more)
    assert sugar_left == pytest.approx(sugar, rel=1e-9)
    assert mass_left - sugar_left + result.water_kg == pytest.approx(water, rel=1e-9)


@given(LITRES, st.floats(0.5, 20.0), st.floats(0.0, 40.0))
def test_a_permeate_meter_tells_the_concentrates_brix(volume, brix, more):
    water = concentrate(volume, brix, brix + more).water_litres
    assert brix_after_removing(volume, brix, water) == pytest.approx(brix + more, rel=1e-9)


@given(st.floats(0.5, 10.0), st.floats(0.1, 10.0))
def test_concentrating_further_takes_more_water(brix, more):
    less = concentrate(1000.0, brix, brix + more).water_litres
    assert concentrate(1000.0, brix, brix + more + 0.5).water_litres > less


@given(st.floats(0.5, 4.0), st.floats(5.0, 20.0))
def test_syrup_is_the_same_by_way_of_the_membrane(brix, target):
    straight = 1000.0 / sap_per_syrup_mass_balance(brix, 66.0)
    result = concentrate(1000.0, brix, target)
    by_membrane = result.concentrate_litres / sap_per_syrup_mass_balance(target, 66.0)
    assert by_membrane == pytest.approx(straight, rel=1e-9)


def test_an_empty_tank_stays_empty():
    assert concentrate(0.0, 2.0, 8.0).water_kg == 0.0
    assert brix_after_removing(0.0, 2.0, 0.0) == 2.0


@pytest.mark.parametrize(
    ("brix", "added", "target", "litres"),
    # By the square of masses with CRC densities, per 1,000 litres: thin 68.9 syrup is not in CRC,
    # so 70 with water to 66; sweeten 2 with 60 to 10; thin 20 with 2 to 8.
    [
        (70.0, 0.0, 66.0, 1347.2 * (70 - 66) / 66 / 998.2 * 1000),
        (2.0, 60.0, 10.0, 1006.0 * (10 - 2) / (60 - 10) / 1286.4 * 1000),
        (20.0, 2.0, 8.0, 1081.0 * (20 - 8) / (8 - 2) / 1006.0 * 1000),
    ],
)
def test_what_to_add_matches_hand_working(brix, added, target, litres):
    result = add_to_reach(1000.0, brix, added, target)
    assert result.added_litres == pytest.approx(litres, rel=3e-4)


@given(LITRES, st.floats(30.0, 70.0), st.floats(0.0, 20.0), st.floats(0.05, 1.0))
def test_adding_what_was_asked_reaches_the_target(volume, brix, added, way):
    target = added + (brix - added) * way
    result = add_to_reach(volume, brix, added, target)
    mixed = blend([Portion(volume, brix), Portion(result.added_litres, added)])
    assert mixed.brix == pytest.approx(target, rel=1e-9)
    assert mixed.volume_litres == pytest.approx(result.product_litres, rel=1e-9)


@pytest.mark.parametrize("added", [0.0, 30.0, 66.0])
def test_nothing_is_added_when_already_there(added):
    result = add_to_reach(120.0, 30.0, added, 30.0)
    assert (result.added_litres, result.product_litres) == (0.0, 120.0)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: concentrate(-1.0, 2.0, 8.0), "volume_litres must be at least 0, not -1"),
        (lambda: concentrate(1.0, 8.0, 2.0), "brix must be between 0.5 and 2, not 8"),
        (lambda: concentrate(1.0, 0.0, 2.0), "brix must be between 0.5 and 2, not 0"),
        (lambda: concentrate(1.0, 2.0, 71.0), "target_brix must be between 0.5 and 70, not 71"),
        (
            lambda: brix_after_removing(100.0, 2.0, 99.0),
            "water_litres must be between 0 and 97.8978",
        ),
        (
            lambda: brix_after_removing(100.0, 2.0, -1.0),
            "water_litres must be between 0 and 97.8978",
        ),
        (lambda: add_to_reach(1.0, 2.0, 60.0, 60.0), "target_brix must be between 2 and 60"),
        (lambda: add_to_reach(1.0, 2.0, 60.0, 1.0), "target_brix must be between 2 and 60, not 1"),
        (lambda: add_to_reach(1.0, 8.0, 0.0, 0.0), "target_brix must be between .* and 8, not 0"),
        (lambda: add_to_reach(1.0, 8.0, 8.0, 9.0), "target_brix must be between 8 and 8, not 9"),
        (lambda: add_to_reach(-1.0, 8.0, 0.0, 4.0), "volume_litres must be at least 0, not -1"),
        (lambda: add_to_reach(1.0, 71.0, 0.0, 4.0), "brix must be between 0 and 70, not 71"),
        (lambda: add_to_reach(1.0, 8.0, -1.0, 4.0), "added_brix must be between 0 and 70, not -1"),
    ],
)
def test_what_cannot_be_is_refused_with_value_and_range(call, message):
    with pytest.raises(OutOfRange, match=message):
        call()

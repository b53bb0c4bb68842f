"""Blends keep every gram of sugar and water, and carry their errors."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.domain.blend import Portion, blend
from apps.domain.errors import DomainError, OutOfRange
from apps.domain.sugar import density_kg_m3, sugar_mass_kg

PORTIONS = st.lists(
    st.builds(Portion, st.floats(0.1, 50_000.0), st.floats(0.0, 70.0)), min_size=1, max_size=8
)
# Worked apart from our code with CRC Handbook densities at 20 C (998.2, 1006.0, 1029.9, 1038.1,
# 1081.0, 1127.0, 1176.5, 1229.5, 1286.4, 1322.4 at 0, 2, 8, 10, 20, 30, 40, 50, 60, 66 Brix):
# Brix = sum(v rho x)/sum(v rho), volume = mass / rho with the blend's rho interpolated between
# rows. Brix within 0.01 and volume within 0.05 %: the tables differ by 0.02 %, and a straight
# line between rows lies up to 0.03 % above the curve.
BY_HAND = [
    ([(100.0, 2.0), (100.0, 8.0)], 5.0352, 199.97),
    ([(300.0, 10.0), (100.0, 30.0)], 15.3144, 399.78),
    ([(50.0, 60.0), (50.0, 0.0)], 33.7845, 99.70),
    ([(40.0, 66.0), (10.0, 10.0)], 56.8128, 49.89),
]


@pytest.mark.parametrize(("parts", "brix", "litres"), BY_HAND)
def test_a_blend_matches_hand_working_with_other_densities(parts, brix, litres):
    result = blend([Portion(*part) for part in parts])
    assert result.brix == pytest.approx(brix, abs=0.01)
    assert result.volume_litres == pytest.approx(litres, rel=5e-4)


@given(PORTIONS)
def test_sugar_and_water_are_conserved(portions):
    result = blend(portions)
    sugar = math.fsum(portion.sugar_kg for portion in portions)
    water = math.fsum(portion.mass_kg - portion.sugar_kg for portion in portions)
    mass_after = result.volume_litres / 1000 * density_kg_m3(result.brix)
    sugar_after = sugar_mass_kg(result.volume_litres, result.brix)
    assert sugar_after == pytest.approx(sugar, rel=1e-9, abs=1e-12)
    assert result.sugar_kg == pytest.approx(sugar, rel=1e-12)
    assert mass_after - sugar_after == pytest.approx(water, rel=1e-9)


@given(PORTIONS)
def test_a_blend_lies_between_its_poorest_and_richest(portions):
    brix = blend(portions).brix
    assert min(p.brix for p in portions) - 1e-9 <= brix <= max(p.brix for p in portions)


@given(PORTIONS)
def test_the_order_of_pouring_does_not_matter(portions):
    forth, back = blend(portions), blend(portions[::-1])
    assert forth.brix == pytest.approx(back.brix, rel=1e-12)
    assert forth.volume_litres == pytest.approx(back.volume_litres, rel=1e-12)


@given(PORTIONS, PORTIONS)
def test_blending_in_two_stages_is_blending_once(first, second):
    tanks = [blend(first), blend(second)]
    staged = blend([Portion(tank.volume_litres, tank.brix) for tank in tanks])
    at_once = blend([*first, *second])
    assert staged.brix == pytest.approx(at_once.brix, rel=1e-9, abs=1e-12)
    assert staged.sugar_kg == pytest.approx(at_once.sugar_kg, rel=1e-9, abs=1e-12)


def test_sap_volumes_add_to_a_few_parts_in_a_million():
    result = blend([Portion(1000.0, 1.8), Portion(2000.0, 2.4)])
    assert result.volume_litres == pytest.approx(3000.0, rel=5e-6)


def test_syrup_into_water_takes_less_room_than_the_two_apart():
    result = blend([Portion(50.0, 66.0), Portion(50.0, 0.0)])
    assert 99.5 < result.volume_litres < 99.8


def test_a_portion_of_no_volume_changes_nothing():
    alone = blend([Portion(10.0, 2.0)])
    assert blend([Portion(10.0, 2.0), Portion(0.0, 66.0)]) == alone


def _simulated_spread(portions, draws=4000):
    """Standard deviations of blend Brix and sugar when every measurement is drawn afresh."""
    chance = np.random.default_rng(20)
    volume = np.array([[p.volume_litres, p.volume_error_litres] for p in portions]).T
    brix = np.array([[p.brix, p.brix_error] for p in portions]).T
    litres = chance.normal(volume[0], volume[1], (draws, len(portions)))
    richness = chance.normal(brix[0], brix[1], (draws, len(portions)))
    mass = litres / 1000 * density_kg_m3(richness)
    sugar = (mass * richness / 100).sum(axis=1)
    return (100 * sugar / mass.sum(axis=1)).std(), sugar.std()


@pytest.mark.parametrize(
    "portions",
    [
        [Portion(1000.0, 2.0, 20.0, 0.1)],
        [Portion(1000.0, 2.0, 20.0, 0.1), Portion(400.0, 8.0, 10.0, 0.2)],
        [Portion(100.0, 66.0, 1.0, 0.3), Portion(900.0, 1.5, 9.0, 0.1), Portion(50.0, 20.0, 2.0)],
    ],
)
def test_errors_match_a_simulation_of_the_measurements(portions):
    # 4,000 draws give a spread to about 1.1 %; 5 % is four to five of those.
    brix_error, sugar_error = _simulated_spread(portions)
    result = blend(portions)
    assert result.brix_error == pytest.approx(brix_error, rel=0.05)
    assert result.sugar_error_kg == pytest.approx(sugar_error, rel=0.05)


def _shift(portions, index, **fields):
    moved = replace(portions[index], **fields)
    after = blend([*portions[:index], moved, *portions[index + 1 :]])
    return after.brix, after.sugar_kg


def _spread_by_differences(portions):
    """Errors of blend Brix and sugar by moving each measurement a thousandth of its error."""
    parts = []
    for index, portion in enumerate(portions):
        for name, error in (("volume_litres", "volume_error_litres"), ("brix", "brix_error")):
            step = getattr(portion, error) * 1e-3
            up, down = (
                _shift(portions, index, **{name: getattr(portion, name) + sign * step})
                for sign in (1, -1)
            )
            parts.append([(above - below) / 2e-3 for above, below in zip(up, down, strict=True)])
    return np.hypot.reduce(np.array(parts), axis=0)


@pytest.mark.parametrize(
    "portions",
    [
        [Portion(1000.0, 2.0, 20.0, 0.1), Portion(400.0, 8.0, 10.0, 0.2)],
        [Portion(100.0, 66.0, 1.0, 0.3), Portion(900.0, 1.5, 9.0, 0.1)],
        [Portion(300.0, 40.0, 0.0, 0.5), Portion(300.0, 10.0, 4.0, 0.0)],
    ],
)
def test_errors_match_the_slopes_of_the_blend_itself(portions):
    # First order against central differences: they part only by curvature over a tiny step.
    brix_error, sugar_error = _spread_by_differences(portions)
    result = blend(portions)
    assert result.brix_error == pytest.approx(brix_error, rel=1e-6)
    assert result.sugar_error_kg == pytest.approx(sugar_error, rel=1e-6)


def test_errors_too_small_to_square_are_still_carried():
    tiny = Portion(1000.0, 2.0, volume_error_litres=1e-200)
    assert blend([tiny]).sugar_error_kg == pytest.approx(tiny.sugar_error_kg, rel=1e-12, abs=0.0)


def test_volume_errors_of_one_sap_do_not_blur_its_brix():
    assert blend([Portion(1000.0, 2.0, volume_error_litres=50.0)]).brix_error == 0.0


@pytest.mark.parametrize("brix", [0.0, 70.0])
def test_errors_are_carried_at_both_ends_of_the_scale(brix):
    # At the ends the slope of the density is taken from inside the range.
    assert Portion(1000.0, brix, 0.0, 0.1).sugar_error_kg == pytest.approx(
        density_kg_m3(brix) * 0.001 * (1 + (0.0 if brix == 0 else 0.328)), rel=0.02
    )


@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ((-1.0, 2.0), "volume_litres must be at least 0, not -1"),
        ((float("nan"), 2.0), "volume_litres must be at least 0, not nan"),
        ((1.0, 70.5), "brix must be between 0 and 70, not 70.5"),
        ((1.0, 2.0, -0.1), "volume_error_litres must be at least 0"),
        ((1.0, 2.0, 0.0, -0.1), "brix_error must be between 0 and 70"),
    ],
)
def test_an_impossible_portion_is_refused(fields, message):
    with pytest.raises(OutOfRange, match=message):
        Portion(*fields)


@pytest.mark.parametrize("portions", [[], [Portion(0.0, 2.0)]])
def test_nothing_cannot_be_blended(portions):
    with pytest.raises(DomainError, match="at least one portion"):
        blend(portions)

"""One run from the woods to the drums: what each step gives out is what the last one took in."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.domain.allocation import largest_remainder, shares
from apps.domain.blend import Portion, blend
from apps.domain.boiling import evaporate
from apps.domain.concentration import concentrate
from apps.domain.instruments import hydrometer_reading_brix, true_brix_from_hydrometer
from apps.domain.sugar import density_kg_m3, predicted_syrup_litres, sugar_mass_kg

LOADS = st.lists(
    st.builds(
        Portion,
        st.floats(50.0, 8_000.0),
        st.floats(1.0, 4.0),
        st.floats(0.0, 40.0),
        st.floats(0.0, 0.1),
    ),
    min_size=1,
    max_size=6,
)
CONCENTRATE_BRIX = st.floats(6.0, 20.0)
SYRUP_BRIX = st.sampled_from([66.0, 66.5, 66.9])


def _water_kg(litres, brix):
    return litres / 1000 * density_kg_m3(brix) * (1 - brix / 100)


@given(LOADS, CONCENTRATE_BRIX, SYRUP_BRIX)
def test_sugar_and_water_close_from_the_woods_to_the_draw(loads, concentrate_brix, syrup_brix):
    tank = blend(loads)
    membrane = concentrate(tank.volume_litres, tank.brix, concentrate_brix)
    pan = evaporate(membrane.concentrate_litres, concentrate_brix, syrup_brix)
    sugar_in = math.fsum(sugar_mass_kg(load.volume_litres, load.brix) for load in loads)
    water_in = math.fsum(_water_kg(load.volume_litres, load.brix) for load in loads)
    sugar_out = sugar_mass_kg(pan.syrup_litres, syrup_brix)
    water_out = membrane.water_kg + pan.water_kg + _water_kg(pan.syrup_litres, syrup_brix)
    assert sugar_out == pytest.approx(sugar_in, rel=1e-9)
    assert water_out == pytest.approx(water_in, rel=1e-9)


@given(LOADS, CONCENTRATE_BRIX)
def test_the_prediction_by_mass_is_what_the_pan_gives(loads, concentrate_brix):
    tank = blend(loads)
    predicted = predicted_syrup_litres(tank.volume_litres, tank.brix, 66.9)
    membrane = concentrate(tank.volume_litres, tank.brix, concentrate_brix)
    pan = evaporate(membrane.concentrate_litres, concentrate_brix, 66.9)
    assert predicted.other_litres == pytest.approx(pan.syrup_litres, rel=1e-9)
    assert predicted.litres == pytest.approx(pan.syrup_litres, rel=0.011)


@given(LOADS, st.integers(1, 5_000))
def test_a_batch_returns_to_its_woodlots_by_sugar(loads, tenths_of_a_litre):
    sugar = [load.sugar_kg for load in loads]
    parts = largest_remainder(sugar, tenths_of_a_litre)
    assert sum(parts) == tenths_of_a_litre
    for part, kg in zip(parts, sugar, strict=True):
        assert abs(part - tenths_of_a_litre * kg / math.fsum(sugar)) < 1.0 + 1e-9


@given(LOADS)
def test_doubt_about_the_loads_is_doubt_about_their_shares(loads):
    found = shares([load.sugar_kg for load in loads], [load.sugar_error_kg for load in loads])
    measured_exactly = all(load.sugar_error_kg == 0.0 for load in loads)
    for share in found:
        assert 0.0 < share.fraction <= 1.0
        assert share.error >= 0.0
        if measured_exactly or len(loads) == 1:
            assert share.error == pytest.approx(0.0, abs=1e-12)


@given(LOADS)
def test_blending_never_makes_the_sugar_less_certain_than_its_parts_together(loads):
    tank = blend(loads)
    assert tank.sugar_error_kg <= math.fsum(load.sugar_error_kg for load in loads) * (1 + 1e-12)
    assert tank.sugar_error_kg >= max(load.sugar_error_kg for load in loads) * (1 - 1e-12)


@pytest.mark.parametrize("celsius", [0.0, 3.3, 10.0, 15.0])
def test_cold_sap_is_not_overcounted_when_the_hydrometer_is_corrected(celsius):
    # Uncorrected, sap at 38 F on a 60 F hydrometer reads a tenth too rich, and so would the books.
    shown = hydrometer_reading_brix(2.0, celsius)
    corrected = true_brix_from_hydrometer(shown, celsius)
    assert sugar_mass_kg(1000.0, corrected) == pytest.approx(sugar_mass_kg(1000.0, 2.0), rel=1e-9)
    assert shown > 2.0

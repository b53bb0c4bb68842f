"""Viscosity of water against a reference library and two printed tables."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from iapws._iapws import _Liquid

from apps.domain.errors import OutOfRange
from apps.domain.run_plan import feed_at_temperature, water_viscosity_mpa_s

# M. Chaplin, Water Structure and Science (London South Bank University), data table: mPa s, three
# decimals. Its 30, 40 and 50 C figures are from an older fit, so 0.002 is allowed.
CHAPLIN = [
    (0.0, 1.792),
    (10.0, 1.307),
    (20.0, 1.002),
    (30.0, 0.797),
    (40.0, 0.653),
    (50.0, 0.547),
]

# International Critical Tables, 1928-29, as reprinted in Encyclopedia of Environmental Science and
# Engineering, Appendix Table 2, p. 1332: mPa s on the older absolute scale, 0.6 % high at 20 C.
CRITICAL_TABLES = [
    (0.0, 1.7921),
    (2.0, 1.6740),
    (5.0, 1.5188),
    (8.0, 1.3872),
    (10.0, 1.3097),
    (13.0, 1.2061),
    (15.0, 1.1447),
    (20.0, 1.0087),
]


@pytest.mark.parametrize(("temperature_c", "mpa_s"), CHAPLIN)
def test_viscosity_agrees_with_a_printed_table(temperature_c, mpa_s):
    assert water_viscosity_mpa_s(temperature_c) == pytest.approx(mpa_s, abs=0.002)


@pytest.mark.parametrize(("temperature_c", "mpa_s"), CRITICAL_TABLES)
def test_viscosity_agrees_with_the_critical_tables(temperature_c, mpa_s):
    assert water_viscosity_mpa_s(temperature_c) == pytest.approx(mpa_s, rel=0.008)


@pytest.mark.parametrize("temperature_c", [0.0, 5.0, 10.0, 15.0, 20.0, 25.0, 40.0, 99.0])
def test_viscosity_agrees_with_the_iapws_library(temperature_c):
    # J. J. Gomez-Romera, iapws (reference library), the same release: agreement to rounding.
    library = _Liquid(temperature_c + 273.15, 0.1)["mu"] * 1000
    assert water_viscosity_mpa_s(temperature_c) == pytest.approx(library, rel=1e-9)


@pytest.mark.parametrize("temperature_c", [-20.1, 110.1, float("nan")])
def test_temperature_of_no_liquid_water_is_refused(temperature_c):
    with pytest.raises(OutOfRange, match="temperature_c"):
        water_viscosity_mpa_s(temperature_c)


@given(st.floats(min_value=-20.0, max_value=109.0), st.floats(min_value=0.01, max_value=1.0))
def test_warmer_water_is_always_thinner(temperature_c, warmer_c):
    assert water_viscosity_mpa_s(temperature_c + warmer_c) < water_viscosity_mpa_s(temperature_c)


@pytest.mark.parametrize(
    ("measured_at_c", "sap_c", "share"),
    [
        # Critical Tables ratios: 1.2061 / 1.6740 from 55 F (12.8 C, taken as 13) to 2 C.
        (13.0, 2.0, 1.2061 / 1.6740),
        (10.0, 0.0, 1.3097 / 1.7921),
        (8.0, 5.0, 1.3872 / 1.5188),
        (8.0, 8.0, 1.0),
        (5.0, 20.0, 1.0),
    ],
)
def test_feed_falls_with_viscosity_and_never_rises(measured_at_c, sap_c, share):
    assert feed_at_temperature(1000.0, measured_at_c, sap_c) == pytest.approx(
        1000 * share, rel=0.005
    )

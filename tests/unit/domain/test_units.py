"""Conversions against NIST SP 811 and an independent library, and readings that come back."""

from decimal import Decimal

import fluids.constants as library
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.domain import units
from apps.domain.errors import DomainError

# NIST Special Publication 811 (Thompson and Taylor, 2008), Appendix B.8, factors to SI as printed
# (seven figures): tolerance is half a unit in the last printed figure.
PRINTED_FACTORS = [
    (units.litres_from_us_gallons, 3.785412, 5e-7, "gallon (US liquid)"),
    (units.kpa_from_inhg, 3.386389, 5e-7, "inch of mercury, conventional"),
    (units.metres_from_feet, 0.3048, 0.0, "foot, exact"),
    (units.mm_from_inches, 25.4, 0.0, "inch, exact"),
    (units.kg_from_pounds, 0.4535924, 5e-8, "pound (avoirdupois)"),
    (units.kmh_from_mph, 1.609344, 0.0, "mile per hour, exact"),
    (units.megajoules_from_btu, 0.001055056, 5e-10, "British thermal unit IT"),
    (units.celsius_degrees, 0.5555556, 5e-8, "degree Fahrenheit, difference"),
]
# Bell, fluids (Python library), module constants: values typed independently of ours.
LIBRARY_FACTORS = [
    (units.LITRES_PER_US_GALLON, library.gallon * 1e3),
    (units.KPA_PER_INHG, library.inchHg / 1e3),
    (units.METRES_PER_FOOT, library.foot),
    (units.MM_PER_INCH, library.inch * 1e3),
    (units.KG_PER_POUND, library.pound),
    (units.KMH_PER_MPH, library.mph * 3.6),
    (units.MEGAJOULES_PER_BTU, library.Btu_IT / 1e6),
    (units.HECTARES_PER_ACRE, library.acre / 1e4),
]
# (to SI, back, typed resolution, largest reading in steps): what each instrument or form offers.
INSTRUMENTS = [
    (units.litres_from_us_gallons, units.us_gallons_from_litres, "0.1", 200_000),
    (units.celsius_from_fahrenheit, units.fahrenheit_from_celsius, "0.1", 2_300),
    (units.celsius_degrees, units.fahrenheit_degrees, "0.01", 3_000),
    (units.kpa_from_inhg, units.inhg_from_kpa, "0.01", 3_200),
    (units.metres_from_feet, units.feet_from_metres, "1", 15_000),
    (units.mm_from_inches, units.inches_from_mm, "0.001", 20_000),
    (units.kg_from_pounds, units.pounds_from_kg, "0.1", 60_000),
    (units.hectares_from_acres, units.acres_from_hectares, "0.01", 500_000),
    (units.kmh_from_mph, units.mph_from_kmh, "0.5", 300),
    (units.megajoules_from_btu, units.btu_from_megajoules, "1", 500_000),
]
PRICES = [
    (units.money_per_litre, units.money_per_us_gallon),
    (units.money_per_kg, units.money_per_pound),
]


@pytest.mark.parametrize(("convert", "printed", "tolerance", "_row"), PRINTED_FACTORS)
def test_factors_match_the_printed_ones(convert, printed, tolerance, _row):
    assert convert(1.0) == pytest.approx(printed, rel=1e-15, abs=tolerance)


@pytest.mark.parametrize(("ours", "theirs"), LIBRARY_FACTORS)
def test_factors_match_an_independent_library(ours, theirs):
    # 2 parts in a million: the library rounds the inch of mercury and may hold the survey acre.
    assert ours == pytest.approx(theirs, rel=2.5e-6)


@pytest.mark.parametrize(
    ("fahrenheit", "celsius"),
    # Fixed points of the two scales: ice, body (old), water at 1 atm, where the scales meet, and
    # the freeze and thaw limits of the season, 30 and 36 F.
    [(32.0, 0.0), (98.6, 37.0), (212.0, 100.0), (-40.0, -40.0), (30.0, -10 / 9), (36.0, 20 / 9)],
)
def test_temperatures_meet_at_the_fixed_points(fahrenheit, celsius):
    assert units.celsius_from_fahrenheit(fahrenheit) == pytest.approx(celsius, abs=1e-12)
    assert units.fahrenheit_from_celsius(celsius) == pytest.approx(fahrenheit, abs=1e-12)


def test_a_temperature_difference_has_no_32_in_it():
    assert units.celsius_degrees(9.0) == 5.0
    assert units.fahrenheit_degrees(5.0) == 9.0


def test_a_gallon_is_231_cubic_inches():
    cubic_inch_litres = units.METRES_PER_FOOT**3 / 12**3 * 1000
    assert pytest.approx(231 * cubic_inch_litres, rel=1e-15) == units.LITRES_PER_US_GALLON


def test_an_acre_is_43560_square_feet():
    square_feet = units.METRES_PER_FOOT**2
    assert pytest.approx(43_560 * square_feet / 10_000, rel=1e-15) == units.HECTARES_PER_ACRE


@pytest.mark.parametrize(("to_si", "back", "resolution", "steps"), INSTRUMENTS)
@given(data=st.data())
def test_a_reading_comes_back_as_typed(to_si, back, resolution, steps, data):
    step = Decimal(resolution)
    typed = data.draw(st.integers(-steps, steps)) * step
    assert str(units.as_typed(back(to_si(float(typed))), step)) == str(typed + 0)


@pytest.mark.parametrize(("to_si", "back"), PRICES)
@given(cents=st.integers(0, 10_000_000))
def test_a_price_comes_back_to_the_cent(to_si, back, cents):
    typed = Decimal(cents) / 100
    assert units.as_typed(back(to_si(typed)), Decimal("0.01")) == typed


def test_a_price_a_gallon_is_a_smaller_price_a_litre():
    # $37.85411784 a gallon is $10 a litre by the definition of the gallon.
    assert units.money_per_litre(Decimal("37.85411784")) == Decimal(10)
    assert units.money_per_kg(Decimal("0.45359237")) == Decimal(1)


@pytest.mark.parametrize(("to_si", "back", "_resolution", "_steps"), INSTRUMENTS)
def test_arrays_keep_their_shape_and_their_unknowns(to_si, back, _resolution, _steps):
    typed = np.array([[1.0, np.nan], [2.5, 40.0]])
    returned = back(to_si(typed))
    assert returned.shape == (2, 2)
    np.testing.assert_allclose(returned, typed, rtol=1e-13)


@pytest.mark.parametrize(
    ("value", "resolution", "shown"),
    [
        (24.499999999999996, "0.1", "24.5"),
        (24.7, "0.5", "24.5"),
        (-0.0001, "0.1", "0.0"),
        (7.0, "0.05", "7.00"),
        (1234.9999999, "1", "1235"),
        (Decimal("2.5"), "1", "2"),
    ],
)
def test_a_value_is_shown_to_the_resolution(value, resolution, shown):
    assert str(units.as_typed(value, Decimal(resolution))) == shown


@pytest.mark.parametrize(
    ("value", "resolution"),
    [(float("nan"), "0.1"), (float("inf"), "0.1"), (1.0, "0"), (1.0, "-0.1"), (1.0, "NaN")],
)
def test_what_cannot_be_shown_is_refused(value, resolution):
    with pytest.raises(DomainError, match="cannot show"):
        units.as_typed(value, Decimal(resolution))

"""Boiling points, draw-off and heat against steam tables, independent libraries and the trade."""

import math

import psychrolib
import pytest
from fluids.atmosphere import ATMOSPHERE_1976
from hypothesis import given
from hypothesis import strategies as st
from iapws import IAPWS97

from apps.domain import boiling, vacuum
from apps.domain.errors import OutOfRange
from apps.domain.sugar import density_kg_m3, sugar_mass_kg
from apps.domain.units import (
    celsius_from_fahrenheit,
    fahrenheit_from_celsius,
    kpa_from_inhg,
    metres_from_feet,
)

psychrolib.SetUnitSystem(psychrolib.SI)

# IAPWS R7-97(2012) Table 35: saturation pressure at 300 and 500 K, exact to the printed figures.
IAPWS_TABLE_35 = [(300.0, 3.53658941), (500.0, 2638.89776)]
# IAPWS R7-97(2012) Table 36: saturation temperature at 0.1 MPa.
IAPWS_TABLE_36 = [(100.0, 372.755919)]
# Steam tables by Wagner and Pruss (1993), worked apart from our code: station inHg, water F.
# Tolerance 0.01 F plus the rounding of the figures to 0.01.
WAGNER_PRUSS = [
    (26.0, 204.95),
    (27.0, 206.82),
    (28.0, 208.63),
    (28.5, 209.51),
    (29.0, 210.38),
    (29.5, 211.24),
    (29.92, 211.95),
    (30.5, 212.92),
    (31.0, 213.75),
]
# US Standard Atmosphere (1976), Table I: geometric height in m, kPa. Tolerance 0.05 %: our formula
# takes the height as geopotential and the job's rounded constants.
US_STANDARD_ATMOSPHERE = [
    (0.0, 101.325),
    (500.0, 95.461),
    (1000.0, 89.876),
    (2000.0, 79.501),
    (3000.0, 70.121),
]
# Elevation in ft, inHg (greatest vacuum), F of boiling water; worked apart from our code from the
# standard atmosphere. Tolerance half a unit of the last figure and a little.
ELEVATION = [
    (0.0, 29.92, 211.95),
    (500.0, 29.38, 211.04),
    (1000.0, 28.86, 210.13),
    (1500.0, 28.33, 209.22),
    (2000.0, 27.82, 208.31),
    (3000.0, 26.82, 206.48),
    (5000.0, 24.90, 202.83),
]
# Rise of finished syrup above water in F, as the trade prints it. Tolerance 0.05, its rounding.
TRADE_RISE = [
    (66.0, 7.1, "printed hydrometer chart header; sugar-supply how-to pages"),
    (67.0, 7.5, "OMAFRA maple blog, 5 Dec 2013: 104.2 C, 219.5 F, at standard pressure"),
    (66.9, 7.5, "common practice for 66.9 Brix"),
]
# Boiling-point elevation of pure sucrose in C from sugar-factory tables, from memory; tolerance
# 0.15 C, the figures being remembered to 0.1.
FACTORY_RISE = [(60.0, 3.0), (65.0, 3.8), (70.0, 5.1)]
# The same equation solved apart from our code with another steam table (F, two pressures inHg).
EQUATION_RISE = [
    (2.0, 29.92, 0.05),
    (8.0, 29.92, 0.24),
    (20.0, 29.92, 0.71),
    (40.0, 29.92, 2.06),
    (60.0, 29.92, 5.29),
    (66.0, 29.92, 7.20),
    (66.9, 29.92, 7.56),
    (70.0, 29.92, 8.98),
    (80.0, 29.92, 17.03),
    (66.0, 27.0, 7.09),
    (66.9, 28.5, 7.50),
    (50.0, 27.0, 3.23),
]


@pytest.mark.parametrize(("kelvin", "printed_kpa"), IAPWS_TABLE_35)
def test_saturation_pressure_matches_iapws_table_35(kelvin, printed_kpa):
    ours = boiling.saturation_pressure_kpa(kelvin - 273.15)
    assert ours == pytest.approx(printed_kpa, rel=2e-9)


@pytest.mark.parametrize(("kpa", "printed_kelvin"), IAPWS_TABLE_36)
def test_saturation_temperature_matches_iapws_table_36(kpa, printed_kelvin):
    assert boiling.water_boils_c(kpa) + 273.15 == pytest.approx(printed_kelvin, abs=5e-7)


@pytest.mark.parametrize("kpa", [60.0, 75.0, 90.0, 95.95, 101.325, 110.0])
def test_water_boils_where_the_iapws_library_says(kpa):
    reference = IAPWS97(P=kpa / 1000, x=0).T - 273.15
    assert boiling.water_boils_c(kpa) == pytest.approx(reference, abs=1e-6)


@pytest.mark.parametrize(("inhg", "fahrenheit"), WAGNER_PRUSS)
def test_water_boils_where_another_steam_table_says(inhg, fahrenheit):
    ours = fahrenheit_from_celsius(boiling.water_boils_c(kpa_from_inhg(inhg)))
    assert ours == pytest.approx(fahrenheit, abs=0.015)


def test_the_textbook_short_form_agrees_to_a_sixth_of_a_degree():
    # F = 49.161 ln(inHg) + 44.932, from memory: within 0.15 F over 26-31 inHg.
    for inhg in (26.0, 28.0, 29.92, 31.0):
        ours = fahrenheit_from_celsius(boiling.water_boils_c(kpa_from_inhg(inhg)))
        assert ours == pytest.approx(49.161 * math.log(inhg) + 44.932, abs=0.155)


@given(st.floats(60.0, 110.0))
def test_boiling_point_and_vapour_pressure_undo_each_other(kpa):
    water_c = boiling.water_boils_c(kpa)
    assert boiling.saturation_pressure_kpa(water_c) == pytest.approx(kpa, rel=1e-7)


@pytest.mark.parametrize(("metres", "kpa"), US_STANDARD_ATMOSPHERE)
def test_station_pressure_matches_the_us_standard_atmosphere(metres, kpa):
    assert boiling.station_pressure_kpa(metres) == pytest.approx(kpa, rel=5e-4)


@pytest.mark.parametrize("metres", [-100.0, 0.0, 274.3, 457.2, 579.1, 1500.0, 3000.0])
def test_station_pressure_matches_two_independent_libraries(metres):
    ours = boiling.station_pressure_kpa(metres)
    ashrae = psychrolib.GetStandardAtmPressure(metres) / 1000
    assert ours == pytest.approx(ashrae, rel=5e-5)
    assert ours == pytest.approx(ATMOSPHERE_1976(metres).P / 1000, rel=5e-4)


@pytest.mark.parametrize(("feet", "inhg", "fahrenheit"), ELEVATION)
def test_elevation_lowers_pressure_and_boiling(feet, inhg, fahrenheit):
    kpa = boiling.station_pressure_kpa(metres_from_feet(feet))
    assert kpa / 3.386389 == pytest.approx(inhg, abs=0.006)
    water_f = fahrenheit_from_celsius(boiling.water_boils_c(kpa))
    assert water_f == pytest.approx(fahrenheit, abs=0.015)


def test_a_forecasts_pressure_is_not_the_pans():
    # 29.92 on a forecast is 28.33 at 1,500 ft: 2.7 F of boiling.
    station = boiling.station_from_sea_level_kpa(kpa_from_inhg(29.92), metres_from_feet(1500.0))
    assert station / 3.386389 == pytest.approx(28.33, abs=0.006)
    error = boiling.water_boils_c(kpa_from_inhg(29.92)) - boiling.water_boils_c(station)
    assert error * 1.8 == pytest.approx(2.73, abs=0.02)


def test_at_sea_level_the_two_pressures_are_one():
    assert boiling.station_from_sea_level_kpa(100.0, 0.0) == 100.0


@pytest.mark.parametrize(("brix", "printed_f", "_source"), TRADE_RISE)
def test_the_trade_rule_is_the_printed_one(brix, printed_f, _source):
    assert boiling.trade_rise_c(brix) * 1.8 == pytest.approx(printed_f, abs=0.05)


@pytest.mark.parametrize(("brix", "remembered_c"), FACTORY_RISE)
def test_the_rise_agrees_with_sugar_factory_figures(brix, remembered_c):
    assert boiling.boiling_point_rise_c(brix) == pytest.approx(remembered_c, abs=0.15)


@pytest.mark.parametrize(("brix", "inhg", "rise_f"), EQUATION_RISE)
def test_the_rise_solves_its_equation(brix, inhg, rise_f):
    ours = boiling.boiling_point_rise_c(brix, kpa_from_inhg(inhg)) * 1.8
    assert ours == pytest.approx(rise_f, abs=0.01)


@given(st.floats(65.0, 69.0), st.floats(88.0, 104.0))
def test_rule_and_model_stay_within_a_quarter_degree_fahrenheit(brix, kpa):
    rule, model = boiling.trade_rise_c(brix), boiling.boiling_point_rise_c(brix, kpa)
    assert abs(rule - model) * 1.8 < 0.25


def test_water_boils_as_water():
    assert boiling.boiling_point_rise_c(0.0) == pytest.approx(0.0, abs=1e-6)


@given(st.floats(0.0, 79.0), st.floats(60.0, 110.0))
def test_more_sugar_boils_hotter(brix, kpa):
    richer = boiling.boiling_point_rise_c(brix + 1.0, kpa)
    assert richer > boiling.boiling_point_rise_c(brix, kpa)


@given(st.floats(5.0, 80.0), st.floats(60.0, 109.0))
def test_lower_pressure_lowers_the_rise(brix, kpa):
    assert boiling.boiling_point_rise_c(brix, kpa) < boiling.boiling_point_rise_c(brix, kpa + 1)


def test_draw_off_at_standard_pressure_is_219_and_a_half():
    # OMAFRA maple blog (2013): 67 Brix draws at 104.2 C, 219.5 F, at standard pressure.
    draw = boiling.draw_off(67.0, boiling.water_boils_c(101.325))
    assert draw.draw_c == pytest.approx(104.2, abs=0.06)
    assert fahrenheit_from_celsius(draw.draw_c) == pytest.approx(219.5, abs=0.1)


@pytest.mark.parametrize(("inhg", "draw_f"), [(28.5, 216.61), (29.92, 219.05), (30.5, 220.02)])
def test_draw_off_follows_the_barometer(inhg, draw_f):
    # Water from the steam table above plus the printed 7.1 F, at 66.0 Brix.
    draw = boiling.draw_off(66.0, boiling.water_boils_c(kpa_from_inhg(inhg)))
    assert fahrenheit_from_celsius(draw.draw_c) == pytest.approx(draw_f, abs=0.015)


def test_draw_off_takes_the_pans_own_thermometer_and_shows_the_model_beside():
    draw = boiling.draw_off(66.9, celsius_from_fahrenheit(209.0))
    assert draw.draw_c - draw.water_boils_c == draw.rise_c
    assert draw.model_rise_c == pytest.approx(draw.rise_c, abs=0.1)


@pytest.mark.parametrize(
    ("brix", "water_gallons"),
    # Per gallon of 66.0 syrup, worked with CRC Handbook densities: (B/x - 1) rho(B) / rho(water).
    [(2.0, 42.395), (8.0, 9.605), (10.0, 7.419), (20.0, 3.047)],
)
def test_water_to_boil_off_for_a_gallon_of_syrup(brix, water_gallons):
    sap = 66.0 * density_kg_m3(66.0) / (brix * density_kg_m3(brix))
    result = boiling.evaporate(sap, brix, 66.0)
    assert result.syrup_litres == pytest.approx(1.0, rel=1e-12)
    assert result.water_litres == pytest.approx(water_gallons, rel=5e-4)


@given(st.floats(1.0, 50_000.0), st.floats(0.5, 30.0), st.floats(60.0, 70.0))
def test_the_pan_keeps_sugar_and_water(volume, brix, syrup_brix):
    result = boiling.evaporate(volume, brix, syrup_brix)
    sugar = sugar_mass_kg(volume, brix)
    sugar_drawn = sugar_mass_kg(result.syrup_litres, syrup_brix)
    mass = volume / 1000 * density_kg_m3(brix)
    mass_drawn = result.syrup_litres / 1000 * density_kg_m3(syrup_brix)
    assert sugar_drawn == pytest.approx(sugar, rel=1e-9)
    assert mass_drawn + result.water_kg == pytest.approx(mass, rel=1e-9)


@pytest.mark.parametrize("celsius", [85.0, 90.0, 95.0, 100.0, 105.0])
def test_latent_heat_matches_the_steam_tables(celsius):
    steam, water = (IAPWS97(T=celsius + 273.15, x=x).h / 1000 for x in (1, 0))
    assert boiling.latent_heat_mj_per_kg(celsius) == pytest.approx(steam - water, rel=3e-4)


def test_heat_for_a_gallon_of_syrup_from_two_percent_sap():
    # OSU Extension, "Choosing the right fuel": 400,000 BTU, rounded; 404,100 worked apart from
    # 40 F sap. Tolerance 2 % and 0.2 %.
    heat = boiling.boil_heat_mj(43.389 * 3.785411784, 2.0, 66.0, celsius_from_fahrenheit(40.0))
    btu = heat / 0.00105505585262
    assert btu == pytest.approx(400_000, rel=0.02)
    assert btu == pytest.approx(404_100, rel=0.002)


def test_heat_from_a_textbook_worked_apart():
    # 1,000 kg of water, were it sap of no sugar, from 0 C: 419.1 MJ to 100 C by IAPWS-97 enthalpy
    # and 2,256.5 a tonne after; here with 0.5 Brix, so within 1 % of warming + share boiled off.
    litres = 1_000_000 / density_kg_m3(0.5)
    heat = boiling.boil_heat_mj(litres, 0.5, 66.0, 0.0)
    share = 1 - 0.5 / 66.0
    warming = (IAPWS97(P=0.101325, x=0).h - IAPWS97(T=273.16, x=0).h) / 1000
    assert heat == pytest.approx(1000 * (warming + share * 2.2565), rel=0.01)


def _heat_step_by_step(brix, sap_c, kpa=101.325, steps=100):
    """MJ to boil 1,000 kg down to 66 Brix, the solution's own boiling point followed."""
    sugar_kg, kg, water_c = 10.0 * brix, 1000.0, boiling.water_boils_c(kpa)
    now_c = water_c + boiling.boiling_point_rise_c(brix, kpa)
    heat = kg * (4.1868 - 0.0297 * brix) / 1000 * (now_c - sap_c)
    steam = IAPWS97(P=kpa / 1000, x=1).h - IAPWS97(P=kpa / 1000, x=0).h
    step_kg = (1000.0 - sugar_kg / 0.66) / steps
    for _ in range(steps):
        kg -= step_kg
        left_brix = 100 * sugar_kg / kg
        warmer_c = water_c + boiling.boiling_point_rise_c(left_brix, kpa)
        # Steam leaves at the solution's temperature: 1.9 kJ/kg K as steam, 4.2 as the water it was.
        heat += step_kg * (steam + (1.9 - 4.2) * (warmer_c - water_c)) / 1000
        heat += kg * (4.1868 - 0.0297 * left_brix) / 1000 * (warmer_c - now_c)
        now_c = warmer_c
    return heat


@pytest.mark.parametrize(
    ("brix", "left_out_percent"), [(2.0, 0.02), (8.0, 0.08), (20.0, 0.21), (50.0, 1.0)]
)
def test_the_warming_left_out_is_as_small_as_said(brix, left_out_percent):
    # Heat of steam by the iapws library; 0.04 for its fit to a line.
    ours = boiling.boil_heat_mj(1_000_000 / density_kg_m3(brix), brix, 66.0, 5.0)
    left_out = 100 * (_heat_step_by_step(brix, 5.0) / ours - 1)
    assert left_out == pytest.approx(left_out_percent, abs=0.04)


@pytest.mark.parametrize("elevation_m", [-430.0, 0.0, 300.0, 457.2, 1524.0, 5000.0])
def test_the_vacuum_ceiling_and_the_boiling_point_stand_in_the_same_air(elevation_m):
    assert vacuum.ceiling_kpa(elevation_m) == boiling.station_pressure_kpa(elevation_m)


@given(st.floats(0.0, 80.0), st.floats(1.0, 15.0))
def test_warm_sap_needs_less_heat(sap_c, warmer):
    cold = boiling.boil_heat_mj(1000.0, 2.0, 66.0, sap_c)
    assert boiling.boil_heat_mj(1000.0, 2.0, 66.0, sap_c + warmer) < cold


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: boiling.water_boils_c(29.92), "station_kpa must be between 60 and 110"),
        (lambda: boiling.water_boils_c(1013.0), "station_kpa must be between 60 and 110, not 1013"),
        (lambda: boiling.saturation_pressure_kpa(-1.0), "temperature_c must be between 0 and 370"),
        (lambda: boiling.station_pressure_kpa(9000.0), "elevation_m must be between -430 and 5000"),
        (
            lambda: boiling.station_from_sea_level_kpa(29.9, 300.0),
            "sea_level_kpa must be between 85 and 110, not 29.9",
        ),
        (lambda: boiling.boiling_point_rise_c(81.0), "brix must be between 0 and 80, not 81"),
        (lambda: boiling.trade_rise_c(60.0), "syrup_brix must be between 65 and 70, not 60"),
        (lambda: boiling.draw_off(66.0, 212.0), "water_boils_at_c must be between 86 and 102.2"),
        (lambda: boiling.latent_heat_mj_per_kg(20.0), "temperature_c must be between 85 and 105"),
        (lambda: boiling.boil_heat_mj(1.0, 2.0, 66.0, 101.0), "sap_c must be between 0 and 99.97"),
        (lambda: boiling.evaporate(1.0, 67.0, 66.0), "brix must be between 0.5 and 66, not 67"),
    ],
)
def test_what_cannot_be_is_refused_with_value_and_range(call, message):
    with pytest.raises(OutOfRange, match=message):
        call()

"""Where water and syrup boil, when to draw off, and the water and fuel a boil takes.

Formula: saturation of water p(T) and T(p) by IAPWS-IF97 region 4. Standard atmosphere
p(h) = 29.921 inHg x (1 - 6.87535e-6 h)^5.2559, h in feet. Boiling-point rise of sucrose: the T at
which (1 - X) g p(T) equals the pressure, ln g = (Q / R T) X^2 (1 + a X + b X^2), X the mole
fraction of sucrose, Q = -17638 J/mol, a = -1.0038, b = -0.24653. Trade rule for the draw: 7.1 F
above water at 66.0 Brix and 0.4 F more per Brix. Heat = water evaporated x latent heat + all of
the sap warmed to boiling; fuel = heat / (efficiency x heat in a unit of fuel).
Units: kPa of station pressure (not the sea-level figure of a forecast), C, m, Brix, litres at
20 C, MJ. Trap: at 457 m (1,500 ft) a forecast's 101.3 kPa is 95.9 at the pan, 1.5 C of boiling.
Validity: 60-110 kPa; elevation -430 to 5,000 m; rise for 0-80 Brix; trade rule 65-70 Brix;
efficiency 0.05-1. The draw temperature is a cue: hydrometer or refractometer decides.
Source: IAPWS R7-97(2012), eqs. 29-31, Table 34 (coefficients from memory, checked on Tables 35
and 36). Starzak and Peacock, Zuckerindustrie (constants as printed; the bracket from memory).
Draw: 7.1 F at 66.0 Brix, hydrometer chart; 7.5 F at 67 Brix, OMAFRA maple blog (2013). Specific
heat of sucrose solution 4.1868 - 0.0297 Brix kJ/kg K: from memory.
"""

import math
from dataclasses import dataclass

from apps.domain.concentration import concentrate
from apps.domain.errors import require_range
from apps.domain.sugar import density_kg_m3
from apps.domain.units import celsius_degrees, feet_from_metres, kpa_from_inhg

LOWEST_STATION_KPA = 60.0
HIGHEST_STATION_KPA = 110.0
STANDARD_KPA = 101.325
MAXIMUM_RISE_BRIX = 80.0
ZERO_CELSIUS_K = 273.15
GAS_CONSTANT = 8.314462618
SUCROSE_G_PER_MOL = 342.2965
WATER_G_PER_MOL = 18.01528
# The slope joins the two printed draws, 7.1 F at 66.0 Brix and 7.5 at 67.
TRADE_RISE_FAHRENHEIT = 7.1
TRADE_RISE_BRIX = 66.0
TRADE_SLOPE_FAHRENHEIT_PER_BRIX = 0.4

# IAPWS R7-97 Table 34, n1 to n10; index 0 is left unused so that the numbers match the print.
_N = (
    math.nan,
    0.11670521452767e4,
    -0.72421316703206e6,
    -0.17073846940092e2,
    0.12020824702470e5,
    -0.32325550322333e7,
    0.14915108613530e2,
    -0.48232657361591e4,
    0.40511340542057e6,
    -0.23855557567849,
    0.65017534844798e3,
)
_STARZAK_Q = -17638.0
_STARZAK_A = -1.0038
_STARZAK_B = -0.24653
# No solution of 0-80 Brix boils this far above water at 60-110 kPa (80 Brix: 9.5 C).
_HIGHEST_RISE_C = 15.0


@dataclass(frozen=True)
class DrawOff:
    """When syrup is done: the trade's temperature, and the rise a model gives beside it."""

    water_boils_c: float
    rise_c: float
    draw_c: float
    model_rise_c: float


@dataclass(frozen=True)
class Evaporation:
    """What boiling a volume down to syrup gives and takes away."""

    syrup_litres: float
    water_kg: float
    water_litres: float


def saturation_pressure_kpa(temperature_c: float) -> float:
    """Vapour pressure of water. Raises OutOfRange outside 0-370 C."""
    require_range("temperature_c", temperature_c, 0.0, 370.0)
    kelvin = temperature_c + ZERO_CELSIUS_K
    scaled = kelvin + _N[9] / (kelvin - _N[10])
    a = scaled**2 + _N[1] * scaled + _N[2]
    b = _N[3] * scaled**2 + _N[4] * scaled + _N[5]
    c = _N[6] * scaled**2 + _N[7] * scaled + _N[8]
    return 1000.0 * float((2.0 * c / (-b + math.sqrt(b * b - 4.0 * a * c))) ** 4)


def water_boils_c(station_kpa: float) -> float:
    """Temperature at which water boils. Raises OutOfRange outside 60-110 kPa."""
    require_range("station_kpa", station_kpa, LOWEST_STATION_KPA, HIGHEST_STATION_KPA)
    # The standard's own backward equation: no search, and no tolerance to choose.
    beta = math.sqrt(math.sqrt(station_kpa / 1000.0))
    e = beta**2 + _N[3] * beta + _N[6]
    f = _N[1] * beta**2 + _N[4] * beta + _N[7]
    g = _N[2] * beta**2 + _N[5] * beta + _N[8]
    d = 2.0 * g / (-f - math.sqrt(f * f - 4.0 * e * g))
    total = _N[10] + d
    return (total - math.sqrt(total**2 - 4.0 * (_N[9] + _N[10] * d))) / 2.0 - ZERO_CELSIUS_K


def station_pressure_kpa(elevation_m: float) -> float:
    """Pressure of the standard atmosphere. Raises OutOfRange outside -430 to 5,000 m."""
    # From the lowest shore on earth to above any maple: the formula itself holds to 11 km.
    require_range("elevation_m", elevation_m, -430.0, 5000.0)
    feet = feet_from_metres(elevation_m)
    return kpa_from_inhg(29.921 * float((1.0 - 6.87535e-6 * feet) ** 5.2559))


def station_from_sea_level_kpa(sea_level_kpa: float, elevation_m: float) -> float:
    """Station pressure from a forecast's or barometer's sea-level pressure and the elevation."""
    require_range("sea_level_kpa", sea_level_kpa, 85.0, HIGHEST_STATION_KPA)
    # By the standard's ratio. Colder air is denser: at 500 m and 0 C that takes off 0.3 kPa more,
    # 0.1 C of boiling, less than a pan's thermometer shows.
    return sea_level_kpa * station_pressure_kpa(elevation_m) / station_pressure_kpa(0.0)


def boiling_point_rise_c(brix: float, station_kpa: float = STANDARD_KPA) -> float:
    """How far above water a sucrose solution boils at the same pressure."""
    require_range("brix", brix, 0.0, MAXIMUM_RISE_BRIX)
    water_c = water_boils_c(station_kpa)
    low, high = 0.0, _HIGHEST_RISE_C
    # The solution's vapour pressure rises with temperature: halve until 1e-12 C is left.
    for _ in range(45):
        middle = (low + high) / 2.0
        if _solution_pressure_kpa(brix, water_c + middle) < station_kpa:
            low = middle
        else:
            high = middle
    return (low + high) / 2.0


def trade_rise_c(syrup_brix: float) -> float:
    """The trade's rise above boiling water for finished syrup. Raises OutOfRange off 65-70."""
    require_range("syrup_brix", syrup_brix, 65.0, 70.0)
    above = TRADE_SLOPE_FAHRENHEIT_PER_BRIX * (syrup_brix - TRADE_RISE_BRIX)
    return celsius_degrees(TRADE_RISE_FAHRENHEIT + above)


def draw_off(syrup_brix: float, water_boils_at_c: float) -> DrawOff:
    """When to draw syrup, from where water boils today.

    Take the water's temperature with the pan's own thermometer where possible: an error of the
    thermometer then cancels. Otherwise give water_boils_c of the station pressure.
    """
    require_range("water_boils_at_c", water_boils_at_c, 86.0, 102.2)
    # The trade's rule decides, as hydrometer charts print it; the model is there to contradict it.
    rise_c = trade_rise_c(syrup_brix)
    model_rise_c = boiling_point_rise_c(syrup_brix, saturation_pressure_kpa(water_boils_at_c))
    return DrawOff(water_boils_at_c, rise_c, water_boils_at_c + rise_c, model_rise_c)


def evaporate(volume_litres: float, brix: float, syrup_brix: float) -> Evaporation:
    """Syrup from a volume of sap or concentrate, and the water to boil off, by mass balance."""
    result = concentrate(volume_litres, brix, syrup_brix)
    return Evaporation(result.concentrate_litres, result.water_kg, result.water_litres)


def latent_heat_mj_per_kg(temperature_c: float) -> float:
    """Heat to boil away a kilogram of water, 85-105 C: a line through the steam tables."""
    require_range("temperature_c", temperature_c, 85.0, 105.0)
    # Within 0.03 % of the tables here, and a pencil can follow it.
    return 2.2565 - 0.00262 * (temperature_c - 100.0)


def boil_heat_mj(
    volume_litres: float,
    brix: float,
    syrup_brix: float,
    sap_c: float,
    station_kpa: float = STANDARD_KPA,
) -> float:
    """Heat that must reach the pan: all of the sap brought to boiling, its water boiled off.

    Left out are the heat of mixing and the warming of the syrup past the boiling of water, which
    followed step by step is 0.02 % of the heat for sap of 2 Brix, 0.2 % for 20 and 1 % for 50.
    """
    boiling_c = water_boils_c(station_kpa)
    require_range("sap_c", sap_c, 0.0, boiling_c)
    water_kg = evaporate(volume_litres, brix, syrup_brix).water_kg
    sap_kg = volume_litres / 1000.0 * density_kg_m3(brix)
    specific_heat_mj = (4.1868 - 0.0297 * brix) / 1000.0
    warming = sap_kg * specific_heat_mj * (boiling_c - sap_c)
    return warming + water_kg * latent_heat_mj_per_kg(boiling_c)


def _solution_pressure_kpa(brix: float, temperature_c: float) -> float:
    sucrose = brix / SUCROSE_G_PER_MOL
    fraction = sucrose / (sucrose + (100.0 - brix) / WATER_G_PER_MOL)
    bracket = 1.0 + _STARZAK_A * fraction + _STARZAK_B * fraction**2
    energy = _STARZAK_Q / (GAS_CONSTANT * (temperature_c + ZERO_CELSIUS_K))
    activity = (1.0 - fraction) * math.exp(energy * fraction**2 * bracket)
    return activity * saturation_pressure_kpa(temperature_c)

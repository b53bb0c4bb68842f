"""Conversion between the US units people type and the SI units that are stored.

Formula: value times an exact factor, except temperature, C = (F - 32) / 1.8; a temperature
difference has no 32 in it. A rate (gallons an hour, inches a day) uses its quantity's factor.
Units: in every name. Pressure is a magnitude: gauge vacuum or station pressure alike.
Validity: every finite number; a conversion does not judge a reading. NaN passes through, so an
unknown hour stays unknown. Floats give floats, numpy arrays give arrays of the same shape.
Source: NIST SP 811 (2008), Appendix B: inch, foot, mile, pound, US liquid gallon (231 cubic
inches) and the International Table Btu are exact there; inch of mercury is the conventional
3386.389 Pa. The acre is the international one of 43,560 square feet, since land here is measured
with tapes and satellites, not with the survey foot (2 parts in a million longer).
"""

from decimal import Decimal
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from apps.domain.errors import DomainError

LITRES_PER_US_GALLON = 3.785411784
# Mercury at 0 C, as gauges are marked; a column at 60 F would weigh 0.3 % less.
KPA_PER_INHG = 3.386389
METRES_PER_FOOT = 0.3048
MM_PER_INCH = 25.4
KG_PER_POUND = 0.45359237
HECTARES_PER_ACRE = 0.40468564224
KMH_PER_MPH = 1.609344
MEGAJOULES_PER_BTU = 0.00105505585262
FAHRENHEIT_DEGREES_PER_CELSIUS_DEGREE = 1.8
FAHRENHEIT_AT_ZERO_CELSIUS = 32.0

Number = TypeVar("Number", float, npt.NDArray[np.float64])


def litres_from_us_gallons(us_gallons: Number) -> Number:
    """Litres in a number of US liquid gallons."""
    return us_gallons * LITRES_PER_US_GALLON


def us_gallons_from_litres(litres: Number) -> Number:
    """US liquid gallons in a number of litres."""
    return litres / LITRES_PER_US_GALLON


def celsius_from_fahrenheit(fahrenheit: Number) -> Number:
    """A temperature in C from one in F; for a difference use celsius_degrees."""
    return (fahrenheit - FAHRENHEIT_AT_ZERO_CELSIUS) / FAHRENHEIT_DEGREES_PER_CELSIUS_DEGREE


def fahrenheit_from_celsius(celsius: Number) -> Number:
    """A temperature in F from one in C; for a difference use fahrenheit_degrees."""
    return celsius * FAHRENHEIT_DEGREES_PER_CELSIUS_DEGREE + FAHRENHEIT_AT_ZERO_CELSIUS


def celsius_degrees(fahrenheit_degrees_apart: Number) -> Number:
    """A temperature difference in C from one in F: 9 F apart is 5 C apart."""
    return fahrenheit_degrees_apart / FAHRENHEIT_DEGREES_PER_CELSIUS_DEGREE


def fahrenheit_degrees(celsius_degrees_apart: Number) -> Number:
    """A temperature difference in F from one in C: 5 C apart is 9 F apart."""
    return celsius_degrees_apart * FAHRENHEIT_DEGREES_PER_CELSIUS_DEGREE


def kpa_from_inhg(inhg: Number) -> Number:
    """Kilopascals in a number of conventional inches of mercury."""
    return inhg * KPA_PER_INHG


def inhg_from_kpa(kpa: Number) -> Number:
    """Conventional inches of mercury in a number of kilopascals."""
    return kpa / KPA_PER_INHG


def metres_from_feet(feet: Number) -> Number:
    """Metres in a number of international feet."""
    return feet * METRES_PER_FOOT


def feet_from_metres(metres: Number) -> Number:
    """International feet in a number of metres."""
    return metres / METRES_PER_FOOT


def mm_from_inches(inches: Number) -> Number:
    """Millimetres in a number of inches."""
    return inches * MM_PER_INCH


def inches_from_mm(mm: Number) -> Number:
    """Inches in a number of millimetres."""
    return mm / MM_PER_INCH


def kg_from_pounds(pounds: Number) -> Number:
    """Kilograms in a number of avoirdupois pounds."""
    return pounds * KG_PER_POUND


def pounds_from_kg(kg: Number) -> Number:
    """Avoirdupois pounds in a number of kilograms."""
    return kg / KG_PER_POUND


def hectares_from_acres(acres: Number) -> Number:
    """Hectares in a number of international acres."""
    return acres * HECTARES_PER_ACRE


def acres_from_hectares(hectares: Number) -> Number:
    """International acres in a number of hectares."""
    return hectares / HECTARES_PER_ACRE


def kmh_from_mph(mph: Number) -> Number:
    """Kilometres an hour in a number of miles an hour."""
    return mph * KMH_PER_MPH


def mph_from_kmh(kmh: Number) -> Number:
    """Miles an hour in a number of kilometres an hour."""
    return kmh / KMH_PER_MPH


def megajoules_from_btu(btu: Number) -> Number:
    """Megajoules in a number of International Table British thermal units."""
    return btu * MEGAJOULES_PER_BTU


def btu_from_megajoules(megajoules: Number) -> Number:
    """International Table British thermal units in a number of megajoules."""
    return megajoules / MEGAJOULES_PER_BTU


def money_per_litre(money_per_us_gallon: Decimal) -> Decimal:
    """A price a litre from a price a US gallon, unrounded so that it converts back to the cent."""
    # Through str(), since the factor is exact as printed and not as a binary fraction.
    return money_per_us_gallon / Decimal(str(LITRES_PER_US_GALLON))


def money_per_us_gallon(money_per_litre: Decimal) -> Decimal:
    """A price a US gallon from a price a litre, unrounded."""
    return money_per_litre * Decimal(str(LITRES_PER_US_GALLON))


def money_per_kg(money_per_pound: Decimal) -> Decimal:
    """A price a kilogram from a price a pound, unrounded so that it converts back to the cent."""
    return money_per_pound / Decimal(str(KG_PER_POUND))


def money_per_pound(money_per_kg: Decimal) -> Decimal:
    """A price a pound from a price a kilogram, unrounded."""
    return money_per_kg * Decimal(str(KG_PER_POUND))


def as_typed(value: float | Decimal, resolution: Decimal) -> Decimal:
    """The nearest multiple of an instrument's resolution, with that resolution's decimals.

    A reading typed to `resolution`, stored in SI and converted back differs from what was typed
    by rounding in the sixteenth figure; this returns exactly what was typed. Halves go to even.
    Raises DomainError when the value is not finite or the resolution is not above zero.
    """
    # Not through str(): the float's exact value decides which multiple lies nearest.
    typed = Decimal(value)
    if not typed.is_finite() or not resolution.is_finite() or resolution <= 0:
        raise DomainError(f"cannot show {value} to a resolution of {resolution}")
    # Adding zero turns a rounded -0.0 into 0.0: nobody typed a minus sign.
    return round(typed / resolution) * resolution + Decimal(0)

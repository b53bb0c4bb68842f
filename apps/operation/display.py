"""Quantities as the operation reads them: SI in the rows, its own units on the page.

What was typed comes back: a value is kept in SI at full precision and shown at the resolution
its instrument has, so a reading reads back as it was typed.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import cast

from apps.domain import units, vacuum

Convert = Callable[[float], float]


def _same(value: float) -> float:
    return value


@dataclass(frozen=True)
class Unit:
    """One way to show a quantity: `show` takes SI, `store` gives SI back."""

    label: str
    decimals: int
    show: Convert
    store: Convert


def _unit(label: str, decimals: int, show: object = _same, store: object = _same) -> Unit:
    return Unit(label, decimals, cast("Convert", show), cast("Convert", store))


# A count needs no unit: what is counted stands in its label.
_NUMBER = _unit("", 0)
_VOLUME = (units.us_gallons_from_litres, units.litres_from_us_gallons)
_FEET = (units.feet_from_metres, units.metres_from_feet)
_INCH = (units.inches_from_mm, units.mm_from_inches)


def _cm_from_mm(value: float) -> float:
    return value / 10


def _mm_from_cm(value: float) -> float:
    return value * 10


def _cm_from_m(value: float) -> float:
    return value * 100


def _m_from_cm(value: float) -> float:
    return value / 100


def _inches_from_m(value: float) -> float:
    return float(units.inches_from_mm(value * 1000))


def _m_from_inches(value: float) -> float:
    return float(units.mm_from_inches(value)) / 1000


def _f_per_1000ft(value: float) -> float:
    return value * 1.8 * 304.8


def _c_per_m(value: float) -> float:
    return value / (1.8 * 304.8)


def _percent(value: float) -> float:
    return value * 100


def _from_percent(value: float) -> float:
    return value / 100


def _per_us_gallon(value: float) -> float:
    return value * units.LITRES_PER_US_GALLON


def _per_litre(value: float) -> float:
    return value / units.LITRES_PER_US_GALLON


def _cfm_from_m3_h(value: float) -> float:
    return value / vacuum.M3_H_PER_CFM


def _m3_h_from_cfm(value: float) -> float:
    return value * vacuum.M3_H_PER_CFM


# quantity -> (US, metric); the unit stored is the one in the column's name.
QUANTITIES: dict[str, tuple[Unit, Unit]] = {
    # Twice: sap goes by whole gallons, syrup and meters are read finer.
    "volume": (_unit("gal", 0, *_VOLUME), _unit("L", 0)),
    "volume_fine": (_unit("gal", 2, *_VOLUME), _unit("L", 2)),
    "temperature": (
        _unit("°F", 0, units.fahrenheit_from_celsius, units.celsius_from_fahrenheit),
        _unit("°C", 1),
    ),
    # A difference of 5 C is one of 9 F; as a temperature it would read 41.
    "temperature_difference": (
        _unit("°F", 1, units.fahrenheit_degrees, units.celsius_degrees),
        _unit("°C", 1),
    ),
    "degree_hours": (
        _unit("°F·h", 0, units.fahrenheit_degrees, units.celsius_degrees),
        _unit("°C·h", 0),
    ),
    "vacuum": (_unit("inHg", 1, units.inhg_from_kpa, units.kpa_from_inhg), _unit("kPa", 1)),
    "length": (_unit("ft", 0, *_FEET), _unit("m", 0)),
    "elevation": (_unit("ft", 0, *_FEET), _unit("m", 0)),
    # Tubing is sold by sixteenths of an inch, which takes four decimals.
    "diameter": (_unit("in.", 4, *_INCH), _unit("mm", 1)),
    # A quarter inch is what a dipstick tells; hundredths let it come back as typed.
    "depth": (_unit("in.", 2, *_INCH), _unit("cm", 1, _cm_from_mm, _mm_from_cm)),
    "snow": (
        _unit("in.", 0, _inches_from_m, _m_from_inches),
        _unit("cm", 0, _cm_from_m, _m_from_cm),
    ),
    "area": (
        _unit("acres", 1, units.acres_from_hectares, units.hectares_from_acres),
        _unit("ha", 2),
    ),
    "lapse": (
        _unit("°F per 1,000 ft", 2, _f_per_1000ft, _c_per_m),
        _unit("°C per 100 m", 2, _cm_from_m, _m_from_cm),
    ),
    "brix": (_unit("Brix", 1), _unit("Brix", 1)),
    "share": (_unit("%", 1, _percent, _from_percent), _unit("%", 1, _percent, _from_percent)),
    "hours": (_unit("h", 1), _unit("h", 1)),
    "minutes": (_unit("min", 0), _unit("min", 0)),
    "price_per_volume": (
        _unit("dollars per gal", 2, _per_us_gallon, _per_litre),
        _unit("dollars per L", 2),
    ),
    "money_per_day": (_unit("dollars a day", 0), _unit("dollars a day", 0)),
    "brix_per_day": (_unit("Brix a day", 3), _unit("Brix a day", 3)),
    "taps_per_pair_hour": (_unit("taps per pair-hour", 0), _unit("taps per pair-hour", 0)),
    "air_flow": (_unit("CFM", 1, _cfm_from_m3_h, _m3_h_from_cfm), _unit("m³/h", 1)),
    "count": (_NUMBER, _NUMBER),
}

UNKNOWN = "unknown"


def unit_for(quantity: str, unit_system: str) -> Unit:
    # The database allows these two systems and no other.
    return QUANTITIES[quantity][0 if unit_system == "us" else 1]


def shown_number(value_si: float, quantity: str, unit_system: str) -> float:
    """The value in the operation's unit, rounded to its instrument's resolution."""
    unit = unit_for(quantity, unit_system)
    return round(float(unit.show(value_si)), unit.decimals)


def shown(
    value_si: float | None, quantity: str, unit_system: str, decimals: int | None = None
) -> str:
    """'1,234 gal', or 'unknown' where nothing is known: never a zero in its place."""
    if value_si is None:
        return UNKNOWN
    unit = unit_for(quantity, unit_system)
    places = unit.decimals if decimals is None else decimals
    number = round(float(unit.show(value_si)), places) + 0.0  # no "-0"
    return f"{number:,.{places}f} {unit.label}".strip()


def stored(value_shown: float, quantity: str, unit_system: str) -> float:
    return float(unit_for(quantity, unit_system).store(value_shown))

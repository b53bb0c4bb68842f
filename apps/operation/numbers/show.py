"""Quantities in both units, the one the arithmetic uses and the trade's in brackets."""

from datetime import date

from apps.domain import units
from apps.domain.vacuum import M3_H_PER_CFM


def litres(value: float, decimals: int = 1) -> str:
    gallons = units.us_gallons_from_litres(value)
    return f"{value:,.{decimals}f} L ({gallons:,.{decimals}f} gal)"


def litres_hour(value: float, decimals: int = 1) -> str:
    gallons = units.us_gallons_from_litres(value)
    return f"{value:,.{decimals}f} L/h ({gallons:,.{decimals}f} gal/h)"


def kpa(value: float, decimals: int = 2) -> str:
    return f"{value:,.{decimals}f} kPa ({units.inhg_from_kpa(value):,.{decimals}f} inHg)"


def celsius(value: float, decimals: int = 1) -> str:
    fahrenheit = units.fahrenheit_from_celsius(value)
    return f"{value:.{decimals}f} °C ({fahrenheit:.{decimals}f} °F)"


def degrees(value: float, decimals: int = 2) -> str:
    """A temperature difference."""
    fahrenheit = units.fahrenheit_degrees(value)
    return f"{value:.{decimals}f} °C ({fahrenheit:.{decimals}f} °F)"


def metres(value: float, decimals: int = 1) -> str:
    feet = units.feet_from_metres(value)
    return f"{value:,.{decimals}f} m ({feet:,.{decimals}f} ft)"


def mm(value: float, decimals: int = 1) -> str:
    inches = units.inches_from_mm(value)
    return f"{value:,.{decimals}f} mm ({inches:,.{decimals + 2}f} in.)"


def kg(value: float, decimals: int = 2) -> str:
    return f"{value:,.{decimals}f} kg ({units.pounds_from_kg(value):,.{decimals}f} lb)"


def density(value: float) -> str:
    pounds = units.pounds_from_kg(value / 1000 * units.LITRES_PER_US_GALLON)
    return f"{value:,.2f} kg/m³ ({pounds:.3f} lb/gal)"


def air(value: float, decimals: int = 2) -> str:
    return f"{value:,.{decimals}f} m³/h ({value / M3_H_PER_CFM:,.{decimals}f} CFM)"


def megajoules(value: float) -> str:
    return f"{value:,.1f} MJ ({units.btu_from_megajoules(value):,.0f} BTU)"


def brix(value: float, decimals: int = 2) -> str:
    return f"{value:.{decimals}f} Brix"


def percent(share: float, decimals: int = 1) -> str:
    return f"{share * 100:.{decimals}f} %"


def day(value: date) -> str:
    return f"{value:%a} {value.day} {value:%b} {value.year}"


def days(values: list[date] | tuple[date, ...]) -> str:
    return ", ".join(day(value) for value in values) or "none"

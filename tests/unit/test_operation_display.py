"""Quantities on the page: the operation's units, the instrument's steps, unknown as unknown."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.operation import display

# What is typed, per quantity and system: the instrument's own steps (2 decimals of an inch, etc.).
TYPED = [(quantity, system) for quantity in display.QUANTITIES for system in ("us", "metric")]


@pytest.mark.parametrize(
    ("value_si", "quantity", "system", "expected"),
    [
        # NIST SP 811 (2008) app. B.8: 1 US gal = 3.785 412 L, 1 inHg (0 C) = 3.386 389 kPa,
        # 1 ft = 0.3048 m, 1 in = 25.4 mm, 1 acre = 4 046.873 m2; C = (F - 32)/1.8.
        (3785.411784, "volume", "us", "1,000 gal"),
        (3785.411784, "volume", "metric", "3,785 L"),
        (26 * 3.386389, "vacuum", "us", "26.0 inHg"),
        (26 * 3.386389, "vacuum", "metric", "88.0 kPa"),
        (-1.1, "temperature", "us", "30 °F"),
        (2.2, "temperature", "us", "36 °F"),
        (-0.2, "temperature", "metric", "-0.2 °C"),
        (0.3048 * 1480, "elevation", "us", "1,480 ft"),
        (25.4, "diameter", "us", "1.0000 in."),
        (0.3048, "snow", "us", "12 in."),
        (0.3048, "snow", "metric", "30 cm"),
        (4046.873 / 10000 * 42, "area", "us", "42.0 acres"),
        # ICAO: 6.5 C per km is 3.57 F per 1,000 ft.
        (0.0065, "lapse", "us", "3.57 °F per 1,000 ft"),
        (0.0065, "lapse", "metric", "0.65 °C per 100 m"),
        (10.0, "degree_hours", "us", "18 °F·h"),
        (10.0, "degree_hours", "metric", "10 °C·h"),
        (0.97, "share", "us", "97.0 %"),
        (12, "count", "us", "12"),
        (508.0, "depth", "metric", "50.8 cm"),
    ],
)
def test_shown_in_the_operations_units(value_si, quantity, system, expected):
    assert display.shown(value_si, quantity, system) == expected


@pytest.mark.parametrize("quantity", display.QUANTITIES)
def test_unknown_is_never_shown_as_zero(quantity):
    assert display.shown(None, quantity, "us") == "unknown"
    assert display.shown(0.0, quantity, "us") != "unknown"


def test_tiny_negative_does_not_show_as_minus_zero():
    assert display.shown(-0.01, "temperature", "metric") == "0.0 °C"


def test_decimals_may_be_asked_for():
    assert display.shown(3.785411784, "volume", "us", 1) == "1.0 gal"


@pytest.mark.parametrize(("quantity", "system"), TYPED)
@given(steps=st.integers(min_value=-40_000, max_value=4_000_000))
def test_what_was_typed_comes_back(quantity, system, steps):
    """Any reading typed at its instrument's resolution reads back as typed after SI storage."""
    unit = display.unit_for(quantity, system)
    typed = round(steps / 10**unit.decimals, unit.decimals)
    kept = display.stored(typed, quantity, system)
    assert display.shown_number(kept, quantity, system) == typed

"""Tanks against published segment tables, a reference library and integration by thin slices.

Tolerances: closed forms agree with the published figure to the last digit printed (half a unit
of it); against integration by slices, to the slices' own error.
"""

import math
import warnings

import numpy as np
import pytest
from fluids.geometry import TANK
from hypothesis import given
from hypothesis import strategies as st

from apps.domain.errors import DomainError, OutOfRange
from apps.domain.tank import (
    BadDipTable,
    Box,
    DipTable,
    FlatOval,
    HorizontalCylinder,
    VerticalCylinder,
    hours_to_full,
    hours_to_overflow,
    segment_area_mm2,
)

INCH_MM = 25.4
GALLON_LITRES = 3.785411784

# V. T. Chow, Open-Channel Hydraulics, 1959, geometric elements of circular sections:
# wetted area over diameter squared at a depth over diameter, six decimals as reprinted.
CHOW_1959 = [
    (0.05, 0.014681),
    (0.10, 0.040875),
    (0.15, 0.073875),
    (0.55, 0.442616),
    (0.60, 0.492028),
    (0.65, 0.540418),
    (0.70, 0.587230),
    (0.75, 0.631852),
    (0.80, 0.673574),
]


@pytest.mark.parametrize(("depth_over_diameter", "area_over_square"), CHOW_1959)
def test_segment_area_agrees_with_published_table(depth_over_diameter, area_over_square):
    area_mm2 = segment_area_mm2(500.0, 1000.0 * depth_over_diameter)
    assert area_mm2 / 1000.0**2 == pytest.approx(area_over_square, abs=0.6e-6)


def test_quarter_tank_depth_is_the_published_one():
    # Weisstein, MathWorld "Quarter-Tank Problem": a quarter of the area lies under 0.29801 of the
    # diameter (0.59602 R), from memory, and under the root of the area equation, solved here.
    tank = HorizontalCylinder(diameter_mm=1000.0, length_mm=1000.0)
    assert tank.depth_mm(tank.full_litres / 4) == pytest.approx(298.01, abs=0.01)


def test_published_worked_example_of_a_lying_cylinder():
    # hackmath.net problem 3613: radius 0.725 m, 10 m long, filled to 1.25 m, holds 15.138 m3.
    tank = HorizontalCylinder(diameter_mm=1450.0, length_mm=10_000.0)
    assert tank.volume_litres(1250.0) == pytest.approx(15_138, abs=0.5)


@pytest.mark.parametrize("height_mm", [1.0, 77.0, 400.0, 799.0, 800.0, 801.0, 1500.0, 1600.0])
def test_lying_cylinder_agrees_with_the_arcsine_form(height_mm):
    # Doctor Jerry, Math Forum "Ask Dr. Math", 9 May 2000: the same area written with arcsine.
    a, h = 800.0, height_mm
    area = math.pi * a**2 / 2 - a**2 * math.asin(1 - h / a) - (a - h) * math.sqrt(h * (2 * a - h))
    tank = HorizontalCylinder(diameter_mm=1600.0, length_mm=2000.0)
    assert tank.volume_litres(h) == pytest.approx(area * 2000.0 / 1e6, rel=1e-9)


@pytest.mark.parametrize("share", [0.03, 0.25, 0.5, 0.81, 1.0])
def test_cylinders_agree_with_the_fluids_library(share):
    # C. Bell, fluids (reference library), TANK with flat ends; both closed forms, so 1e-9.
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        lying = TANK(D=1.6, L=2.4, horizontal=True).V_from_h(1.6 * share)
        standing = TANK(D=1.6, L=2.4, horizontal=False).V_from_h(2.4 * share)
    assert HorizontalCylinder(1600.0, 2400.0).volume_litres(1600.0 * share) == pytest.approx(
        lying * 1000, rel=1e-9
    )
    assert VerticalCylinder(1600.0, 2400.0).volume_litres(2400.0 * share) == pytest.approx(
        standing * 1000, rel=1e-9
    )


def test_gallon_is_231_cubic_inches_exactly():
    # NIST Handbook 44, Appendix C: 1 US gallon = 231 cubic inches (exactly).
    box = Box(width_mm=11 * INCH_MM, length_mm=7 * INCH_MM, height_mm=3 * INCH_MM)
    assert box.full_litres == pytest.approx(GALLON_LITRES, rel=1e-15)


@pytest.mark.parametrize(
    ("tank", "cubic_inches"),
    [
        # Volume by hand in inches: pi/4 d^2 h, w l h, and (pi/4 w^2 + w (h - w)) l.
        (VerticalCylinder(60 * INCH_MM, 72 * INCH_MM), math.pi / 4 * 60**2 * 72),
        (HorizontalCylinder(48 * INCH_MM, 65 * INCH_MM), math.pi / 4 * 48**2 * 65),
        (Box(48 * INCH_MM, 96 * INCH_MM, 36 * INCH_MM), 48 * 96 * 36),
        (
            FlatOval(27 * INCH_MM, 44 * INCH_MM, 60 * INCH_MM),
            (math.pi / 4 * 27**2 + 27 * (44 - 27)) * 60,
        ),
    ],
)
def test_full_gallons_are_cubic_inches_over_231(tank, cubic_inches):
    assert tank.full_litres / GALLON_LITRES == pytest.approx(cubic_inches / 231, rel=1e-12)


def _half_width_mm(across_mm, high_mm, level_mm):
    """Half the surface width of an oval with flat sides, from the circle's equation alone."""
    radius_mm = min(across_mm, high_mm) / 2
    if across_mm > high_mm:
        return (across_mm - high_mm) / 2 + math.sqrt(radius_mm**2 - (level_mm - radius_mm) ** 2)
    nearest_centre_mm = min(max(level_mm, radius_mm), high_mm - radius_mm)
    return math.sqrt(radius_mm**2 - (level_mm - nearest_centre_mm) ** 2)


def _sliced_litres(across_mm, high_mm, long_mm, depth_mm, slices=4000):
    thickness_mm = depth_mm / slices
    middles_mm = ((index + 0.5) * thickness_mm for index in range(slices))
    widths_mm = (2 * _half_width_mm(across_mm, high_mm, level) for level in middles_mm)
    return sum(widths_mm) * thickness_mm * long_mm / 1e6


@pytest.mark.parametrize(
    ("across_mm", "high_mm"), [(686.0, 1118.0), (1118.0, 686.0), (900.0, 900.0)]
)
@pytest.mark.parametrize("share", [0.05, 0.3, 0.5, 0.77, 0.95, 1.0])
def test_oval_agrees_with_integration_by_slices(across_mm, high_mm, share):
    # Midpoint slices miss the square-root ends by about (1/4000)^1.5, well under 1e-5.
    oval = FlatOval(across_mm, high_mm, 1524.0)
    expected = _sliced_litres(across_mm, high_mm, 1524.0, high_mm * share)
    assert oval.volume_litres(high_mm * share) == pytest.approx(expected, rel=1e-5)


@pytest.mark.parametrize("share", [0.1, 0.5, 0.9])
def test_oval_as_wide_as_high_is_a_cylinder(share):
    oval, round_tank = FlatOval(900.0, 900.0, 1500.0), HorizontalCylinder(900.0, 1500.0)
    assert oval.volume_litres(900 * share) == pytest.approx(round_tank.volume_litres(900 * share))


def test_linear_dip_on_a_round_tank_overstates_a_quarter_full_tank():
    # Why the shape matters: a quarter of the depth holds under a fifth of the tank (0.1955).
    tank = HorizontalCylinder(1000.0, 1000.0)
    assert tank.volume_litres(250.0) / tank.full_litres == pytest.approx(0.1955, abs=5e-5)


SIDES = st.floats(min_value=100.0, max_value=5000.0)
SHARES = st.floats(min_value=0.0, max_value=1.0)
TANKS = st.one_of(
    st.builds(VerticalCylinder, SIDES, SIDES),
    st.builds(HorizontalCylinder, SIDES, SIDES),
    st.builds(FlatOval, SIDES, SIDES, SIDES),
    st.builds(Box, SIDES, SIDES, SIDES),
    st.just(DipTable(((0.0, 0.0), (100.0, 40.0), (250.0, 190.0), (300.0, 200.0)))),
)


@given(TANKS, SHARES)
def test_dip_from_volume_undoes_volume_from_dip(tank, share):
    depth_mm = tank.depth_mm(tank.full_litres * share)
    assert tank.volume_litres(depth_mm) == pytest.approx(tank.full_litres * share, abs=1e-6)


@given(TANKS, SHARES, SHARES)
def test_a_deeper_dip_never_holds_less(tank, one, other):
    top_mm = tank.depth_mm(tank.full_litres)
    lower, higher = sorted((one * top_mm, other * top_mm))
    assert tank.volume_litres(lower) <= tank.volume_litres(higher) + 1e-9


@given(SIDES, SIDES, SIDES, SHARES)
def test_oval_turned_over_holds_what_is_missing(across_mm, high_mm, long_mm, share):
    oval = FlatOval(across_mm, high_mm, long_mm)
    wet = oval.volume_litres(high_mm * share)
    dry = oval.volume_litres(high_mm - high_mm * share)
    assert wet + dry == pytest.approx(oval.full_litres, rel=1e-9, abs=1e-6)


def test_dip_table_interpolates_between_its_points():
    table = DipTable(((50.0, 10.0), (150.0, 60.0), (200.0, 100.0)))
    assert table.volume_litres(100.0) == pytest.approx(35.0)
    assert table.depth_mm(80.0) == pytest.approx(175.0)
    assert table.full_litres == 100.0


def test_two_points_are_enough_for_a_dip_table():
    assert DipTable(((0.0, 0.0), (100.0, 500.0))).volume_litres(20.0) == pytest.approx(100.0)


@pytest.mark.parametrize(
    ("method", "value"),
    [("volume_litres", 49.9), ("volume_litres", 200.1), ("depth_mm", 9.9), ("depth_mm", 100.1)],
)
def test_dip_table_never_extrapolates(method, value):
    table = DipTable(((50.0, 10.0), (150.0, 60.0), (200.0, 100.0)))
    with pytest.raises(OutOfRange, match="must be between"):
        getattr(table, method)(value)


@pytest.mark.parametrize(
    "points",
    [
        (),
        ((0.0, 0.0),),
        ((0.0, 0.0), (0.0, 5.0)),
        ((0.0, 0.0), (10.0, 0.0)),
        ((10.0, 5.0), (5.0, 9.0)),
    ],
)
def test_dip_table_that_does_not_rise_is_refused(points):
    with pytest.raises(BadDipTable):
        DipTable(points)


@pytest.mark.parametrize("points", [((-1.0, 0.0), (5.0, 9.0)), ((0.0, 0.0), (5.0, math.nan))])
def test_dip_table_with_an_impossible_number_is_refused(points):
    with pytest.raises(OutOfRange, match="points"):
        DipTable(points)


@pytest.mark.parametrize(
    ("make", "named"),
    [
        (lambda: VerticalCylinder(0.0, 900.0), "diameter_mm"),
        (lambda: VerticalCylinder(900.0, math.nan), "height_mm"),
        (lambda: HorizontalCylinder(900.0, -1.0), "length_mm"),
        (lambda: FlatOval(900.0, 200_000.0, 900.0), "height_mm"),
        (lambda: Box(900.0, 900.0, 0.0), "height_mm"),
        (lambda: segment_area_mm2(-1.0, 0.0), "radius_mm"),
    ],
)
def test_impossible_side_is_refused_by_name(make, named):
    with pytest.raises(OutOfRange, match=named):
        make()


@pytest.mark.parametrize(
    "tank",
    [
        VerticalCylinder(900.0, 900.0),
        HorizontalCylinder(900.0, 900.0),
        FlatOval(800.0, 900.0, 900.0),
        Box(900.0, 900.0, 900.0),
    ],
)
def test_dip_or_volume_outside_the_tank_is_refused(tank):
    for depth_mm in (-0.1, 900.1):
        with pytest.raises(OutOfRange, match="depth_mm"):
            tank.volume_litres(depth_mm)
    for litres in (-0.1, tank.full_litres + 0.1):
        with pytest.raises(OutOfRange, match="volume_litres"):
            tank.depth_mm(litres)


@pytest.mark.parametrize("depth_mm", [1e-6, 1e-3, 0.1])
def test_a_film_of_sap_keeps_its_digits(depth_mm):
    # Two thirds of chord times depth, the small-segment limit (Harris and Stocker 1998, from
    # MathWorld "Circular Segment"), short by under depth / radius.
    chord_mm = 2 * math.sqrt(depth_mm * (2000.0 - depth_mm))
    limit_mm2 = 2 / 3 * chord_mm * depth_mm
    assert segment_area_mm2(1000.0, depth_mm) == pytest.approx(limit_mm2, rel=2e-4)


def test_segment_of_a_point_is_nothing():
    assert segment_area_mm2(0.0, 0.0) == 0.0


@pytest.mark.parametrize(
    ("full", "now", "inflow", "hours"),
    [
        (1000.0, 470.0, 100.0, 5.0),
        (1000.0, 970.0, 100.0, 0.0),
        (1000.0, 1000.0, -5.0, 0.0),
        (1000.0, 0.0, 0.0, None),
        (1000.0, 0.0, -20.0, None),
    ],
)
def test_hours_to_full_at_97_percent(full, now, inflow, hours):
    # (0.97 x full - now) / inflow, by hand; the share is common practice, no source.
    assert hours_to_full(full, now, inflow) == pytest.approx(hours)


@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        ((0.0, 0.0, 1.0), "full_litres"),
        ((100.0, 101.0, 1.0), "now_litres"),
        ((100.0, -1.0, 1.0), "now_litres"),
        ((100.0, 1.0, math.nan), "inflow_litres_per_hour"),
        ((100.0, 1.0, 1.0, 1.01), "usable_share"),
    ],
)
def test_impossible_contents_are_refused_by_name(arguments, named):
    with pytest.raises(DomainError, match=named):
        hours_to_full(*arguments)


def _overflow(now, rates, **options):
    return hours_to_overflow(1000.0, now, np.array(rates, dtype=float), **options)


@pytest.mark.parametrize(
    ("now", "rates", "hours", "covered", "highest"),
    [
        (470.0, [100, 100, 100, 400], 3.5, 3.5, 970.0),
        (470.0, [100, 100], None, 2.0, 670.0),
        (470.0, [100, math.nan, 900], None, 1.0, 570.0),
        (470.0, [-900, 485, 485], 3.0, 3.0, 970.0),
        (470.0, [200, -100, 0], None, 3.0, 670.0),
        (980.0, [0.0], 0.0, 0.0, 980.0),
        (470.0, [], None, 0.0, 470.0),
    ],
)
def test_overflow_follows_the_inflow_curve(now, rates, hours, covered, highest):
    forecast = _overflow(now, rates)
    assert forecast.hours == pytest.approx(hours)
    assert forecast.covered_hours == pytest.approx(covered)
    assert forecast.highest_litres == pytest.approx(highest)


@given(st.floats(min_value=0.0, max_value=900.0), st.lists(st.integers(-150, 250), max_size=12))
def test_overflow_agrees_with_a_walk_by_the_minute(now, rates):
    litres, elapsed_s = now, 0
    for rate in rates:
        for _ in range(0, 3600, 60):
            if litres >= 970.0 - 1e-9:
                break
            litres = max(litres + rate / 60, 0.0)
            elapsed_s += 60
    forecast = _overflow(now, rates)
    if litres < 970.0 - 1e-9:
        assert forecast.hours is None
    else:
        assert forecast.hours * 3600 == pytest.approx(elapsed_s, abs=61)


@given(st.floats(min_value=0.0, max_value=960.0), st.floats(min_value=20.0, max_value=500.0))
def test_steady_curve_gives_the_steady_answer(now, inflow):
    steady = hours_to_full(1000.0, now, inflow)
    assert _overflow(now, [inflow] * 60).hours == pytest.approx(steady)


def test_overflow_counts_the_length_of_a_step():
    assert _overflow(470.0, [1000.0], step_hours=0.5).hours == pytest.approx(0.5)
    with pytest.raises(OutOfRange, match="step_hours"):
        _overflow(470.0, [100.0], step_hours=0.0)

"""True Brix from a hydrometer or refractometer read at another temperature than its own.

Formula: a hydrometer sinks to the density of the liquid as it is, its own glass swollen by the
heat, so it shows the Brix r with rho(r, own temperature) = rho(true, t) (1 + 25e-6 (t - own)).
A refractometer's correction is interpolated in a printed table, by reading and temperature, and
added with its sign. Instruments that compensate by themselves need none.
Units: Brix, C. Maple hydrometers are made for 60 F (15.56 C), sap ones often for 38 F (3.33 C).
Validity: hydrometer 0-70 Brix, 0-100 C (above 80 C the density is carried on; it lies up to 0.21
Brix over a published hot chart). Refractometer 10-21 C for readings of 0-70, from 5 C for 10-30
and to 75 below 17 C; outside the printed cells it is refused, not guessed. An instrument can be
wrong: have it tested each year, and write down the temperature it was made for.
Source: density as sugar.py; 25e-6 per C is usual for glass, from memory. Refractometer: readings
of 10 and over at 5-17 C, OIV-MA-AS2-02 Table I; readings of 0 and 5, and every reading at 18, 19
and 21 C, a GOST interstate standard, Table A.1 (docs.cntd.ru document 1200157922). Where both
print a cell they agree to 0.04. 20 C is zero by definition.
"""

import math

import numpy as np
import numpy.typing as npt

from apps.domain.errors import DomainError, OutOfRange, require_range
from apps.domain.sugar import Span, brix_from_density, density_kg_m3
from apps.domain.units import celsius_from_fahrenheit

SYRUP_HYDROMETER_C = celsius_from_fahrenheit(60.0)
SAP_HYDROMETER_C = celsius_from_fahrenheit(38.0)
HOT_TEST_C = celsius_from_fahrenheit(211.0)
GLASS_EXPANSION_PER_C = 25e-6

_NONE = math.nan
REFRACTOMETER_READINGS = (0, 5, 10, 15, 20, 25, 30, 35, 40, 45, 50, 55, 60, 65, 70, 75)
# Hundredths of a Brix to add, a row for each temperature, NaN where nothing is printed.
REFRACTOMETER_HUNDREDTHS: dict[int, tuple[float, ...]] = {
    5: (_NONE, _NONE, -82, -87, -92, -95, -99, *[_NONE] * 9),
    6: (_NONE, _NONE, -80, -82, -87, -90, -94, *[_NONE] * 9),
    7: (_NONE, _NONE, -74, -78, -82, -84, -88, *[_NONE] * 9),
    8: (_NONE, _NONE, -69, -73, -76, -79, -82, *[_NONE] * 9),
    9: (_NONE, _NONE, -64, -67, -71, -73, -75, *[_NONE] * 9),
    10: (-50, -54, -59, -62, -65, -67, -69, -71, -72, -73, -74, -75, -75, -75, -75, -75),
    11: (-46, -49, -54, -57, -59, -61, -63, -64, -65, -66, -67, -68, -68, -68, -68, -67),
    12: (-42, -45, -49, -51, -53, -55, -56, -57, -58, -59, -60, -60, -61, -61, -60, -60),
    13: (-37, -40, -43, -45, -47, -48, -50, -51, -52, -52, -53, -53, -53, -53, -53, -53),
    14: (-33, -35, -38, -39, -40, -42, -43, -44, -44, -45, -45, -46, -46, -46, -46, -45),
    15: (-27, -29, -32, -33, -34, -35, -36, -37, -37, -38, -38, -38, -38, -38, -38, -38),
    16: (-22, -24, -26, -27, -28, -28, -29, -30, -30, -30, -31, -31, -31, -31, -31, -30),
    17: (-17, -18, -20, -20, -21, -21, -22, -22, -23, -23, -23, -23, -23, -23, -23, _NONE),
    18: (-12, -13, -13, -14, -14, -14, -14, -15, -15, -15, -15, -16, -16, -16, -16, _NONE),
    19: (-6, -6, -6, -7, -7, -7, -7, -8, -8, -8, -8, -8, -8, -8, -8, _NONE),
    20: (0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0),
    21: (6, 7, 7, 7, 7, 8, 8, 8, 8, 8, 8, 8, 8, 8, 8, _NONE),
}
_TEMPERATURES_C = np.array(sorted(REFRACTOMETER_HUNDREDTHS), dtype=np.float64)
_READINGS = np.array(REFRACTOMETER_READINGS, dtype=np.float64)
_HUNDREDTHS = np.array([REFRACTOMETER_HUNDREDTHS[row] for row in sorted(REFRACTOMETER_HUNDREDTHS)])


class OffScale(DomainError):
    """A reading the instrument cannot show, or for which no correction is printed."""


def hydrometer_reading_brix(
    true_brix: float, temperature_c: float, made_for_c: float = SYRUP_HYDROMETER_C
) -> float:
    """What a hydrometer shows in a liquid of known Brix: the mark to look for when testing.

    Raises OutOfRange for an impossible input, OffScale when the mark is not within 0-70 Brix.
    """
    glass = _glass_swelling(temperature_c, made_for_c)
    shown = glass * density_kg_m3(true_brix, temperature_c, span=Span.EXTENDED)
    try:
        return brix_from_density(shown, made_for_c)
    except OutOfRange as error:
        raise OffScale(
            f"true_brix {true_brix:g} at {temperature_c:g} C reads outside the 0 to 70 Brix "
            f"of a hydrometer made for {made_for_c:.1f} C"
        ) from error


def true_brix_from_hydrometer(
    reading_brix: float, temperature_c: float, made_for_c: float = SYRUP_HYDROMETER_C
) -> float:
    """True Brix of a liquid from a hydrometer's reading and the liquid's temperature.

    Raises OutOfRange for an impossible input, OffScale when no solution of 0-70 Brix reads so.
    """
    glass = _glass_swelling(temperature_c, made_for_c)
    actual = density_kg_m3(reading_brix, made_for_c) / glass
    try:
        return brix_from_density(actual, temperature_c, span=Span.EXTENDED)
    except OutOfRange as error:
        raise OffScale(
            f"reading_brix {reading_brix:g} at {temperature_c:g} C is shown by no solution "
            "of 0 to 70 Brix"
        ) from error


def refractometer_correction_brix(reading_brix: float, temperature_c: float) -> float:
    """What to add to a refractometer's reading, on a scale made for 20 C.

    Raises OutOfRange off the tables, OffScale where they have no figure.
    """
    require_range("reading_brix", reading_brix, float(_READINGS[0]), float(_READINGS[-1]))
    coldest, warmest = float(_TEMPERATURES_C[0]), float(_TEMPERATURES_C[-1])
    require_range("temperature_c", temperature_c, coldest, warmest)
    # Between printed cells the table bends by less than its own last figure.
    row, down = _place(_TEMPERATURES_C, temperature_c)
    column, across = _place(_READINGS, reading_brix)
    weights = np.outer([1.0 - down, down], [1.0 - across, across])
    corners = _HUNDREDTHS[row : row + 2, column : column + 2]
    # A blank corner of no weight does no harm: the edge of the print is itself printed.
    hundredths = float(np.where(weights > 0.0, weights * corners, 0.0).sum())
    if math.isnan(hundredths):
        raise OffScale(f"no correction is printed for {reading_brix:g} Brix at {temperature_c:g} C")
    return hundredths / 100.0


def true_brix_from_refractometer(reading_brix: float, temperature_c: float) -> float:
    """True Brix from the reading of a refractometer without compensation, made for 20 C."""
    return reading_brix + refractometer_correction_brix(reading_brix, temperature_c)


def _glass_swelling(temperature_c: float, made_for_c: float) -> float:
    require_range("temperature_c", temperature_c, 0.0, Span.EXTENDED.value)
    require_range("made_for_c", made_for_c, 0.0, 40.0)
    # Warm glass displaces more and floats higher: 0.5 Brix at the hot test.
    return 1.0 + GLASS_EXPANSION_PER_C * (temperature_c - made_for_c)


def _place(axis: npt.NDArray[np.float64], value: float) -> tuple[int, float]:
    """The step of the axis a value falls in, and how far along it, 0 to 1."""
    index = min(int(np.searchsorted(axis, value, side="right")) - 1, len(axis) - 2)
    return index, float((value - axis[index]) / (axis[index + 1] - axis[index]))

"""Slopes, lengths and taps per lateral against the usual advice.

Formula: slope = fall / length; area served = spacing x length; natural vacuum of a full column of
sap = density x g x drop, never over the ceiling.
Units: m, percent, hectares, kPa. A fall is positive towards the sugarhouse.
Validity: a straight run between two known heights; a sag inside it is not seen. Unknown lengths
and slopes are passed as None and give no finding.
Source: laterals 5 taps, never over 10, mainlines 2 to 4 %: Perkins & van den Berg, Taking care of
the woods, Maple News (3 Jan 2020). Laterals to 100 ft at 5 % or more: an equipment page. Mainlines
under 1,000 ft, 0.5 % in short pieces only: UNH Extension. Sap of 2 Brix weighs 1,006 kg/m3 at 20 C
(ICUMSA SPS-4 formula).
"""

from typing import Final, Literal

from apps.domain.errors import require_range
from apps.domain.units import metres_from_feet

Finding = Literal[
    "over the taps to aim for",
    "too many taps",
    "too long",
    "too flat",
    "flat, short pieces only",
    "steeper than needed",
    "runs uphill",
]

AIM_TAPS_PER_LATERAL, MOST_TAPS_PER_LATERAL = 5, 10
LONGEST_LATERAL_M: Final = metres_from_feet(100.0)
LONGEST_MAINLINE_M: Final = metres_from_feet(1000.0)
LATERAL_SLOPE_PERCENT = 5.0
MAINLINE_FLATTEST_PERCENT, MAINLINE_AIM_PERCENT = 0.5, (2.0, 4.0)
SAP_KG_M3, GRAVITY_M_S2 = 1006.0, 9.80665
SQUARE_METRES_PER_HECTARE = 10_000
# Lengths in feet and slopes from heights are compared well below what a tape or level shows.
DECIMALS = 6


def slope_percent(fall_m: float, length_m: float) -> float:
    """Slope of a line in percent of its length, negative where it runs uphill.

    Raises OutOfRange for a length of 0 or over 20 km, or a fall longer than the line.
    """
    require_range("length_m", length_m, 0.1, 20_000)
    require_range("fall_m", fall_m, -length_m, length_m)
    # By the length along the wire, as it is measured; along the map 4 % would be 4.003.
    return 100 * fall_m / length_m


def check_lateral(
    taps: int, length_m: float | None = None, slope_percent: float | None = None
) -> tuple[Finding, ...]:
    """What the usual advice has against a lateral; an empty tuple is nothing."""
    require_range("taps", taps, 0, 1000)
    findings: list[Finding] = []
    if taps > MOST_TAPS_PER_LATERAL:
        findings.append("too many taps")
    elif taps > AIM_TAPS_PER_LATERAL:
        findings.append("over the taps to aim for")
    findings += _length(length_m, LONGEST_LATERAL_M)
    findings += _flatness(slope_percent, LATERAL_SLOPE_PERCENT)
    return tuple(findings)


def check_mainline(
    length_m: float | None = None, slope_percent: float | None = None
) -> tuple[Finding, ...]:
    """What the usual advice has against a mainline; an empty tuple is nothing."""
    findings = _length(length_m, LONGEST_MAINLINE_M)
    findings += _flatness(slope_percent, MAINLINE_FLATTEST_PERCENT)
    # One finding a line: too flat says already that it is flatter than the aim.
    if slope_percent is not None and not findings:
        low, high = MAINLINE_AIM_PERCENT
        if round(slope_percent, DECIMALS) < low:
            findings.append("flat, short pieces only")
        elif round(slope_percent, DECIMALS) > high:
            findings.append("steeper than needed")
    return tuple(findings)


def area_served_hectares(spacing_m: float, length_m: float) -> float:
    """Woods drained by a mainline of this length with neighbours this far apart."""
    require_range("spacing_m", spacing_m, 1, 500)
    require_range("length_m", length_m, 0.1, 20_000)
    return spacing_m * length_m / SQUARE_METRES_PER_HECTARE


def natural_vacuum_kpa(drop_m: float, ceiling_kpa: float) -> float:
    """The most vacuum a full column of sap pulls over a drop; leaks and air make it less."""
    require_range("drop_m", drop_m, 0, 500)
    require_range("ceiling_kpa", ceiling_kpa, 45, 110)
    return min(SAP_KG_M3 * GRAVITY_M_S2 * drop_m / 1000, ceiling_kpa)


def _length(length_m: float | None, longest_m: float) -> list[Finding]:
    if length_m is None:
        return []
    require_range("length_m", length_m, 0.1, 20_000)
    return ["too long"] if round(length_m - longest_m, DECIMALS) > 0 else []


def _flatness(slope_percent: float | None, flattest_percent: float) -> list[Finding]:
    if slope_percent is None:
        return []
    require_range("slope_percent", slope_percent, -100, 100)
    # A line that cannot drain is not also called flat.
    if slope_percent < 0:
        return ["runs uphill"]
    return ["too flat"] if round(slope_percent, DECIMALS) < flattest_percent else []

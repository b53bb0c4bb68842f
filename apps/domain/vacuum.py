"""The vacuum a place can reach, the air a pump and a leak move, and what lost vacuum costs.

Formula: ceiling = the station pressure where known, else the standard atmosphere's as in `boiling`:
water and vacuum both meet the same air, so one formula serves both.
Leak: isentropic flow of free air through an orifice, choked once the line's absolute pressure is
under 0.528 of the air outside, m = C A p sqrt(2 g / (g-1) / (R T) (r^(2/g) - r^((g+1)/g))).
Sap lost to a deficit d of a target P, with gain k per inch: linear k d / (1 + k P), compounding
1 - (1 + k)^-d. Pump air falls by a fixed share per further inch of vacuum.
Units: vacuum and pressure in kPa (vacuum is a magnitude under the air outside), heights in m,
free air in m3/h at 60 F and 101.325 kPa, holes in mm; k and the pump's fall are per inch of
mercury (3.386389 kPa), the unit they are published in.
Validity: -430 to 5,000 m; holes to 50 mm. A tube behind the hole adds friction, so large holes
pass less than computed. The two loss models are readings of one rule for small changes and part
ways over the full range: name the model beside the figure.
Source: ISO 2533 (1975) / US Standard Atmosphere (1976). 5 % per inch: Wilmot, Maple News (25 Jan
2018), and Perkins, Isselhardt & van den Berg, Maple News (5 Feb 2018). 1 cubic foot a minute per
100 taps: UVM Extension, OSU Extension (Ober, 2013). 8 % less air per inch: OSU Extension, Childs
(Cornell, 2011). Discharge coefficient 0.62 of a sharp edge and the orifice law: from memory of
any text on compressible flow.
"""

import math
from typing import Final, Literal

import numpy as np

from apps.domain.boiling import STANDARD_KPA, ZERO_CELSIUS_K, station_pressure_kpa
from apps.domain.errors import DomainError, require_range
from apps.domain.units import (
    KPA_PER_INHG,
    METRES_PER_FOOT,
    Number,
    celsius_from_fahrenheit,
    inhg_from_kpa,
    kpa_from_inhg,
)

LossModel = Literal["linear", "compounding"]

WANTED_KPA: Final = kpa_from_inhg(26.0)
# What pump and pipes keep back even on a sound system: common practice.
UNDER_CEILING_KPA: Final = kpa_from_inhg(2.0)
FAULT_SLACK_KPA: Final = kpa_from_inhg(0.5)
# Read as linear unless said otherwise: at 25 in that is 2.25 times the sap of none, inside the two
# to three times of whole systems (UVM Maple Minute), where compounding gives 3.4.
GAIN_PER_INHG = 0.05
PUMP_FALL_PER_INHG = 0.08
M3_H_PER_CFM = METRES_PER_FOOT**3 * 60
TAPS_PER_CFM = 100
SHARP_EDGE = 0.62

HEAT_RATIO = 1.4
GAS_CONSTANT_J_KG_K = 287.05
STANDARD_K = celsius_from_fahrenheit(60.0) + ZERO_CELSIUS_K
CHOKED_RATIO = (2 / (HEAT_RATIO + 1)) ** (HEAT_RATIO / (HEAT_RATIO - 1))
STANDARD_DENSITY_KG_M3 = STANDARD_KPA * 1000 / (GAS_CONSTANT_J_KG_K * STANDARD_K)
# Gauges are read to a tenth of an inch; this only absorbs the conversion from inches.
ROUNDING_KPA = 1e-6


def ceiling_kpa(elevation_m: float, station_kpa: float | None = None) -> float:
    """The most vacuum a place can hold: its station pressure if known, else the standard's.

    Raises OutOfRange outside -430 to 5,000 m or 45 to 110 kPa.
    """
    require_range("elevation_m", elevation_m, -430, 5000)
    if station_kpa is not None:
        require_range("station_kpa", station_kpa, 45, 110)
        return station_kpa
    return station_pressure_kpa(elevation_m)


def default_target_kpa(ceiling_kpa: float, wanted_kpa: float = WANTED_KPA) -> float:
    """The wanted vacuum, or 2 in under the ceiling, whichever is lower."""
    require_range("ceiling_kpa", ceiling_kpa, 45, 110)
    require_range("wanted_kpa", wanted_kpa, 0, 110)
    return min(wanted_kpa, ceiling_kpa - UNDER_CEILING_KPA)


def is_gauge_fault(
    reading_kpa: float, ceiling_kpa: float, slack_kpa: float = FAULT_SLACK_KPA
) -> bool:
    """Whether a reading is more than the slack above what the place can hold."""
    require_range("reading_kpa", reading_kpa, 0, 200)
    require_range("ceiling_kpa", ceiling_kpa, 45, 110)
    require_range("slack_kpa", slack_kpa, 0, 20)
    return reading_kpa > ceiling_kpa + slack_kpa + ROUNDING_KPA


def share_of_air_removed(reading_kpa: float, ceiling_kpa: float) -> float:
    """What part of the air a gauge reading means is gone; OutOfRange over the ceiling."""
    require_range("ceiling_kpa", ceiling_kpa, 45, 110)
    require_range("reading_kpa", reading_kpa, 0, ceiling_kpa)
    return reading_kpa / ceiling_kpa


def pump_need_m3_h(taps: int, taps_per_cfm: float = TAPS_PER_CFM) -> float:
    """Free air wanted in the woods for so many taps, at their vacuum."""
    require_range("taps", taps, 0, 1_000_000)
    require_range("taps_per_cfm", taps_per_cfm, 10, 1000)
    return taps / taps_per_cfm * M3_H_PER_CFM


def taps_served(air_m3_h: float, taps_per_cfm: float = TAPS_PER_CFM) -> int:
    """Whole taps that so much delivered air serves."""
    require_range("air_m3_h", air_m3_h, 0, 1e6)
    require_range("taps_per_cfm", taps_per_cfm, 10, 1000)
    # Converted air must not lose a tap to its last binary digit.
    return math.floor(round(air_m3_h / M3_H_PER_CFM * taps_per_cfm, 6))


def pump_air_m3_h(
    rated_m3_h: float,
    rated_vacuum_kpa: float,
    vacuum_kpa: float,
    fall_per_inhg: float = PUMP_FALL_PER_INHG,
) -> float:
    """Air a pump still moves at a vacuum other than its rated one, falling with every inch."""
    require_range("rated_m3_h", rated_m3_h, 0, 1e5)
    require_range("rated_vacuum_kpa", rated_vacuum_kpa, 0, 110)
    require_range("vacuum_kpa", vacuum_kpa, 0, 110)
    require_range("fall_per_inhg", fall_per_inhg, 0, 0.5)
    # Of what is left, inch by inch: 8 % of the rating would leave no air at all after 12.5 in.
    share: float = (1 - fall_per_inhg) ** inhg_from_kpa(vacuum_kpa - rated_vacuum_kpa)
    return rated_m3_h * share


def leak_air_m3_h(
    hole_mm: float,
    vacuum_kpa: float,
    outside_kpa: float = STANDARD_KPA,
    discharge: float = SHARP_EDGE,
) -> float:
    """Free air that a round hole lets into a line under vacuum.

    Raises OutOfRange for a hole over 50 mm, a vacuum over the pressure outside or a discharge
    coefficient outside 0.1 to 1.
    """
    require_range("hole_mm", hole_mm, 0, 50)
    require_range("outside_kpa", outside_kpa, 45, 110)
    require_range("vacuum_kpa", vacuum_kpa, 0, outside_kpa)
    require_range("discharge", discharge, 0.1, 1)
    # Past the choked ratio the line's pressure no longer matters: the flow stays as it is there.
    ratio = max(1 - vacuum_kpa / outside_kpa, CHOKED_RATIO)
    expansion = ratio ** (2 / HEAT_RATIO) - ratio ** ((HEAT_RATIO + 1) / HEAT_RATIO)
    energy = 2 * HEAT_RATIO / (HEAT_RATIO - 1) / (GAS_CONSTANT_J_KG_K * STANDARD_K)
    area_m2 = math.pi * (hole_mm / 1000) ** 2 / 4
    kg_s = discharge * area_m2 * outside_kpa * 1000 * math.sqrt(energy * expansion)
    return kg_s / STANDARD_DENSITY_KG_M3 * 3600


def sap_gain(
    vacuum_kpa: float, k_per_inhg: float = GAIN_PER_INHG, model: LossModel = "linear"
) -> float:
    """Sap under a vacuum as a multiple of the sap without it."""
    require_range("vacuum_kpa", vacuum_kpa, 0, 110)
    require_range("k_per_inhg", k_per_inhg, 0, 0.5)
    refuse_unknown_model(model)
    inches = inhg_from_kpa(vacuum_kpa)
    grown: float = (1 + k_per_inhg) ** inches
    return 1 + k_per_inhg * inches if model == "linear" else grown


def share_lost(
    deficit_kpa: Number,
    target_kpa: Number,
    k_per_inhg: float = GAIN_PER_INHG,
    model: LossModel = "linear",
) -> Number:
    """Share of the sap at the target that a deficit below it costs, numbers or equal arrays.

    Raises OutOfRange for a deficit under 0 or over the target, DomainError for another model.
    """
    require_range("target_kpa", target_kpa, 0, 110)
    require_range("deficit_kpa", deficit_kpa, 0, float(np.max(target_kpa, initial=0)))
    require_range("k_per_inhg", k_per_inhg, 0, 0.5)
    refuse_unknown_model(model)
    # Per kPa once, so that arrays of readings are not converted one by one.
    if model == "linear":
        per_kpa = k_per_inhg / KPA_PER_INHG
        return per_kpa * deficit_kpa / (1 + per_kpa * target_kpa)
    # expm1 keeps the digits of a deficit far smaller than a gauge shows.
    lost: Number = -np.expm1(deficit_kpa * (-math.log1p(k_per_inhg) / KPA_PER_INHG))
    return lost


def refuse_unknown_model(model: str) -> None:
    """Raise DomainError unless the loss model is one of the two that are known."""
    if model not in ("linear", "compounding"):
        raise DomainError(f"model must be linear or compounding, not {model}")

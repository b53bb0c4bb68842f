"""Wind chill, and the days on which a crew does not tap.

Formula: W = 35.74 + 0.6215 T - 35.75 v^0.16 + 0.4275 T v^0.16, T in F and v in mph, converted.
An hour is too cold under the air or the wind-chill limit. A day is ruled out when even its
unknown hours could not bring the workable ones up to the hours a day's work takes.
Units: C, km/h.
Validity: wind chill is defined at 10 C (50 F) and below with wind over 4.8 km/h (3 mph);
otherwise the air temperature itself is given. -90 to 60 C, 0 to 400 km/h. NaN is unknown.
Source: US National Weather Service and Environment Canada (2001) index; the 50 F limit is from
memory. Limits of 10 F air and -10 F wind chill are common practice, no source.

Cold injures. These limits are a planning aid: go by the crew, the day's own warning and local
advice on frostbite.
"""

from dataclasses import dataclass
from typing import Any, Final, cast

import numpy as np
import numpy.typing as npt

from apps.domain.errors import DomainError, require_range
from apps.domain.units import (
    celsius_from_fahrenheit,
    fahrenheit_from_celsius,
    kmh_from_mph,
    mph_from_kmh,
)

# The index is fitted to cold moving air; outside that it would read warmer than the thermometer.
WARMEST_CHILL_C = 10.0
CALM_KMH = kmh_from_mph(3.0)

Temperatures = npt.NDArray[np.floating[Any]]


@dataclass(frozen=True, slots=True)
class ColdLimits:
    """Too cold under either limit, in C; the defaults are 10 F of air and -10 F of wind chill."""

    air_c: float = celsius_from_fahrenheit(10.0)
    wind_chill_c: float = celsius_from_fahrenheit(-10.0)

    def __post_init__(self) -> None:
        require_range("air_c", self.air_c, -60, 20)
        require_range("wind_chill_c", self.wind_chill_c, -80, 20)


USUAL_COLD: Final = ColdLimits()


@dataclass(frozen=True, slots=True)
class WorkHours:
    """Hours of one working day that are workable, too cold and unknown."""

    workable: int
    too_cold: int
    unknown: int
    ruled_out: bool


def wind_chill_c(
    temp_c: float | Temperatures, wind_kmh: float | Temperatures
) -> float | npt.NDArray[np.float64]:
    """Wind chill of numbers or arrays; NaN where either is unknown.

    Raises OutOfRange outside -90 to 60 C or 0 to 400 km/h.
    """
    temps, winds = np.asarray(temp_c, dtype=np.float64), np.asarray(wind_kmh, dtype=np.float64)
    require_range("temp_c", temps[~np.isnan(temps)], -90, 60)
    require_range("wind_kmh", winds[~np.isnan(winds)], 0, 400)
    temp_f, rise = fahrenheit_from_celsius(temps), mph_from_kmh(winds) ** 0.16
    chill_f = 35.74 + 0.6215 * temp_f - 35.75 * rise + 0.4275 * temp_f * rise
    # Written so that an unknown value takes the formula's path and stays unknown.
    plain = (temps > WARMEST_CHILL_C) & ~np.isnan(winds) | (winds <= CALM_KMH)
    chill_c = np.where(plain, temps, celsius_from_fahrenheit(chill_f))
    return float(chill_c) if chill_c.ndim == 0 else cast("npt.NDArray[np.float64]", chill_c)


def too_cold(
    temps_c: Temperatures, winds_kmh: Temperatures, limits: ColdLimits = USUAL_COLD
) -> npt.NDArray[np.int8]:
    """Hour by hour: 1 too cold, 0 workable, -1 unknown.

    An air temperature under its own limit is enough, whatever the wind. Limits are compared at
    0.01 C, so an hour at the limit is workable.
    """
    temps = np.asarray(temps_c, dtype=np.float64)
    chill = np.asarray(wind_chill_c(temps, winds_kmh))
    # Comparisons with NaN are false: an unknown wind leaves the air temperature to decide.
    cold = _under(temps, limits.air_c) | _under(chill, limits.wind_chill_c)
    return np.where(cold, 1, np.where(np.isnan(chill), -1, 0)).astype(np.int8)


def judge_work_hours(
    temps_c: Temperatures,
    winds_kmh: Temperatures,
    hours_needed: float,
    limits: ColdLimits = USUAL_COLD,
) -> WorkHours:
    """Judge the daylight working hours of one day, (hours,) each.

    Raises DomainError for other shapes, OutOfRange unless hours_needed is between 0.5 and 24.
    """
    if np.ndim(temps_c) != 1 or np.shape(temps_c) != np.shape(winds_kmh):
        raise DomainError("temps_c and winds_kmh must be equally long lists of hours")
    require_range("hours_needed", hours_needed, 0.5, 24)
    verdicts = too_cold(temps_c, winds_kmh, limits)
    workable, unknown = int((verdicts == 0).sum()), int((verdicts == -1).sum())
    cold = verdicts.size - workable - unknown
    # With no hour found too cold a short list of hours is a short forecast, not a cold day.
    ruled_out = cold > 0 and workable + unknown < hours_needed
    return WorkHours(workable, cold, unknown, ruled_out)


def _under(temps_c: Temperatures, limit_c: float) -> npt.NDArray[np.bool_]:
    under: npt.NDArray[np.bool_] = np.rint(temps_c * 100) < np.rint(limit_c * 100)
    return under

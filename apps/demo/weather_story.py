"""Invented hourly weather for the demo and the stand-in service: believable, never real.

Formula: a seasonal mean, a day's swing that clouds damp, three octaves of smooth noise for the
passing highs and lows, and one late-winter thaw a year, moved by height and latitude. The wind is
a mean with a day's swing, noise of the same kind, and one gale a year on a cold morning.
Units: degrees north and east, metres, unix seconds (UTC); the result is C or km/h.
Validity: made for the western Adirondack foothills, winter to spring; any year gives its own
weather and the same arguments always give the same values.
Source: invented. The lapse of 6.5 C per km is that of the ISO 2533 (1975) standard atmosphere.
"""

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Hours = npt.NDArray[np.int64]

DAY_S = 86_400
LAPSE_C_PER_M = 0.0065
HOME_LATITUDE, HOME_ELEVATION_M = 43.9, 430.0
C_PER_DEGREE_NORTH = -0.7

# Mean of the middle of each month at 430 m: late January frozen, mid-March about freezing.
_MONTH_MIDDLES = np.arange(-15.0, 411.0, 30.4)
_MONTH_MEANS_C = np.array(
    [-6.0, -9.8, -8.6, -0.6, 5.8, 13.5, 18.0, 20.0, 19.0, 14.5, 8.0, 1.5, -6.0, -9.8, -8.6]
)
# (days between knots, amplitude in C, seed): weeks, weather systems, single fronts.
_OCTAVES = ((11.0, 2.0, 11), (3.5, 4.2, 23), (1.3, 1.8, 47))
# Wind in km/h; the gale is at its height on the morning of 2 February.
_MEAN_KMH, _SWING_KMH, _GALE_KMH = 13.0, 3.0, 36.0
_GUSTY_OCTAVES = ((3.5, 6.0, 131), (1.3, 3.5, 149), (0.4, 1.5, 163))
_GALE_DAY_OF_YEAR, _GALE_HALF_WIDTH_DAYS = 32.6, 0.3
_THAW_DAY_OF_YEAR, _THAW_WARMTH_C, _THAW_HALF_WIDTH_DAYS = 38.0, 10.5, 1.6


def temperature_c(
    latitude: float, longitude: float, elevation_m: float, unix_seconds: Hours
) -> Floats:
    """Air temperature of each hour in C, the same shape as `unix_seconds`."""
    days = np.asarray(unix_seconds, dtype=np.float64) / DAY_S
    year, day_of_year = _calendar(days)
    thaw = _late_winter_thaw(year, day_of_year)
    # The thaw is one broad warm air mass: the usual ups and downs are smaller inside it.
    systems = sum(_noise(days, *octave) for octave in _OCTAVES) * (1 - 0.7 * thaw)
    place = C_PER_DEGREE_NORTH * (latitude - HOME_LATITUDE)
    place -= LAPSE_C_PER_M * (elevation_m - HOME_ELEVATION_M)
    mean: Floats = np.interp(day_of_year, _MONTH_MIDDLES, _MONTH_MEANS_C)
    swing = _swing(days + longitude / 360, day_of_year)
    return mean + swing + systems + _THAW_WARMTH_C * thaw + place


def wind_kmh(longitude: float, unix_seconds: Hours) -> Floats:
    """Wind of each hour in km/h, 10 m above open ground, the same shape as `unix_seconds`."""
    days = np.asarray(unix_seconds, dtype=np.float64) / DAY_S
    _, day_of_year = _calendar(days)
    gale = np.exp(-0.5 * ((day_of_year - _GALE_DAY_OF_YEAR) / _GALE_HALF_WIDTH_DAYS) ** 2)
    systems = sum(_noise(days, *octave) for octave in _GUSTY_OCTAVES)
    # The sun stirs the air: calmest before dawn, liveliest in the early afternoon.
    stirred = _SWING_KMH * np.cos(2 * np.pi * (days + longitude / 360 - 14 / 24))
    result: Floats = np.maximum(0.0, _MEAN_KMH + stirred + systems + _GALE_KMH * gale)
    return result


def _calendar(days: Floats) -> tuple[Hours, Floats]:
    dates = np.floor(days).astype("datetime64[D]")
    years = dates.astype("datetime64[Y]")
    starts = years.astype("datetime64[D]").astype(np.float64)
    return years.astype(np.int64) + 1970, days - starts


def _swing(solar_days: Floats, day_of_year: Floats) -> Floats:
    """The day's swing: coldest about sunrise, warmest mid-afternoon, small under cloud."""
    hour = 24 * (solar_days % 1)
    shape = np.cos(2 * np.pi * (hour - 14.5) / 24) + 0.15 * np.cos(4 * np.pi * (hour - 14.5) / 24)
    # Long days and a high sun swing more: about 4 C each way in January, 6.5 C in April.
    clear_c = 5.3 - 1.5 * np.cos(2 * np.pi * (day_of_year - 5) / 200)
    clouds = 0.85 + 0.3 * _noise(solar_days, 1.7, 1.0, 71)
    result: Floats = shape * clear_c * clouds
    return result


def _late_winter_thaw(year: Hours, day_of_year: Floats) -> Floats:
    """0 to 1: one spell about 8 February, a day earlier or later by year."""
    centre = _THAW_DAY_OF_YEAR + _hashed(year, 97)
    result: Floats = np.exp(-0.5 * ((day_of_year - centre) / _THAW_HALF_WIDTH_DAYS) ** 2)
    return result


def _noise(days: Floats, knot_days: float, amplitude_c: float, seed: int) -> Floats:
    """Smooth noise through one hashed value per knot: no seam between years."""
    position = days / knot_days
    knot = np.floor(position).astype(np.int64)
    part = position - knot
    ease = part * part * (3 - 2 * part)
    before, after = _hashed(knot, seed), _hashed(knot + 1, seed)
    result: Floats = amplitude_c * (before + (after - before) * ease)
    return result


def _hashed(number: Hours, seed: int) -> Floats:
    """-1 to 1 from a whole number, the same on every machine (the splitmix64 finaliser)."""
    mixed = number.astype(np.uint64) + np.uint64(seed * 0x9E3779B97F4A7C15 % 2**64)
    mixed = (mixed ^ (mixed >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    mixed = (mixed ^ (mixed >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    mixed ^= mixed >> np.uint64(31)
    result: Floats = mixed.astype(np.float64) / 2**63 - 1
    return result

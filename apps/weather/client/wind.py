"""The wind beside the temperatures: kept where it can be believed, never at their cost.

Units: km/h, 10 m above open ground, which is the wind the wind-chill index takes: it reckons down
to the height of a face itself. Arrays are (hours,), NaN where the wind is unknown.
Validity: one wind an hour, that of the control run or of the only series, since days of work are
judged by its hours; no chance is made of wind. Left out whole, with a remark, is a wind that is
missing, in another unit, outside 0 to 200 km/h or nought in every hour. An hour without a
temperature has no wind either.
Source: US National Weather Service and Environment Canada (2001) for the height, 33 ft. A derived
value that turned to nought past the end of its model was reported of a real service (Open-Meteo
issue 506, 2023). The limit of 200 km/h is common practice, no source.
"""

from collections.abc import Callable

import numpy as np

from apps.weather.client.believable import FEWEST_HOURS_AHEAD, RefusedError
from apps.weather.client.records import Finding, Temperatures, Winds

FASTEST_KMH = 200.0
Told = tuple[Winds | None, tuple[Finding, ...]]
# What is said of the past alone, where nobody works any more.
UNASKED: Told = (None, ())


def beside(temps_c: Temperatures, read: Callable[[], Winds], site_id: int) -> Told:
    """The wind of (members, hours) temperatures, None where all of it is unknown, with remarks.

    `read` gives (hours,) or raises RefusedError. That never goes further: the hours of temperature
    in the same answer are as good as they were.
    """
    known = ~np.isnan(temps_c[0])
    try:
        # Past the end of a model a wind of nought may stand where the temperature is null.
        winds_kmh = np.where(known, read(), np.nan)
        _refuse_unbelievable(winds_kmh)
    except RefusedError as refusal:
        return None, (Finding("wind_unknown", f"Wind left out: {refusal.detail}", site_id),)
    if missing := int(np.isnan(winds_kmh[known]).sum()):
        words = f"Wind is missing in {missing} of {int(known.sum())} hours."
        return winds_kmh, (Finding("wind_missing", words, site_id),)
    return winds_kmh, ()


def believed(winds_kmh: Winds) -> Winds:
    """With NaN for what no wind can be: for hours out of a store that may have gone bad."""
    with np.errstate(invalid="ignore"):
        return np.where((winds_kmh >= 0) & (winds_kmh <= FASTEST_KMH), winds_kmh, np.nan)


def _refuse_unbelievable(winds_kmh: Winds) -> None:
    known = winds_kmh[~np.isnan(winds_kmh)]
    if not known.size:
        raise RefusedError("all_missing", "every hour of it is missing.")
    # One value beyond belief is a fault of unit or of reading, and then of every hour.
    bad = known[(known < 0) | (known > FASTEST_KMH)]
    if bad.size:
        raise RefusedError("implausible", f"{bad[0]:g} km/h is not believable.")
    if known.size >= FEWEST_HOURS_AHEAD and not known.any():
        raise RefusedError("implausible", f"{known.size} hours without a breath are no forecast.")

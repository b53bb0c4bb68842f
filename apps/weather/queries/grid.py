"""Moving the hours of a grid cell to a woodlot's own height, once."""

import numpy as np

from apps.domain.freeze_thaw import correct_temperature
from apps.weather.packing import Hours
from apps.woods.models import Woodlot


def to_woodlot(
    temps_c: Hours,
    elevation_used_m: float | None,
    woodlot: Woodlot,
    lapse_c_per_m: float,
    offset_c: float = 0.0,
) -> Hours:
    """From the height the values stand for; one that was not given moves nothing."""
    used_m = woodlot.elevation_m if elevation_used_m is None else elevation_used_m
    moved = correct_temperature(temps_c, used_m, woodlot.elevation_m, lapse_c_per_m, offset_c)
    return np.asarray(moved, dtype=np.float64)

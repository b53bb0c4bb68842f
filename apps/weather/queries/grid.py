"""Moving the hours of a grid cell to a woodlot's own height, once."""

import numpy as np

from apps.domain.freeze_thaw import correct_temperature
from apps.domain.freeze_thaw.daily import COLDEST_C, WARMEST_C
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
    return possible_only(np.asarray(moved, dtype=np.float64))


def possible_only(temps_c: Hours) -> Hours:
    """The same, an hour that no air on Earth has had being missing.

    A height mistyped or misread by some thousand metres moves good values there. They would be
    refused further down, and the refusal would cost every other woodlot its page.
    """
    possible = (temps_c >= COLDEST_C) & (temps_c <= WARMEST_C)
    return temps_c if possible.all() else np.where(possible, temps_c, np.nan)

"""How much warmer a woodlot is than a forecast or an archive says, from its own readings."""

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from apps.operation.queries import Constants
from apps.weather.models import ArchiveWinter, HourlySeries
from apps.weather.packing import Hours
from apps.weather.queries.grid import to_woodlot
from apps.weather.queries.readings import HOUR, Observed, whole_record
from apps.woods.models import Woodlot

# Three days hold each hour of the day three times. Common practice, no source.
FEWEST_HOURS = 72
# Further out a forecast is wrong for reasons of its own, not for the place's.
LEAD = timedelta(hours=24)


@dataclass(frozen=True)
class OffsetSuggestion:
    """The median of own reading less grid over the hours both know, and the middle half of it.

    Differences are to the grid moved to the woodlot's height, without the offset in use.
    """

    against: str
    hours: int
    median_c: float
    lower_c: float
    upper_c: float

    @property
    def enough(self) -> bool:
        return self.hours >= FEWEST_HOURS


def offset_suggestions(
    woodlot: Woodlot, constants: Constants, now: datetime
) -> list[OffsetSuggestion]:
    """One for each model there are overlapping hours with; empty when there are none."""
    own = whole_record(woodlot)
    if own is None:
        return []
    lapse = constants.number("weather.lapse_c_per_m")
    grids = _forecasts(woodlot, lapse, now) | _archives(woodlot, lapse)
    found = (_suggest(own, against, hours) for against, hours in grids.items())
    return [one for one in found if one is not None]


Grid = list[tuple[datetime, Hours]]


def _forecasts(woodlot: Woodlot, lapse_c_per_m: float, now: datetime) -> dict[str, Grid]:
    """The first day of every stored forecast by its model, members by their median."""
    rows = HourlySeries.objects.filter(woodlot=woodlot, run__fetched_at__lte=now)
    found: dict[str, Grid] = {}
    for row in rows.select_related("run").order_by("run__fetched_at", "pk"):
        reach = max(0, -((row.start_at - row.run.fetched_at - LEAD) // HOUR))
        middle = _median(row.temps_c()[:, :reach])
        name = f"{row.run.provider} {row.run.product}, {row.run.model}"
        moved = to_woodlot(middle, row.elevation_used_m, woodlot, lapse_c_per_m)
        found.setdefault(name, []).append((row.start_at, moved))
    return found


def _archives(woodlot: Woodlot, lapse_c_per_m: float) -> dict[str, Grid]:
    found: dict[str, Grid] = {}
    for row in ArchiveWinter.objects.filter(woodlot=woodlot).order_by("winter"):
        name = f"{row.provider} archive, {row.model}"
        moved = to_woodlot(row.temps_c(), row.elevation_used_m, woodlot, lapse_c_per_m)
        found.setdefault(name, []).append((row.start_at, moved))
    return found


def _median(temps_c: Hours) -> Hours:
    """Over the members that have the hour; NaN where none has."""
    if len(temps_c) == 1:
        return np.asarray(temps_c[0], dtype=np.float64)
    known = np.isfinite(temps_c).any(axis=0)
    out = np.full(temps_c.shape[1], np.nan)
    out[known] = np.nanmedian(temps_c[:, known], axis=0)
    return out


def _suggest(
    own: Observed, against: str, grid: list[tuple[datetime, Hours]]
) -> OffsetSuggestion | None:
    apart = np.full(own.temps_c.size, np.nan)
    # In the order they were fetched, so that the newest word on an hour is the one compared.
    for start_at, temps_c in grid:
        shift = (start_at - own.start_at) // HOUR
        low, high = max(0, shift), min(apart.size, shift + temps_c.size)
        if low < high:
            apart[low:high] = own.temps_c[low:high] - temps_c[low - shift : high - shift]
    known = apart[np.isfinite(apart)]
    if not known.size:
        return None
    lower, middle, upper = np.percentile(known, (25, 50, 75)).tolist()
    return OffsetSuggestion(against, int(known.size), round(middle, 2), lower, upper)

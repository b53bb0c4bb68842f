"""The last good hours of each woodlot, as stored and as moved to the woodlot's own height."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt

from apps.domain.freeze_thaw import correct_temperature
from apps.weather.models import ForecastRun, HourlySeries
from apps.woods.models import Woodlot

HOUR = timedelta(hours=1)

Hours = npt.NDArray[np.float64]


@dataclass(frozen=True)
class StoredSeries:
    """A woodlot's last good hours as the service gave them (C, NaN missing), with their source."""

    woodlot_id: int
    temps_c: Hours
    start_at: datetime
    run: ForecastRun
    elevation_used_m: float | None

    def known_until(self) -> datetime | None:
        """The end of the last hour that is known, None when none is."""
        known = np.flatnonzero(~np.isnan(self.temps_c))
        return self.start_at + HOUR * (int(known[-1]) + 1) if known.size else None


def latest_series(woodlots: Iterable[Woodlot], now: datetime) -> dict[int, StoredSeries]:
    """The last good hours of each woodlot that has any, member 0, by woodlot id."""
    rows = HourlySeries.objects.newest_per_woodlot(now).filter(woodlot__in=list(woodlots))
    return {
        row.woodlot_id: StoredSeries(
            woodlot_id=row.woodlot_id,
            temps_c=row.temps_c()[0],
            start_at=row.start_at,
            run=row.run,
            elevation_used_m=row.elevation_used_m,
        )
        for row in rows.select_related("run")
    }


def at_woodlot(series: StoredSeries, woodlot: Woodlot, lapse_c_per_m: float) -> Hours:
    """Move the hours once, from the height the service says it used to the woodlot's own.

    The woodlot's own offset, how much warmer it is there, is added. A height that was not given
    moves nothing: the run's findings say so.
    """
    used_m = series.elevation_used_m
    moved = correct_temperature(
        series.temps_c,
        from_elevation_m=woodlot.elevation_m if used_m is None else used_m,
        to_elevation_m=woodlot.elevation_m,
        lapse_c_per_m=lapse_c_per_m,
        offset_c=woodlot.temperature_offset_c,
    )
    return np.asarray(moved, dtype=np.float64)

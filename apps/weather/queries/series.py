"""The last good hours of each woodlot and model, as stored and as moved to the woodlot's height.

Sources are never spliced: what is shown of a woodlot is of one source, the first of the order in
the settings that is young enough.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cached_property
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt
from django.conf import settings

from apps.domain.freeze_thaw import correct_temperature
from apps.weather.client.wind import believed
from apps.weather.models import ForecastRun, HourlySeries
from apps.weather.queries.age import Staleness, staleness
from apps.woods.models import Woodlot

HOUR = timedelta(hours=1)
KEYS = {
    ("open-meteo", "ensemble"): "open-meteo-ensemble",
    ("open-meteo", "forecast"): "open-meteo",
    ("nws", "gridpoints"): "nws",
    ("met-norway", "locationforecast"): "met-norway",
}
_USABLE = {"fresh": 0, "recent": 0, "old": 1, "withheld": 2}
_YOUNG = {"fresh": 0, "recent": 1}

Hours = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class StoredSeries:
    """A woodlot's last good hours of one model as the service gave them, with their source.

    `members_c` is (members, hours) in C, NaN missing. From hour `coarse_from` on the service
    gives one value every `coarse_step_hours`. `winds_kmh` is (hours,), the wind of the first row,
    NaN where it is unknown; None where it was not read.
    """

    woodlot_id: int
    members_c: Hours
    start_at: datetime
    run: ForecastRun
    elevation_used_m: float | None
    issued_at: datetime | None = None
    checked_at: datetime | None = None
    coarse_from: int | None = None
    coarse_step_hours: int | None = None
    winds_kmh: Hours | None = None

    @property
    def temps_c(self) -> Hours:
        """(hours,) of the control, or of the only series there is."""
        control: Hours = self.members_c[0]
        return control

    @property
    def gives_chances(self) -> bool:
        return len(self.members_c) > 1

    @property
    def born_at(self) -> datetime:
        """When it was issued or the model's run began, where that is known; else fetched."""
        return self.issued_at or self.run.run_time or self.run.fetched_at

    @property
    def coarse_from_at(self) -> datetime | None:
        return None if self.coarse_from is None else self.start_at + HOUR * self.coarse_from

    def known_until(self) -> datetime | None:
        """The end of the last hour that any member knows, None when none is."""
        return self._known_until

    @cached_property
    def _known_until(self) -> datetime | None:
        # Asked for at every turn of choosing and ageing, of arrays of many members.
        known = np.flatnonzero((~np.isnan(self.members_c)).any(axis=0))
        return self.start_at + HOUR * (int(known[-1]) + 1) if known.size else None

    def staleness(self, now: datetime, tz: ZoneInfo) -> Staleness:
        how = "issued" if self.issued_at else "run begun" if self.run.run_time else "fetched"
        return staleness(now, self.born_at, self.known_until(), tz, how)


def newest_series(woodlots: Iterable[Woodlot], now: datetime) -> dict[int, list[StoredSeries]]:
    """The last good hours of each woodlot, one of each model, in no particular order."""
    ids = [woodlot.pk for woodlot in woodlots]
    rows = HourlySeries.objects.newest_per_model(now, ids).select_related("run")
    found: dict[int, list[StoredSeries]] = {}
    for row in rows:
        found.setdefault(row.woodlot_id, []).append(_stored(row))
    return found


def best_series(
    candidates: Iterable[StoredSeries], now: datetime, tz: ZoneInfo
) -> StoredSeries | None:
    """The one to judge days by: usable before old, a forecast before an ensemble's control run."""

    def rank(series: StoredSeries) -> tuple[float, ...]:
        level = series.staleness(now, tz).level
        return (
            _USABLE[level],
            # Of those too old to show, only the age of the youngest is told.
            -series.born_at.timestamp() if level == "withheld" else 0,
            series.gives_chances,
            _YOUNG.get(level, 2),
            source_rank(series.run),
            -series.run.fetched_at.timestamp(),
        )

    return min(candidates, key=rank, default=None)


def source_rank(run: ForecastRun) -> int:
    """The place of a run's source in the order of the settings; last when it is not in it."""
    order: list[str] = list(settings.WEATHER_SOURCES)
    key = KEYS.get((run.provider, run.product))
    return order.index(key) if key in order else len(order)


def latest_series(
    woodlots: Iterable[Woodlot], now: datetime, tz: ZoneInfo
) -> dict[int, StoredSeries]:
    """The series to judge each woodlot's days by, by woodlot id, where there is any."""
    return {
        pk: best
        for pk, candidates in newest_series(woodlots, now).items()
        if (best := best_series(candidates, now, tz))
    }


def _stored(row: HourlySeries) -> StoredSeries:
    return StoredSeries(
        woodlot_id=row.woodlot_id,
        members_c=row.temps_c(),
        start_at=row.start_at,
        run=row.run,
        elevation_used_m=row.elevation_used_m,
        issued_at=row.issued_at,
        checked_at=row.checked_at,
        coarse_from=row.coarse_from,
        coarse_step_hours=row.coarse_step_hours,
        winds_kmh=believed(row.winds_kmh()),
    )


def at_woodlot(series: StoredSeries, woodlot: Woodlot, lapse_c_per_m: float) -> Hours:
    """(members, hours) moved once, from the height the service used to the woodlot's own.

    The woodlot's own offset, how much warmer it is there, is added. A height that was not given
    moves nothing: the run's findings say so.
    """
    used_m = series.elevation_used_m
    moved = correct_temperature(
        series.members_c,
        from_elevation_m=woodlot.elevation_m if used_m is None else used_m,
        to_elevation_m=woodlot.elevation_m,
        lapse_c_per_m=lapse_c_per_m,
        offset_c=woodlot.temperature_offset_c,
    )
    return np.asarray(moved, dtype=np.float64)

"""A provider for tests that answers at once with the invented story, without a network."""

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, time, timedelta
from hashlib import sha256

import numpy as np

from apps.demo.weather_story import HOME_ELEVATION_M, temperature_c, wind_kmh
from apps.weather.client.records import (
    FetchOutcome,
    HourlySeries,
    Provenance,
    SiteMemory,
    SitePoint,
)
from apps.weather.client.transport import Deadline

DAYS_BACK, DAYS_AHEAD = 1, 15


class InventedWeather:
    """Answers at once, for the height of the hamlet, with the reach of a real service."""

    provenance = Provenance(
        provider="invented",
        product="forecast",
        model="demo story",
        attribution="Demo weather, invented by this program",
        licence_url="",
    )

    host = "invented"

    def fetch(
        self,
        points: Sequence[SitePoint],
        *,
        now: datetime,
        memories: Mapping[int, SiteMemory],
        deadline: Deadline,
    ) -> FetchOutcome:
        series = {point.site_id: _series(point, now) for point in points}
        told = repr(sorted((site, hours.temps_c.tolist()) for site, hours in series.items()))
        return FetchOutcome(
            provenance=self.provenance,
            series=series,
            payload_sha256=sha256(told.encode()).hexdigest() if series else None,
        )


def _series(point: SitePoint, now: datetime) -> HourlySeries:
    first_day = now.astimezone(UTC).date() - timedelta(days=DAYS_BACK)
    start = datetime.combine(first_day, time(), UTC)
    hours = np.arange(24 * (DAYS_BACK + 1 + DAYS_AHEAD))
    stamps = int(start.timestamp()) + 3600 * hours
    temps = temperature_c(point.latitude, point.longitude, HOME_ELEVATION_M, stamps)
    return HourlySeries(
        site_id=point.site_id,
        start_at=start,
        temps_c=np.round(temps, 1)[np.newaxis],
        grid_latitude=point.latitude,
        grid_longitude=point.longitude,
        elevation_used_m=HOME_ELEVATION_M,
        winds_kmh=np.round(wind_kmh(point.longitude, stamps), 1),
    )

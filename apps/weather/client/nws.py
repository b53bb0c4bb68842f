"""The US National Weather Service: the raw hours of its forecast grid, without members.

Formula: a value, of temperature or of wind, stands for every hour of its span (validTime, a start
and an ISO duration); hours that no span covers, and null ones, are missing.
Units: C, km/h, metres, degrees with at most 4 decimals and no trailing zeros; UTC.
Validity: places in the US and its territories, about seven days ahead. The grid cell of a place
can move without notice, so it is looked up anew after 30 days and whenever the cell is gone.
Stale answers come with status 200, so the time of issue is read, and never goes backwards.
Source: weather-gov/api documentation, general FAQs and gridpoints (2024), and its issue threads
71, 29 and 18; the service's page on its web API (2024). Free for any purpose.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any
from urllib.parse import urlsplit

import numpy as np
import numpy.typing as npt
import requests

from apps.weather.client import believable, question, single, wind
from apps.weather.client.believable import HOUR_S, MOST_HOURS, RefusedError
from apps.weather.client.records import (
    FetchOutcome,
    HourlySeries,
    Provenance,
    ProviderFailure,
    SiteMemory,
    SitePoint,
    Winds,
)
from apps.weather.client.transport import Deadline, Over, Pace, Reply, session

GRID_GOOD_FOR = timedelta(days=30)
GRID = re.compile(r"[A-Z]{3}/\d{1,4},\d{1,4}")
DURATION = re.compile(r"P(?:(\d{1,3})D)?(?:T(?:(\d{1,4})H)?)?")
PROVENANCE = Provenance(
    provider="nws",
    product="gridpoints",
    model="forecast grid",
    attribution="US National Weather Service",
    licence_url="https://www.weather.gov/disclaimer",
    native_step_hours=1,
)


@dataclass(frozen=True)
class Nws:
    """The forecast grid of one host; not asked at all without a contact address."""

    base_url: str
    contact: str = ""
    pace: Pace = field(default_factory=Pace)
    provenance: Provenance = PROVENANCE

    @property
    def host(self) -> str:
        return urlsplit(self.base_url).netloc

    def fetch(
        self,
        points: Sequence[SitePoint],
        *,
        now: datetime,
        memories: Mapping[int, SiteMemory],
        deadline: Deadline,
    ) -> FetchOutcome:
        if not self.contact:
            stopped = ProviderFailure("no_contact", f"The NWS {single.NO_CONTACT}")
            return single.Visit().outcome(PROVENANCE, stopped)
        # Without this Accept the service was seen to send older data.
        sent = question.headers(self.contact, "application/geo+json")
        with session(self.pace, sent) as opened:
            over = Over(opened, deadline, self.pace)

            def ask(point: SitePoint, seen: single.Visit) -> HourlySeries:
                memory = memories.get(point.site_id, SiteMemory())
                return self._site(over, point, memory, seen, now)

            return single.visit(points, PROVENANCE, ask)

    def _site(
        self, over: Over, point: SitePoint, memory: SiteMemory, seen: single.Visit, now: datetime
    ) -> HourlySeries:
        known = memory.grid if _still_good(memory, now) else ""
        grid = known or self._look_up(over, point, seen, now)
        reply = over.get(f"{self._base}/gridpoints/{grid}")
        if reply.status == requests.codes.not_found and known:
            # The office has moved its grid since we looked it up.
            grid = self._look_up(over, point, seen, now)
            reply = over.get(f"{self._base}/gridpoints/{grid}")
        self._refuse_status(reply, now)
        series = read(believable.parse(reply.body), point, now)
        single.refuse_older(series.issued_at, memory.issued_at)
        seen.digest.update(reply.body)
        return series

    @property
    def _base(self) -> str:
        return self.base_url.rstrip("/")

    def _look_up(self, over: Over, point: SitePoint, seen: single.Visit, now: datetime) -> str:
        where = ",".join(f"{part:.4f}".rstrip("0") for part in (point.latitude, point.longitude))
        where = where.replace(".,", ",").removesuffix(".")
        reply = over.get(f"{self._base}/points/{where}")
        self._refuse_status(reply, now)
        found = believable.parse(reply.body)
        cell = found.get("properties") if isinstance(found, dict) else None
        said = cell if isinstance(cell, dict) else {}
        grid = f"{said.get('gridId')}/{said.get('gridX')},{said.get('gridY')}"
        # It goes into an address: nothing but an office and two numbers may.
        if not GRID.fullmatch(grid):
            raise RefusedError("wrong_shape", "The answer names no cell of the forecast grid.")
        seen.grids[point.site_id] = grid
        return grid

    def _refuse_status(self, reply: Reply, now: datetime) -> None:
        if reply.status == requests.codes.not_found:
            raise RefusedError("outside", f"{self.host} has no forecast for this place.")
        if reply.status != requests.codes.ok:
            failure = question.failure_of(reply, self.host, now)
            if reply.status == requests.codes.forbidden:
                words = f"{self.host} refused us: is THAWLINE_CONTACT a real address?"
                failure = ProviderFailure("key_refused", words)
            raise failure


def _still_good(memory: SiteMemory, now: datetime) -> bool:
    if not memory.grid or memory.grid_found_at is None:
        return False
    return timedelta() <= now - memory.grid_found_at < GRID_GOOD_FOR


def read(reply: Any, point: SitePoint, now: datetime) -> HourlySeries:
    """The series in the JSON of a grid cell; raises RefusedError."""
    said = reply.get("properties") if isinstance(reply, dict) else None
    temperature = said.get("temperature") if isinstance(said, dict) else None
    if not isinstance(said, dict) or not isinstance(temperature, dict):
        raise RefusedError("wrong_shape", "The temperatures are missing from the answer.")
    if temperature.get("uom") != "wmoUnit:degC":
        unit = temperature.get("uom")
        raise RefusedError("wrong_unit", f"temperature came in {unit!r}, not in 'wmoUnit:degC'.")
    start, hours = _hours(temperature.get("values"), "temperature")
    temps_c = hours[np.newaxis]
    believable.refuse_implausible(temps_c)
    believable.refuse_nothing_ahead(~np.isnan(temps_c), start, now)
    height_m = _height(said.get("elevation"))
    winds_kmh, of_wind = wind.beside(
        temps_c, lambda: _winds(said.get("windSpeed"), start, hours.size), point.site_id
    )
    issued, remarks = single.issued_at(said.get("updateTime"), now, point.site_id)
    return HourlySeries(
        site_id=point.site_id,
        start_at=start,
        temps_c=temps_c,
        grid_latitude=None,
        grid_longitude=None,
        elevation_used_m=height_m,
        findings=(*remarks, *believable.height_remarks(point, height_m), *of_wind),
        issued_at=issued,
        winds_kmh=winds_kmh,
    )


def _height(said: object) -> float | None:
    if not isinstance(said, dict) or said.get("unitCode") != "wmoUnit:m":
        return None
    return believable.height(said.get("value"))


def _winds(said: object, start: datetime, hours: int) -> Winds:
    """The wind of the hours of temperature: its spans begin and end where they like."""
    if not isinstance(said, dict):
        raise RefusedError("wrong_shape", "windSpeed is missing from the answer.")
    if said.get("uom") != "wmoUnit:km_h-1":
        words = f"windSpeed came in {said.get('uom')!r}, not in 'wmoUnit:km_h-1'."
        raise RefusedError("wrong_unit", words)
    begins, speeds = _hours(said.get("values"), "wind speed")
    late = int((begins - start).total_seconds()) // HOUR_S
    first, last = max(0, late), min(hours, late + speeds.size)
    winds_kmh = np.full(hours, np.nan)
    if first < last:
        winds_kmh[first:last] = speeds[first - late : last - late]
    return winds_kmh


def _hours(values: object, what: str) -> tuple[datetime, npt.NDArray[np.float64]]:
    """Spans written out hour by hour, (hours,) from the first one's start."""
    if not isinstance(values, list) or not values:
        raise RefusedError("wrong_shape", f"The {what}s are missing from the answer.")
    spans = [_span(entry, what) for entry in values]
    first = spans[0][0]
    total = spans[-1][0] + spans[-1][1] - first
    if not 0 < total <= MOST_HOURS:
        raise RefusedError("wrong_times", f"The spans cover {total} hours.")
    hourly = np.full(total, np.nan)
    until = first
    for begins, hours, value in spans:
        if begins < until:
            raise RefusedError("wrong_times", "The spans of hours overlap or are out of order.")
        until = begins + hours
        hourly[begins - first : until - first] = value
    return datetime.fromtimestamp(first * HOUR_S, UTC), hourly


def _span(entry: object, what: str) -> tuple[int, int, float]:
    """The start in whole hours since 1970, how many hours, and the value (NaN for null)."""
    if not isinstance(entry, dict):
        raise RefusedError("wrong_shape", "A span of hours is not an object.")
    start, _, duration = str(entry.get("validTime")).partition("/")
    moment, match = single.utc(start), DURATION.fullmatch(duration)
    if moment is None or match is None or moment.minute or moment.second or moment.microsecond:
        raise RefusedError("wrong_times", f"{entry.get('validTime')!r} is not a span of hours.")
    hours = 24 * int(match[1] or 0) + int(match[2] or 0)
    value = entry.get("value")
    if value is not None and believable.number(value) is None:
        raise RefusedError("wrong_value", f"{value!r} is not a {what}."[:200])
    return int(moment.timestamp()) // HOUR_S, hours, np.nan if value is None else float(value)

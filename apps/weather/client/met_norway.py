"""MET Norway's location forecast, compact: hourly for some days, then every six hours.

Units: C, whole metres, degrees with at most 4 decimals; UTC.
Validity: the whole world, nine days ahead, from the present hour on; no members. Where the steps
grow to six hours the hours between stay missing and the step is noted: such a day can be seen
to freeze and thaw, never not to. The service's Expires is kept to, six hours at most, and
If-Modified-Since is sent back word for word.
Source: metno/weatherapi-docs, terms of service, Locationforecast how-to and data model (2023).
Licence NLOD 2.0 and CC BY 4.0.
"""

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime
from typing import Any
from urllib.parse import urlsplit

import numpy as np
import requests

from apps.weather.client import believable, question, single
from apps.weather.client.believable import HOUR_S, MOST_HOURS, RefusedError
from apps.weather.client.records import (
    FetchOutcome,
    Finding,
    HourlySeries,
    Provenance,
    ProviderFailure,
    SiteMemory,
    SitePoint,
    Temperatures,
)
from apps.weather.client.transport import Deadline, Over, Pace, Reply, session

PATH = "/weatherapi/locationforecast/2.0/compact"
LONGEST_EXPIRY = timedelta(hours=6)
LONGEST_STEP = 12
DEPRECATED = 203
PROVENANCE = Provenance(
    provider="met-norway",
    product="locationforecast",
    model="compact 2.0",
    attribution="Data from MET Norway",
    licence_url="https://api.met.no/doc/License",
    native_step_hours=1,
)


@dataclass(frozen=True)
class MetNorway:
    """The compact forecast of one host; not asked at all without a contact address."""

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
            stopped = ProviderFailure("no_contact", f"MET Norway {single.NO_CONTACT}")
            return single.Visit().outcome(PROVENANCE, stopped)
        with session(self.pace, question.headers(self.contact, "application/json")) as opened:
            over = Over(opened, deadline, self.pace)

            def ask(point: SitePoint, seen: single.Visit) -> HourlySeries | None:
                memory = memories.get(point.site_id, SiteMemory())
                return self._site(over, point, memory, seen, now)

            return single.visit(points, PROVENANCE, ask)

    def _site(
        self, over: Over, point: SitePoint, memory: SiteMemory, seen: single.Visit, now: datetime
    ) -> HourlySeries | None:
        if memory.expires_at and memory.expires_at > now:
            seen.unchanged[point.site_id] = memory.expires_at
            return None
        reply = over.get(
            self.base_url.rstrip("/") + PATH,
            {"lat": f"{point.latitude:.4f}", "lon": f"{point.longitude:.4f}"},
            {"If-Modified-Since": memory.last_modified} if memory.last_modified else None,
        )
        if reply.status == requests.codes.not_modified and memory.last_modified:
            seen.unchanged[point.site_id] = _expires(reply, now)
            return None
        self._refuse_status(reply, now)
        series = read(believable.parse(reply.body), point, now)
        single.refuse_older(series.issued_at, memory.issued_at)
        seen.digest.update(reply.body)
        return _with_validators(series, reply, now)

    def _refuse_status(self, reply: Reply, now: datetime) -> None:
        if reply.status in {requests.codes.ok, DEPRECATED}:
            return
        if reply.status in {requests.codes.not_found, requests.codes.unprocessable_entity}:
            raise RefusedError("outside", f"{self.host} has no forecast for this place.")
        if reply.status == requests.codes.forbidden:
            words = f"{self.host} refused us: is THAWLINE_CONTACT a real address?"
            raise ProviderFailure("key_refused", words)
        raise question.failure_of(reply, self.host, now)


def _with_validators(series: HourlySeries, reply: Reply, now: datetime) -> HourlySeries:
    findings = series.findings
    if reply.status == DEPRECATED:
        words = "The service says that this version of its forecast will be retired."
        findings = (*findings, Finding("deprecated", words, series.site_id))
    return replace(
        series,
        findings=findings,
        # Sent back as it came, whatever day it names.
        last_modified=reply.headers.get("Last-Modified", "")[:60],
        expires_at=_expires(reply, now),
    )


def _expires(reply: Reply, now: datetime) -> datetime | None:
    """A moment ahead, six hours at most: a wrong clock must not silence us for days."""
    try:
        said = parsedate_to_datetime(reply.headers.get("Expires", ""))
    except (ValueError, TypeError):
        return None
    moment = said.replace(tzinfo=UTC) if said.tzinfo is None else said.astimezone(UTC)
    return min(moment, now + LONGEST_EXPIRY) if moment > now else None


def read(reply: Any, point: SitePoint, now: datetime) -> HourlySeries:
    """The series in the service's JSON; raises RefusedError."""
    said = reply.get("properties") if isinstance(reply, dict) else None
    meta = said.get("meta") if isinstance(said, dict) else None
    if not isinstance(said, dict) or not isinstance(meta, dict):
        raise RefusedError("wrong_shape", "The forecast is missing from the answer.")
    units = meta.get("units")
    unit = units.get("air_temperature") if isinstance(units, dict) else None
    if unit != "celsius":
        raise RefusedError("wrong_unit", f"air_temperature came in {unit!r}, not in 'celsius'.")
    start, temps_c, coarse = _hours(said.get("timeseries"))
    believable.refuse_implausible(temps_c)
    _refuse_short(temps_c, coarse, start, now)
    latitude, longitude, height_m = _place(reply.get("geometry"), point)
    issued, remarks = single.issued_at(meta.get("updated_at"), now, point.site_id)
    return HourlySeries(
        site_id=point.site_id,
        start_at=start,
        temps_c=temps_c,
        grid_latitude=latitude,
        grid_longitude=longitude,
        elevation_used_m=height_m,
        findings=(*remarks, *believable.height_remarks(point, height_m)),
        issued_at=issued,
        coarse_from=coarse[0] if coarse else None,
        coarse_step_hours=coarse[1] if coarse else None,
    )


def _refuse_short(
    temps_c: Temperatures, coarse: tuple[int, int] | None, start: datetime, now: datetime
) -> None:
    """Here a value reaches as far as the next: the span ahead counts, not the number of values."""
    spanned = ~np.isnan(temps_c)
    if coarse:
        spanned[0, coarse[0] :] = True
    believable.refuse_nothing_ahead(spanned, start, now)


def _place(geometry: object, point: SitePoint) -> tuple[float | None, float | None, float | None]:
    said = geometry.get("coordinates") if isinstance(geometry, dict) else None
    if not isinstance(said, list) or len(said) != 3:
        return None, None, None
    longitude, latitude, height_m = said
    return *believable.place(latitude, longitude, point), believable.height(height_m)


def _hours(entries: object) -> tuple[datetime, Temperatures, tuple[int, int] | None]:
    """(1, hours) with the values at their hours, and from where on they come how far apart."""
    if not isinstance(entries, list) or not entries:
        raise RefusedError("wrong_shape", "The hours are missing from the answer.")
    stamped = [_value(entry) for entry in entries]
    stamps = [stamp for stamp, _ in stamped]
    steps = [after - before for before, after in itertools.pairwise(stamps)]
    if any(not 0 < step <= LONGEST_STEP for step in steps):
        raise RefusedError("wrong_times", "The times are not in order, or too far apart.")
    total = stamps[-1] - stamps[0] + 1
    if total > MOST_HOURS:
        raise RefusedError("wrong_times", f"{total} hours are more than anybody asked for.")
    temps_c = np.full((1, total), np.nan)
    temps_c[0, np.array(stamps) - stamps[0]] = [value for _, value in stamped]
    start = datetime.fromtimestamp(stamps[0] * HOUR_S, UTC)
    coarse = next((index for index, step in enumerate(steps) if step > 1), None)
    if coarse is None:
        return start, temps_c, None
    return start, temps_c, (stamps[coarse] - stamps[0], max(steps[coarse:]))


def _value(entry: object) -> tuple[int, float]:
    """The hour since 1970 and the temperature, NaN where it is not given."""
    moment = single.utc(entry.get("time")) if isinstance(entry, dict) else None
    if not isinstance(entry, dict) or moment is None or int(moment.timestamp()) % HOUR_S:
        raise RefusedError("wrong_times", "A time of the answer is not a whole hour.")
    value: Any = entry
    for name in ("data", "instant", "details"):
        value = value.get(name)
        if not isinstance(value, dict):
            raise RefusedError("wrong_shape", "An hour of the answer has no values.")
    celsius = value.get("air_temperature")
    if celsius is not None and believable.number(celsius) is None:
        raise RefusedError("wrong_value", f"{celsius!r} is not a temperature."[:200])
    return int(moment.timestamp()) // HOUR_S, np.nan if celsius is None else float(celsius)

"""MET Norway's location forecast, compact: hourly for some days, then every six hours.

Formula: km/h = 3.6 times m/s.
Units: C, km/h, whole metres, degrees with at most 4 decimals; UTC.
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
import numpy.typing as npt
import requests

from apps.weather.client import believable, question, single, wind
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
    Winds,
)
from apps.weather.client.transport import Deadline, Over, Pace, Reply, session

PATH = "/weatherapi/locationforecast/2.0/compact"
LONGEST_EXPIRY = timedelta(hours=6)
LONGEST_STEP = 12
DEPRECATED = 203
KMH_PER_M_S = 3.6
# An hour since 1970 and its values by name.
Entry = tuple[int, dict[str, Any]]
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
    _refuse_unit(meta.get("units"), "air_temperature", "celsius")
    entries = _entries(said.get("timeseries"))
    start, coarse = _times([stamp for stamp, _ in entries])
    temps_c = _at_their_hours(entries, "air_temperature", "temperature")[np.newaxis]
    believable.refuse_implausible(temps_c)
    _refuse_short(temps_c, coarse, start, now)
    latitude, longitude, height_m = _place(reply.get("geometry"), point)
    winds_kmh, of_wind = wind.beside(
        temps_c, lambda: _winds(entries, meta.get("units")), point.site_id
    )
    issued, remarks = single.issued_at(meta.get("updated_at"), now, point.site_id)
    return HourlySeries(
        site_id=point.site_id,
        start_at=start,
        temps_c=temps_c,
        grid_latitude=latitude,
        grid_longitude=longitude,
        elevation_used_m=height_m,
        findings=(*remarks, *believable.height_remarks(point, height_m), *of_wind),
        issued_at=issued,
        coarse_from=coarse[0] if coarse else None,
        coarse_step_hours=coarse[1] if coarse else None,
        winds_kmh=winds_kmh,
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


def _entries(said: object) -> list[Entry]:
    """Every hour the answer tells of: the hour since 1970, and its values by name."""
    if not isinstance(said, list) or not said:
        raise RefusedError("wrong_shape", "The hours are missing from the answer.")
    return [_entry(one) for one in said]


def _entry(said: object) -> Entry:
    moment = single.utc(said.get("time")) if isinstance(said, dict) else None
    if not isinstance(said, dict) or moment is None or int(moment.timestamp()) % HOUR_S:
        raise RefusedError("wrong_times", "A time of the answer is not a whole hour.")
    values: Any = said
    for name in ("data", "instant", "details"):
        values = values.get(name)
        if not isinstance(values, dict):
            raise RefusedError("wrong_shape", "An hour of the answer has no values.")
    return int(moment.timestamp()) // HOUR_S, values


def _times(stamps: list[int]) -> tuple[datetime, tuple[int, int] | None]:
    """The first hour, and from where on values come how far apart."""
    steps = [after - before for before, after in itertools.pairwise(stamps)]
    if any(not 0 < step <= LONGEST_STEP for step in steps):
        raise RefusedError("wrong_times", "The times are not in order, or too far apart.")
    total = stamps[-1] - stamps[0] + 1
    if total > MOST_HOURS:
        raise RefusedError("wrong_times", f"{total} hours are more than anybody asked for.")
    start = datetime.fromtimestamp(stamps[0] * HOUR_S, UTC)
    coarse = next((index for index, step in enumerate(steps) if step > 1), None)
    if coarse is None:
        return start, None
    return start, (stamps[coarse] - stamps[0], max(steps[coarse:]))


def _at_their_hours(entries: list[Entry], name: str, what: str) -> npt.NDArray[np.float64]:
    """(hours,) of one value, NaN where it is not given and between the steps."""
    first = entries[0][0]
    hourly = np.full(entries[-1][0] - first + 1, np.nan)
    for stamp, values in entries:
        value = values.get(name)
        if value is None:
            continue
        if believable.number(value) is None:
            raise RefusedError("wrong_value", f"{value!r} is not a {what}."[:200])
        hourly[stamp - first] = value
    return hourly


def _refuse_unit(units: object, name: str, wanted: str) -> None:
    unit = units.get(name) if isinstance(units, dict) else None
    if unit != wanted:
        raise RefusedError("wrong_unit", f"{name} came in {unit!r}, not in {wanted!r}.")


def _winds(entries: list[Entry], units: object) -> Winds:
    _refuse_unit(units, "wind_speed", "m/s")
    return KMH_PER_M_S * _at_their_hours(entries, "wind_speed", "wind speed")

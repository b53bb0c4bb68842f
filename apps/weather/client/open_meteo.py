"""Open-Meteo's forecast: hourly temperature of all sites in one request.

Units: C, degrees with at most 4 decimals, unix seconds.
Validity: from yesterday 00:00 UTC to 15 days ahead, the service's longest; only times in UTC
are asked for, because its local times use one offset for the whole reply and are an hour off
after a clock change.
Source: Open-Meteo API documentation and server source (2026), ForecastapiController.swift.
Data licence CC BY 4.0. The free service is for non-commercial use; a key goes with the
customer host and is sent to the configured host alone, as a header.
"""

import hashlib
import json
import secrets
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from urllib.parse import urlsplit

import requests

from apps.weather.client import checks, limits
from apps.weather.client.records import (
    FetchOutcome,
    Finding,
    HourlySeries,
    Provenance,
    ProviderFailure,
    SitePoint,
)
from apps.weather.client.transport import Deadline, Pace, Reply, get, session

PATH = "/v1/forecast"
# Today and 15 more is the service's longest reach. The hours past the last whole local day
# are not shown; asking from yesterday covers the local days that begin before 00:00 UTC.
DAYS_BACK, DAYS_AHEAD = 1, 15
# A thousand are accepted, but a shorter URL passes every proxy on the way.
MOST_SITES = 250
JITTER_SECONDS = 120


@dataclass
class _Gathered:
    """What has come in so far."""

    series: dict[int, HourlySeries] = field(default_factory=dict)
    refused: dict[int, Finding] = field(default_factory=dict)
    digest: "hashlib._Hash" = field(default_factory=hashlib.sha256)


@dataclass(frozen=True)
class OpenMeteo:
    """The forecast product of one Open-Meteo host, asked one request at a time."""

    base_url: str
    model: str = "best_match"
    api_key: str = ""
    contact: str = ""
    pace: Pace = field(default_factory=Pace)

    @property
    def provenance(self) -> Provenance:
        return Provenance(
            provider="open-meteo",
            product="forecast",
            model=self.model,
            attribution="Weather data by Open-Meteo.com and the national services it draws on",
            licence_url="https://open-meteo.com/en/licence",
        )

    def fetch(self, points: Sequence[SitePoint], *, now: datetime) -> FetchOutcome:
        """Ask for every point; what came before a failure is kept."""
        gathered = _Gathered()
        deadline = Deadline(self.pace.refresh_seconds)
        stopped: ProviderFailure | None = None
        with session(self.pace, self._headers()) as over:
            try:
                for first in range(0, len(points), MOST_SITES):
                    group = points[first : first + MOST_SITES]
                    self._fetch_group(over, group, now, deadline, gathered)
            except ProviderFailure as failure:
                # Sites already answered stay answered: each is checked by itself.
                stopped = failure
        return FetchOutcome(
            provenance=self.provenance,
            series=gathered.series,
            refused=gathered.refused,
            failure=Finding(stopped.kind, stopped.detail) if stopped else None,
            not_before=stopped.not_before if stopped else None,
            payload_sha256=gathered.digest.hexdigest() if gathered.series else None,
        )

    def _headers(self) -> dict[str, str]:
        agent = f"Thawline ({self.contact})" if self.contact else "Thawline"
        # Uncompressed: a few kilobytes a site, and a drip that only feeds a decompressor would
        # give no piece to look at the deadline after.
        headers = {
            "User-Agent": agent,
            "Accept": "application/json",
            "Accept-Encoding": "identity",
        }
        return headers | {"X-Api-Key": self.api_key} if self.api_key else headers

    def _fetch_group(
        self,
        over: requests.Session,
        points: Sequence[SitePoint],
        now: datetime,
        deadline: Deadline,
        gathered: _Gathered,
    ) -> None:
        """One request for the group; one bad site spoils it, so then each site by itself."""
        try:
            reply = self._ask(over, points, now, deadline)
        except ProviderFailure as failure:
            # Only a 400 can be one site's fault; an outage would just be met again.
            if failure.kind != "refused":
                raise
            if len(points) == 1:
                site_id = points[0].site_id
                gathered.refused[site_id] = Finding(failure.kind, failure.detail, site_id)
                return
            for point in points:
                self._fetch_group(over, [point], now, deadline, gathered)
            return
        gathered.digest.update(reply.body)
        parts = checks.split(checks.parse(reply.body), points)
        for part, point in zip(parts, points, strict=True):
            result = checks.read_site(part, point, now)
            if isinstance(result, HourlySeries):
                gathered.series[point.site_id] = result
            else:
                gathered.refused[point.site_id] = result

    def _ask(
        self,
        over: requests.Session,
        points: Sequence[SitePoint],
        now: datetime,
        deadline: Deadline,
    ) -> Reply:
        url = self.base_url.rstrip("/") + PATH
        reply = get(over, url, self.params(points, now), deadline, self.pace)
        if reply.status != requests.codes.ok:
            raise _failure(reply, urlsplit(url).netloc, now)
        return reply

    def params(self, points: Sequence[SitePoint], now: datetime) -> dict[str, str]:
        """The query; dates are absolute, so a request about midnight asks what it means to.

        No elevation is sent. The service then answers for its own height of the place and says
        which, and that one move from there to the woodlot is ours, by the operation's lapse.
        Sent, its fixed lapse would be baked into what we store, and moving again would double it.
        """
        today = now.date()
        return {
            "latitude": ",".join(f"{point.latitude:.4f}" for point in points),
            "longitude": ",".join(f"{point.longitude:.4f}" for point in points),
            "hourly": checks.VARIABLE,
            "models": self.model,
            "timeformat": "unixtime",
            "timezone": "GMT",
            "start_date": (today - timedelta(days=DAYS_BACK)).isoformat(),
            "end_date": (today + timedelta(days=DAYS_AHEAD)).isoformat(),
        }


def _failure(reply: Reply, host: str, now: datetime) -> ProviderFailure:
    """Name what a status other than 200 means."""
    words = _reason(reply.body)
    if reply.status == requests.codes.too_many_requests:
        until = limits.not_before(
            words, reply.headers.get("Retry-After"), now, secrets.randbelow(JITTER_SECONDS)
        )
        return ProviderFailure("rate_limited", f"{host} asks us to wait: {words}", until)
    if 300 <= reply.status < 400:
        # The host alone: the address itself can carry a key.
        target = urlsplit(reply.headers.get("Location", "")).netloc or "another address"
        detail = f"{host} sent us on to {target}. Not followed: set that address if it is right."
        return ProviderFailure("redirected", detail)
    if reply.status == requests.codes.bad_request:
        return ProviderFailure("refused", f"{host} refused the question: {words}")
    if reply.status in {requests.codes.unauthorized, requests.codes.forbidden}:
        return ProviderFailure("key_refused", f"{host} refused the key: {words}")
    if reply.status == requests.codes.not_found:
        return ProviderFailure("not_found", f"{host} does not know this address.")
    return ProviderFailure("unavailable", f"{host} is out of order (status {reply.status}).")


def _reason(body: bytes) -> str:
    try:
        return checks.reason(json.loads(body))
    except ValueError:
        return "no reason given"

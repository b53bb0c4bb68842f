"""One question to an Open-Meteo host for many sites, and the naming of what comes back.

Units: degrees with at most 4 decimals, unix seconds, C, km/h.
Validity: one model at a time: with more, the service drops silently one that does not cover the
place. One bad site fails the whole request, so after a 400 each site is asked by itself.
Source: Open-Meteo server source (2026), ForecastapiController.swift and ForecastapiQuery.swift.
"""

import hashlib
import json
import secrets
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
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
from apps.weather.client.transport import Over, Reply

JITTER_SECONDS = 120
OF_NO_SITE = ("Cannot initialize", "out of allowed range", "Invalid date")
LICENCE_URL = "https://open-meteo.com/en/licence"
ATTRIBUTION = "Weather data by Open-Meteo.com and the national services it draws on"


def headers(contact: str, accept: str, api_key: str = "") -> dict[str, str]:
    """Uncompressed: a drip that only feeds a decompressor gives no piece to look at the deadline
    after."""
    agent = f"Thawline ({contact})" if contact else "Thawline"
    sent = {"User-Agent": agent, "Accept": accept, "Accept-Encoding": "identity"}
    return sent | {"X-Api-Key": api_key} if api_key else sent


@dataclass
class Gathered:
    """What has come in so far."""

    series: dict[int, HourlySeries] = field(default_factory=dict)
    refused: dict[int, Finding] = field(default_factory=dict)
    digest: "hashlib._Hash" = field(default_factory=hashlib.sha256)

    def outcome(
        self, provenance: Provenance, stopped: ProviderFailure | None = None
    ) -> FetchOutcome:
        return FetchOutcome(
            provenance=provenance,
            series=self.series,
            refused=self.refused,
            failure=Finding(stopped.kind, stopped.detail) if stopped else None,
            not_before=stopped.not_before if stopped else None,
            payload_sha256=self.digest.hexdigest() if self.series else None,
        )


@dataclass(frozen=True)
class Question:
    """The hours of some whole UTC days by one model; `nominal` members, `ahead` if of a forecast.

    No elevation is sent. The service then answers for its own height of the place and says
    which, and that one move from there to the woodlot is ours, by the operation's lapse. Sent,
    its fixed lapse would be baked into what we store, and moving again would double it.
    """

    url: str
    model: str
    first_day: date
    last_day: date
    now: datetime
    nominal: int | None = 1
    ahead: bool = True
    most_sites: int = 250
    # Sites that spoilt the whole question the last time are asked about apart.
    apart: frozenset[int] = frozenset()

    def ask(self, over: Over, points: Sequence[SitePoint], provenance: Provenance) -> FetchOutcome:
        """Ask for every point, one request after the other; what came before a failure is kept."""
        gathered = Gathered()
        together = [point for point in points if point.site_id not in self.apart]
        groups = [
            together[first : first + self.most_sites]
            for first in range(0, len(together), self.most_sites)
        ]
        groups += [[point] for point in points if point.site_id in self.apart]
        try:
            for group in groups:
                self._group(over, group, gathered)
        except ProviderFailure as failure:
            # Sites already answered stay answered: each is checked by itself.
            return gathered.outcome(provenance, failure)
        return gathered.outcome(provenance)

    def params(self, points: Sequence[SitePoint], *, wind: bool = False) -> dict[str, str]:
        """Dates are absolute, so that a request about midnight asks what it means to; times are
        in UTC, because local ones have one offset for the whole reply, wrong past a clock change.
        """
        hourly = {"hourly": checks.VARIABLE}
        if wind:
            hourly = {
                "hourly": f"{checks.VARIABLE},{checks.WIND}",
                # The usual unit today, and said all the same: a default can change.
                "wind_speed_unit": checks.WIND_UNIT_ASKED,
            }
        return {
            "latitude": ",".join(f"{point.latitude:.4f}" for point in points),
            "longitude": ",".join(f"{point.longitude:.4f}" for point in points),
            **hourly,
            "models": self.model,
            "timeformat": "unixtime",
            "timezone": "GMT",
            "start_date": self.first_day.isoformat(),
            "end_date": self.last_day.isoformat(),
        }

    def _group(self, over: Over, points: Sequence[SitePoint], gathered: Gathered) -> None:
        """One request for the group; one bad site spoils it, so then each site by itself."""
        try:
            reply = self._reply(over, points)
        except ProviderFailure as failure:
            # Only a 400 can be one site's fault; an outage would just be met again.
            if failure.kind != "refused":
                raise
            if len(points) == 1:
                site_id = points[0].site_id
                gathered.refused[site_id] = Finding(failure.kind, failure.detail, site_id)
                return
            for point in points:
                self._group(over, [point], gathered)
            return
        gathered.digest.update(reply.body)
        parts = checks.split(checks.parse(reply.body), points)
        for part, point in zip(parts, points, strict=True):
            self._keep(part, point, gathered)

    def _keep(self, part: object, point: SitePoint, gathered: Gathered) -> None:
        result = checks.read_site(
            part,
            point,
            self.now if self.ahead else None,
            model=self.model,
            nominal=self.nominal,
        )
        if isinstance(result, HourlySeries):
            gathered.series[point.site_id] = result
        else:
            gathered.refused[point.site_id] = result

    def _reply(self, over: Over, points: Sequence[SitePoint]) -> Reply:
        reply = over.get(self.url, self.params(points, wind=self.ahead))
        if self.ahead and _refuses_wind(reply):
            # A host or a model without wind still has temperatures.
            reply = over.get(self.url, self.params(points))
        if reply.status != requests.codes.ok:
            raise failure_of(reply, urlsplit(self.url).netloc, self.now)
        return reply


def failure_of(reply: Reply, host: str, now: datetime) -> ProviderFailure:
    """Name what a status other than success means."""
    words = reason_in(reply.body)
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
        # A wrong model or day is the fault of no site: asking each by itself would not help.
        kind = "bad_question" if any(sign in words for sign in OF_NO_SITE) else "refused"
        return ProviderFailure(kind, f"{host} refused the question: {words}")
    if reply.status in {requests.codes.unauthorized, requests.codes.forbidden}:
        return ProviderFailure("key_refused", f"{host} refused the key: {words}")
    if reply.status == requests.codes.not_found:
        return ProviderFailure("not_found", f"{host} does not know this address.")
    return ProviderFailure("unavailable", f"{host} is out of order (status {reply.status}).")


def _refuses_wind(reply: Reply) -> bool:
    return reply.status == requests.codes.bad_request and checks.WIND in reason_in(reply.body)


def reason_in(body: bytes) -> str:
    try:
        return checks.reason(json.loads(body))
    except (ValueError, RecursionError):
        return "no reason given"

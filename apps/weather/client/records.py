"""What any provider takes and gives: sites in, hourly series or named findings out.

Units: degrees, metres, C; times aware UTC. A missing hour is None, never a number.
Validity: hours one apart; member 0 is the control, or the only series there is.
Source: the shape is our own; the failures it names were read in the services' documentation.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Protocol


@dataclass(frozen=True)
class SitePoint:
    """One place to ask about."""

    site_id: int
    latitude: float
    longitude: float
    elevation_m: float


@dataclass(frozen=True)
class Finding:
    """One thing the checks noticed, for one site or (None) for the whole reply."""

    kind: str
    detail: str
    site_id: int | None = None


@dataclass(frozen=True)
class Provenance:
    """Whose numbers these are."""

    provider: str
    product: str
    model: str
    attribution: str
    licence_url: str


@dataclass(frozen=True)
class HourlySeries:
    """One site's hours from `start_at`; `elevation_used_m` is the height the values stand for.

    Findings are remarks on a series that was accepted.
    """

    site_id: int
    start_at: datetime
    members: Mapping[int, tuple[float | None, ...]]
    grid_latitude: float | None
    grid_longitude: float | None
    elevation_used_m: float | None
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True)
class FetchOutcome:
    """What one fetch brought: series by site, refusals by site, and what stopped it, if any.

    `payload_sha256` is over the bodies in the order they came, None when none was usable.
    """

    provenance: Provenance
    series: Mapping[int, HourlySeries] = field(default_factory=dict)
    refused: Mapping[int, Finding] = field(default_factory=dict)
    failure: Finding | None = None
    not_before: datetime | None = None
    payload_sha256: str | None = None


class Provider(Protocol):
    """Anything that forecasts; it never raises for what the network or the service does."""

    @property
    def provenance(self) -> Provenance: ...

    def fetch(self, points: Sequence[SitePoint], *, now: datetime) -> FetchOutcome: ...


class ProviderFailure(Exception):
    """A request that brought nothing usable: a kind to act on, words to show."""

    def __init__(self, kind: str, detail: str, not_before: datetime | None = None) -> None:
        super().__init__(detail)
        self.kind = kind
        self.detail = detail
        self.not_before = not_before

"""What any provider takes and gives: sites in, hourly series or named findings out.

Units: degrees, metres, C, km/h; times aware UTC. A missing hour is NaN, never a number.
Validity: hours one apart; member 0 is the control, or the only series there is.
Source: the shape is our own; the failures it names were read in the services' documentation.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING, Protocol

import numpy as np
import numpy.typing as npt

if TYPE_CHECKING:
    from apps.weather.client.transport import Deadline

Temperatures = npt.NDArray[np.float64]
Winds = npt.NDArray[np.float64]


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
    """Whose numbers these are, and from which run of the model where that is known.

    A run time out of the service's own table of runs is not exact: a reply may join hours of an
    older, longer run behind the newest one's end, which `may_join_runs` says.
    """

    provider: str
    product: str
    model: str
    attribution: str
    licence_url: str
    run_time: datetime | None = None
    run_time_is_exact: bool = False
    may_join_runs: bool = False
    native_step_hours: int | None = None


@dataclass(frozen=True)
class SiteMemory:
    """What an earlier fetch left for the next one of the same site and model.

    `run_time`, `last_modified` and `expires_at` belong to the last good series, `grid` and
    `grid_found_at` to the cell of the service's own grid. `refused` says that the last time the
    service refused the question for the sake of this site.
    """

    run_time: datetime | None = None
    last_modified: str = ""
    expires_at: datetime | None = None
    issued_at: datetime | None = None
    grid: str = ""
    grid_found_at: datetime | None = None
    refused: bool = False


@dataclass(frozen=True, eq=False)
class HourlySeries:
    """One site's hours from `start_at`; `elevation_used_m` is the height the values stand for.

    `temps_c` is (members, hours); `winds_kmh` is (hours,), the wind of its first row, or None
    where all of it is unknown. From index `coarse_from` on the service gives only one value
    every `coarse_step_hours`, and the hours between are NaN. Findings are remarks on a series
    that was accepted.
    """

    site_id: int
    start_at: datetime
    temps_c: Temperatures
    grid_latitude: float | None
    grid_longitude: float | None
    elevation_used_m: float | None
    findings: tuple[Finding, ...] = ()
    issued_at: datetime | None = None
    last_modified: str = ""
    expires_at: datetime | None = None
    coarse_from: int | None = None
    coarse_step_hours: int | None = None
    winds_kmh: Winds | None = None


@dataclass(frozen=True)
class FetchOutcome:
    """What one fetch brought: series by site, refusals by site, and what stopped it, if any.

    `unchanged` are sites of which the service has nothing newer, with the moment from which to
    ask again where it names one. `grids` are cells looked up on the way. `payload_sha256` is
    over the bodies in the order they came, None when none was usable.
    """

    provenance: Provenance
    series: Mapping[int, HourlySeries] = field(default_factory=dict)
    refused: Mapping[int, Finding] = field(default_factory=dict)
    failure: Finding | None = None
    not_before: datetime | None = None
    payload_sha256: str | None = None
    unchanged: Mapping[int, datetime | None] = field(default_factory=dict)
    grids: Mapping[int, str] = field(default_factory=dict)


class Provider(Protocol):
    """Anything that forecasts; it never raises for what the network or the service does.

    `host` names whom it asks: what has just failed for one is not asked again by another.
    """

    @property
    def provenance(self) -> Provenance: ...

    @property
    def host(self) -> str: ...

    def fetch(
        self,
        points: Sequence[SitePoint],
        *,
        now: datetime,
        memories: Mapping[int, SiteMemory],
        deadline: "Deadline",
    ) -> FetchOutcome: ...


@dataclass(frozen=True)
class Source:
    """One entry of the order in which services are asked; `members` where it gives chances."""

    key: str
    members: bool
    providers: tuple[Provider, ...]


class ProviderFailure(Exception):
    """A request that brought nothing usable: a kind to act on, words to show."""

    def __init__(self, kind: str, detail: str, not_before: datetime | None = None) -> None:
        super().__init__(detail)
        self.kind = kind
        self.detail = detail
        self.not_before = not_before

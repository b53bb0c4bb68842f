"""One site after the other: how the services without lists of places are asked.

Units: times aware UTC.
Validity: a refusal of one site leaves the others; a failure of the host stops the rest.
Source: the shape is our own. A moment of issue that lies in the future was seen of the US
service (weather-gov/api issue 71, 2019 to 2024).
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from apps.weather.client.believable import RefusedError
from apps.weather.client.question import Gathered
from apps.weather.client.records import (
    FetchOutcome,
    Finding,
    HourlySeries,
    Provenance,
    ProviderFailure,
    SitePoint,
)

# Clocks differ by seconds, and a minute or so is no reason to doubt anything.
CLOCKS_DIFFER = timedelta(minutes=10)
NO_CONTACT = "asks for a contact address with every question: set THAWLINE_CONTACT. Not asked."


@dataclass
class Visit(Gathered):
    """What has come in so far, site by site."""

    unchanged: dict[int, datetime | None] = field(default_factory=dict)
    grids: dict[int, str] = field(default_factory=dict)

    def outcome(
        self, provenance: Provenance, stopped: ProviderFailure | None = None
    ) -> FetchOutcome:
        plain = super().outcome(provenance, stopped)
        return FetchOutcome(**plain.__dict__ | {"unchanged": self.unchanged, "grids": self.grids})


def visit(
    points: Sequence[SitePoint],
    provenance: Provenance,
    ask: Callable[[SitePoint, Visit], HourlySeries | None],
) -> FetchOutcome:
    """`ask` gives a series, None for nothing newer, or raises RefusedError or ProviderFailure.

    RefusedError is one site's trouble, and so is a reply that is not to be believed; any other
    ProviderFailure ends the visit.
    """
    seen = Visit()
    for point in points:
        try:
            series = ask(point, seen)
        except RefusedError as refusal:
            seen.refused[point.site_id] = refusal.finding(point.site_id)
        except ProviderFailure as failure:
            if failure.kind not in {"refused", "not_json", "empty", "broken_off"}:
                return seen.outcome(provenance, failure)
            seen.refused[point.site_id] = Finding(failure.kind, failure.detail, point.site_id)
        else:
            if series is not None:
                seen.series[point.site_id] = series
    return seen.outcome(provenance)


def issued_at(
    said: object, now: datetime, site_id: int
) -> tuple[datetime | None, tuple[Finding, ...]]:
    """The moment of issue, or None with a remark where it is missing or lies in the future."""
    moment = utc(said)
    if moment is not None and moment <= now + CLOCKS_DIFFER:
        # A few seconds ahead of our clock is now.
        return min(moment, now), ()
    words = "lies in the future" if moment else "was not given"
    detail = f"The time of issue {words}: its age is counted from when we fetched it."
    return None, (Finding("issue_unknown", detail, site_id),)


def refuse_older(issued: datetime | None, held: datetime | None) -> None:
    """A cache on the way may serve what is older than what we have."""
    if issued and held and issued < held:
        raise RefusedError(
            "older_than_held",
            f"The answer was issued {issued:%Y-%m-%d %H:%M}Z, before the one that is stored.",
        )


def utc(said: object) -> datetime | None:
    """An ISO time with its offset, as UTC; None for anything else."""
    try:
        moment = datetime.fromisoformat(said) if isinstance(said, str) else None
        return moment.astimezone(UTC) if moment and moment.tzinfo else None
    except (ValueError, OverflowError):
        return None

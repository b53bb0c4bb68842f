"""Sites, a provider at the stand-in, and stored series for tests."""

import hashlib
from datetime import UTC, datetime, timedelta

import numpy as np

from apps.weather.client.met_norway import MetNorway
from apps.weather.client.nws import Nws
from apps.weather.client.open_meteo import OpenMeteo
from apps.weather.client.records import (
    FetchOutcome,
    HourlySeries,
    Provenance,
    Provider,
    SitePoint,
    Source,
)
from apps.weather.client.transport import Deadline, Pace
from apps.weather.models import PACKED, ForecastRun, RefreshAttempt, SourceAttempt
from apps.weather.models import HourlySeries as StoredHours
from tests.factories.woods import woodlot

# Short enough for a test, long enough for a loopback on a busy machine.
QUICK = Pace(
    connect_seconds=2, read_seconds=0.4, refresh_seconds=5, service_seconds=5, backoff_seconds=0
)
CONTACT = "ina@tamarack.invalid"
NOW = datetime(2026, 3, 16, 11, 0, tzinfo=UTC)
PROVENANCE = Provenance("made-up", "forecast", "by hand", "Made by hand", "")


def every_service_at(settings, url) -> None:
    """All services of the settings at one address, so that none is asked on the real network."""
    for name in ("BASE", "ENSEMBLE", "ARCHIVE", "NWS", "MET"):
        setattr(settings, f"WEATHER_{name}_URL", url)


def provider(url, **changes) -> OpenMeteo:
    return OpenMeteo(base_url=url, **{"pace": QUICK} | changes)


def ensemble(url, model="ncep_gefs_seamless", **changes) -> OpenMeteo:
    return provider(url, product="ensemble", model=model, **changes)


def nws(url, **changes) -> Nws:
    return Nws(base_url=url, **{"pace": QUICK, "contact": CONTACT} | changes)


def met_norway(url, **changes) -> MetNorway:
    return MetNorway(base_url=url, **{"pace": QUICK, "contact": CONTACT} | changes)


def source(*providers, key="open-meteo", members=False) -> Source:
    return Source(key, members, tuple(providers))


def fetch(provider: Provider, points, *, now=NOW, memories=None, seconds=5) -> FetchOutcome:
    return provider.fetch(points, now=now, memories=memories or {}, deadline=Deadline(seconds))


def points(count=3) -> list[SitePoint]:
    """Sites in rows to the north-east of the demo's hamlet."""
    places = [(43.9 + i % 40 * 0.05, -75.3 + i // 40 * 0.05) for i in range(count)]
    return [SitePoint(7 + i, *place, 430.0) for i, place in enumerate(places)]


def outcome(series=None, **changes) -> FetchOutcome:
    fields = {"provenance": PROVENANCE, "series": series or {}, "payload_sha256": "a" * 64}
    return FetchOutcome(**fields | changes)


def series(site_id, temps_c, *, start_at=NOW, **changes) -> HourlySeries:
    fields = {
        "site_id": site_id,
        "start_at": start_at,
        "temps_c": np.atleast_2d(np.array(temps_c, dtype=np.float64)),
        "grid_latitude": 43.9,
        "grid_longitude": -75.3,
        "elevation_used_m": 400.0,
    }
    return HourlySeries(**fields | changes)


class Scripted:
    """A provider that answers what it is told to, and remembers what it was asked."""

    host = "scripted"

    def __init__(self, answer, provenance=PROVENANCE) -> None:
        self.answer, self.provenance = answer, provenance
        self.asked = []

    def fetch(self, points, *, now, memories, deadline):
        self.asked.append((list(points), now))
        if isinstance(self.answer, Exception):
            raise self.answer
        return self.answer(points) if callable(self.answer) else self.answer


def run(*, fetched_at=NOW, **changes) -> ForecastRun:
    fields = {
        "provider": "made-up",
        "product": "forecast",
        "model": "by hand",
        "attribution": "Made by hand",
        "payload_sha256": hashlib.sha256(str(fetched_at).encode()).hexdigest(),
    }
    return ForecastRun.objects.create(fetched_at=fetched_at, **fields | changes)


def stored(run, woodlot, temps_c, *, start_at=NOW, **changes) -> StoredHours:
    """Hours as given, None or NaN where missing, at the woodlot's own height; rows are members."""
    values = np.atleast_2d(np.array(temps_c, dtype=np.float64))
    fields = {
        "members": values.shape[0],
        "hours": values.shape[1],
        "packed": values.astype(PACKED).tobytes(),
        "elevation_used_m": woodlot.elevation_m,
    }
    return StoredHours.objects.create(
        run=run, woodlot=woodlot, start_at=start_at, **fields | changes
    )


def attempt(*, started_at=NOW, **changes) -> RefreshAttempt:
    fields = {"outcome": "ok", "detail": "All well."}
    return RefreshAttempt.objects.create(started_at=started_at, **fields | changes)


def source_attempt(**changes) -> SourceAttempt:
    fields = {
        "provider": "made-up",
        "product": "forecast",
        "model": "by hand",
        "outcome": "ok",
        "detail": "All well.",
    }
    return SourceAttempt.objects.create(
        **fields | {"attempt": changes.pop("attempt", None) or attempt()} | changes
    )


def windy(stored_row, winds_kmh) -> StoredHours:
    """The row with this wind: one for every hour, or as many as it has hours; None is unknown."""
    winds = None if winds_kmh is None else np.broadcast_to(winds_kmh, stored_row.hours)
    stored_row.packed_wind_kmh = None if winds is None else winds.astype(PACKED).tobytes()
    stored_row.save(update_fields=["packed_wind_kmh"])
    return stored_row


def freezing_and_thawing(days, *, low_c=-5.0, high_c=6.0) -> list[float]:
    """Whole days of hours: the first half of each at the low, the second at the high."""
    return ([low_c] * 12 + [high_c] * 12) * days


def hours_ago(hours) -> datetime:
    return NOW - timedelta(hours=hours)


def newest(now=NOW) -> list[StoredHours]:
    rows = StoredHours.objects.newest_per_model(now).select_related("run")
    return list(rows.order_by("woodlot", "pk"))


def woodlot_at(latitude, name="Further on"):
    return woodlot(name, latitude=latitude)

"""What of the forecasts is kept: the good ones, whole runs while young, fewer with age."""

from collections.abc import Iterable
from dataclasses import asdict
from datetime import datetime, timedelta
from typing import Any

import numpy as np
from django.db import transaction

from apps.weather.client.records import FetchOutcome, Finding, HourlySeries, SiteMemory, SitePoint
from apps.weather.models import PACKED, ForecastRun, GridCell, SourceAttempt
from apps.weather.models import HourlySeries as StoredHours
from apps.weather.packing import pack
from apps.woods.models import Woodlot

# Every run of the last three days, then the first run of each UTC day for thirty more, then the
# first of each week: enough to score forecasts by lead day for as long as the farm likes.
KEEP_ALL = timedelta(days=3)
KEEP_DAILY = KEEP_ALL + timedelta(days=30)
FEWEST_HOURS_TO_COMPARE = 24


def memories(
    points: Iterable[SitePoint], held: dict[int, StoredHours], last: SourceAttempt | None
) -> dict[int, SiteMemory]:
    """What is known of each site from its newest good series of one model, and of its cell.

    `last` is how the same model answered the last time.
    """
    known = {}
    grids = {(cell.latitude, cell.longitude): cell for cell in GridCell.objects.all()}
    refused = (
        {note["woodlot"] for note in last.findings if note["kind"] == "refused"} if last else ()
    )
    for point in points:
        row, cell = held.get(point.site_id), grids.get(place_of(point))
        known[point.site_id] = SiteMemory(
            run_time=row.run.run_time if row else None,
            last_modified=row.last_modified if row else "",
            expires_at=row.expires_at if row else None,
            issued_at=row.issued_at if row else None,
            grid=cell.grid if cell else "",
            grid_found_at=cell.found_at if cell else None,
            refused=point.site_id in refused,
        )
    return known


def place_of(point: SitePoint) -> tuple[float, float]:
    """As it is asked about: a woodlot moved on the map is another place."""
    return round(point.latitude, 4), round(point.longitude, 4)


@transaction.atomic
def store(
    *,
    outcome: FetchOutcome,
    points: Iterable[SitePoint],
    held: dict[int, StoredHours],
    now: datetime,
) -> ForecastRun | None:
    """Keep what came as one run, all or none; None when nothing new did.

    `held` are the newest good series of the same model. An ensemble whose values are those that
    are held is the run we have, whatever the service's table of runs says by now.
    """
    repeated = {
        site
        for site, series in outcome.series.items()
        if site in held and _says_the_same(series, held[site])
    }
    # What the service has said again still stands as of now; its age stays what it was.
    checked = {*outcome.unchanged, *repeated}
    still = [row.pk for site, row in held.items() if site in checked]
    StoredHours.objects.filter(pk__in=still).update(checked_at=now)
    for site, again in outcome.unchanged.items():
        if again and site in held:
            StoredHours.objects.filter(pk=held[site].pk).update(expires_at=again)
    _note_cells(outcome, points, now)
    fresh = [series for site, series in outcome.series.items() if site not in repeated]
    return _new_run(outcome, _of_woodlots_still_there(fresh), now)


def thin(now: datetime) -> None:
    """Drop older runs by the rule above, never a woodlot's last good series of a model."""
    so_far = ForecastRun.objects.filter(fetched_at__lte=now)
    rows = so_far.filter(fetched_at__lt=now - KEEP_ALL).order_by("fetched_at", "pk")
    seen, dropped = set(), []
    for pk, at, *key in rows.values_list("pk", "fetched_at", "provider", "product", "model"):
        weekly = at < now - KEEP_DAILY
        span = at.isocalendar()[:2] if weekly else at.date()
        if (*key, span) in seen:
            dropped.append(pk)
        seen.add((*key, span))
    newest = list(StoredHours.objects.newest_per_model(now).values_list("pk", flat=True))
    # Hours first, then whatever runs they leave empty.
    StoredHours.objects.filter(run__in=dropped).exclude(pk__in=newest).delete()
    ForecastRun.objects.filter(pk__in=dropped, series__isnull=True).delete()


def _new_run(
    outcome: FetchOutcome, series: list[HourlySeries], now: datetime
) -> ForecastRun | None:
    if not series or outcome.payload_sha256 is None:
        # A run without hours would look like a forecast and hold none.
        return None
    run = ForecastRun.objects.create(
        fetched_at=now,
        payload_sha256=outcome.payload_sha256,
        findings=[noted(finding) for hours in series for finding in hours.findings],
        **asdict(outcome.provenance),
    )
    StoredHours.objects.bulk_create([_packed(run, hours, now) for hours in series])
    return run


def _says_the_same(series: HourlySeries, held: StoredHours) -> bool:
    """Whether an ensemble's values agree with those held in every hour that both have."""
    members = series.temps_c.shape[0]
    if members < 2 or held.members != members:
        return False
    shift = int((series.start_at - held.start_at).total_seconds() // 3600)
    old = np.frombuffer(bytes(held.packed), dtype=PACKED).reshape(members, held.hours)
    new = series.temps_c.astype(PACKED)
    if shift < 0:
        return False
    hours = min(held.hours - shift, new.shape[1])
    if hours < FEWEST_HOURS_TO_COMPARE:
        return False
    return np.array_equal(old[:, shift : shift + hours], new[:, :hours], equal_nan=True)


def _note_cells(outcome: FetchOutcome, points: Iterable[SitePoint], now: datetime) -> None:
    for point in points:
        if grid := outcome.grids.get(point.site_id):
            latitude, longitude = place_of(point)
            GridCell.objects.update_or_create(
                latitude=latitude, longitude=longitude, defaults={"grid": grid, "found_at": now}
            )


def _of_woodlots_still_there(series: list[HourlySeries]) -> list[HourlySeries]:
    """A woodlot may have been taken out while the network was waited for."""
    there = set(Woodlot.objects.values_list("pk", flat=True))
    return [hours for hours in series if hours.site_id in there]


def _packed(run: ForecastRun, series: HourlySeries, now: datetime) -> StoredHours:
    # Missing is NaN here, and NaN only: a float array has no other word for it.
    members, hours = series.temps_c.shape
    return StoredHours(
        run=run,
        woodlot_id=series.site_id,
        start_at=series.start_at,
        hours=hours,
        members=members,
        packed=pack(series.temps_c),
        packed_wind_kmh=None if series.winds_kmh is None else pack(series.winds_kmh),
        grid_latitude=series.grid_latitude,
        grid_longitude=series.grid_longitude,
        elevation_used_m=series.elevation_used_m,
        issued_at=series.issued_at,
        checked_at=now,
        last_modified=series.last_modified,
        expires_at=series.expires_at,
        coarse_from=series.coarse_from,
        coarse_step_hours=series.coarse_step_hours,
    )


def noted(finding: Finding) -> dict[str, Any]:
    return {"kind": finding.kind, "detail": finding.detail, "woodlot": finding.site_id}

"""Fetching a forecast: one at a time, all or nothing per woodlot, the last good hours kept."""

from dataclasses import asdict
from datetime import datetime, timedelta
from typing import Any

import numpy as np
from django.db import IntegrityError, transaction
from django.utils import timezone

from apps.weather.client.configured import open_meteo
from apps.weather.client.records import (
    FetchOutcome,
    Finding,
    HourlySeries,
    Provider,
    SitePoint,
)
from apps.weather.models import PACKED, ForecastRun, RefreshAttempt
from apps.weather.models import HourlySeries as StoredHours
from apps.woods.models import Woodlot

KEEP_RUNS = 8
# A refresh ends within its deadline of a minute; one that did not was cut off with its process.
ABANDONED_AFTER = timedelta(minutes=5)
LONGEST_DETAIL = 500
KEPT = "What was stored before is kept."


class RefreshRefusedError(Exception):
    """The weather was not asked for; the message says why and what to do."""


class AlreadyRefreshingError(RefreshRefusedError):
    """Another refresh is under way."""


class AskedToWaitError(RefreshRefusedError):
    """The service told us to stay away until a moment that has not come."""


class NoWoodlotsError(RefreshRefusedError):
    """There is no place to ask about."""


def refresh(*, now: datetime, provider: Provider | None = None) -> RefreshAttempt:
    """Ask once for every woodlot; the attempt that comes back says in words how it went.

    Raises a RefreshRefusedError when nothing was asked. What the network or the service does
    never raises: it is recorded. No database lock is held while the network is waited for.
    """
    provider = provider or open_meteo()
    # Asked in the order of their names, so that the words about them come in that order too.
    woodlots = list(Woodlot.objects.order_by("name"))
    if not woodlots:
        raise NoWoodlotsError("There is no woodlot to ask about yet: add one first.")
    attempt = _begin(provider.provenance.provider, now)
    try:
        outcome = provider.fetch([_point(woodlot) for woodlot in woodlots], now=now)
        _settle(attempt, outcome, {woodlot.pk: woodlot.name for woodlot in woodlots}, now)
    except BaseException:
        # Let the next one in at once, whatever this was; the error itself goes on up.
        _close(attempt, RefreshAttempt.Outcome.FAILED, f"Stopped by a fault of our own. {KEPT}")
        raise
    return attempt


def store(*, outcome: FetchOutcome, now: datetime) -> ForecastRun | None:
    """Keep the series that came as one run, all or none; None when there are none."""
    series = _of_woodlots_still_there(outcome)
    if not series or outcome.payload_sha256 is None:
        # A run without hours would look like a forecast and hold none.
        return None
    with transaction.atomic():
        run = ForecastRun.objects.create(
            fetched_at=now,
            payload_sha256=outcome.payload_sha256,
            findings=[_noted(finding) for hours in series for finding in hours.findings],
            **asdict(outcome.provenance),
        )
        StoredHours.objects.bulk_create([_packed(run, hours) for hours in series])
        _prune(now)
    return run


def _point(woodlot: Woodlot) -> SitePoint:
    return SitePoint(woodlot.pk, woodlot.latitude, woodlot.longitude, woodlot.elevation_m)


def _begin(provider: str, now: datetime) -> RefreshAttempt:
    running = RefreshAttempt.objects.filter(outcome=RefreshAttempt.Outcome.RUNNING)
    # Also one that seems to begin in the future: the clock of a demo can be put back.
    cut_off = running.exclude(started_at__gt=now - ABANDONED_AFTER, started_at__lte=now)
    cut_off.update(outcome=RefreshAttempt.Outcome.FAILED, detail=f"Cut off. {KEPT}")
    _refuse_while_asked_to_wait(provider, now)
    try:
        with transaction.atomic():
            return RefreshAttempt.objects.create(
                started_at=now, provider=provider, outcome=RefreshAttempt.Outcome.RUNNING
            )
    except IntegrityError as error:
        raise AlreadyRefreshingError(
            "A refresh is already under way: look again in a minute."
        ) from error


def _refuse_while_asked_to_wait(provider: str, now: datetime) -> None:
    # Only waits begun before now bind: those of a clock since put back would bind for months.
    waiting = RefreshAttempt.objects.filter(
        provider=provider, started_at__lte=now, not_before__gt=now
    )
    if last := waiting.order_by("-not_before").first():
        until = timezone.localtime(last.not_before)
        raise AskedToWaitError(
            f"The service asked us to wait until {until:%H:%M on %d %B}. Nothing was asked."
        )


def _settle(
    attempt: RefreshAttempt, outcome: FetchOutcome, names: dict[int, str], now: datetime
) -> None:
    found = list(outcome.refused.values())
    if outcome.failure:
        # What stopped the whole comes first: the detail is cut to its column.
        found.insert(0, outcome.failure)
    attempt.findings = [_noted(finding) for finding in found]
    attempt.not_before = outcome.not_before
    # The run and the words about it stand or fall together.
    with transaction.atomic():
        run = store(outcome=outcome, now=now)
        verdict, detail = _verdict(outcome, found, names, stored=run is not None)
        _close(attempt, verdict, detail)


def _close(attempt: RefreshAttempt, outcome: RefreshAttempt.Outcome, detail: str) -> None:
    attempt.outcome = outcome
    attempt.detail = detail[:LONGEST_DETAIL]
    attempt.save(update_fields=["outcome", "detail", "findings", "not_before"])


def _verdict(
    outcome: FetchOutcome, found: list[Finding], names: dict[int, str], *, stored: bool
) -> tuple[RefreshAttempt.Outcome, str]:
    told = " ".join(_told(finding, names) for finding in found)
    if not stored:
        return RefreshAttempt.Outcome.FAILED, f"Nothing new. {KEPT} {told}".strip()
    if found:
        counted = f"Fresh hours for {len(outcome.series)} of {len(names)} woodlots. {KEPT}"
        return RefreshAttempt.Outcome.PARTIAL, f"{counted} {told}"
    return RefreshAttempt.Outcome.OK, f"Fresh hours for all woodlots: {len(names)}."


def _told(finding: Finding, names: dict[int, str]) -> str:
    name = names.get(finding.site_id) if finding.site_id is not None else None
    return f"{name}: {finding.detail}" if name else finding.detail


def _noted(finding: Finding) -> dict[str, Any]:
    return {"kind": finding.kind, "detail": finding.detail, "woodlot": finding.site_id}


def _of_woodlots_still_there(outcome: FetchOutcome) -> list[HourlySeries]:
    """A woodlot may have been taken out while the network was waited for."""
    there = set(Woodlot.objects.values_list("pk", flat=True))
    return [series for site, series in outcome.series.items() if site in there]


def _packed(run: ForecastRun, series: HourlySeries) -> StoredHours:
    # Missing becomes NaN here, and NaN only: a float array has no other word for it.
    members = np.array(
        [series.members[member] for member in sorted(series.members)], dtype=np.float64
    )
    return StoredHours(
        run=run,
        woodlot_id=series.site_id,
        start_at=series.start_at,
        hours=members.shape[1],
        members=members.shape[0],
        packed=members.astype(PACKED).tobytes(),
        grid_latitude=series.grid_latitude,
        grid_longitude=series.grid_longitude,
        elevation_used_m=series.elevation_used_m,
    )


def _prune(now: datetime) -> None:
    """Keep the last runs for comparison, and beyond them whatever is a woodlot's last good one."""
    so_far = ForecastRun.objects.filter(fetched_at__lte=now)
    kept = list(so_far.order_by("-fetched_at", "-pk").values_list("pk", flat=True)[:KEEP_RUNS])
    newest = list(StoredHours.objects.newest_per_woodlot(now).values_list("pk", flat=True))
    # Hours first, then whatever runs they leave empty.
    old = so_far.exclude(pk__in=kept)
    StoredHours.objects.filter(run__in=old).exclude(pk__in=newest).delete()
    old.filter(series__isnull=True).delete()

"""Fetching past winters: one request at a time with a rest between, and on from where it stopped.

A winter that came is a row at once, so whatever stops the fetching loses at most one request.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Protocol

import numpy as np
from django.conf import settings
from django.db import IntegrityError, transaction
from django.utils import timezone

from apps.weather.client import configured
from apps.weather.client.records import FetchOutcome, HourlySeries, SitePoint
from apps.weather.models import ArchiveWinter, HistoryFetch
from apps.weather.packing import pack
from apps.weather.queries.winters import WINTERS, first_day, last_day, missing
from apps.woods.models import Woodlot

# One request ends within its own deadline of a minute.
ABANDONED_AFTER = timedelta(minutes=5)
FEWEST_SHARE = 0.8
LONGEST_DETAIL = 500


class HistoryRefused(Exception):
    """Nothing was asked; the message says why and what to do."""


class FetchArchive(Protocol):
    """Past days of every point by one model; never raises for what the service does."""

    def __call__(
        self,
        points: Sequence[SitePoint],
        first_day: date,
        last_day: date,
        model: str,
        *,
        now: datetime,
    ) -> FetchOutcome: ...


@dataclass(frozen=True)
class WinterFetched:
    """One request done: which winter, for how many woodlots of how many, and how many wait."""

    winter: int
    stored: int
    asked: int
    left: int
    problems: tuple[str, ...]


def fetch_history(
    *,
    clock: Callable[[], datetime],
    rest: Callable[[], None],
    told: Callable[[WinterFetched], None],
    fetch: FetchArchive | None = None,
    winters: int = WINTERS,
    most_requests: int | None = None,
) -> HistoryFetch:
    """Ask for every winter still missing, the newest first; what comes back says how it went.

    Raises HistoryRefused when nothing was asked. `rest` is called between two requests, `told`
    after each. What the network or the service does never raises: it stops the fetching.
    """
    lots = list(Woodlot.objects.order_by("name"))
    if not lots:
        raise HistoryRefused("There is no woodlot to ask about yet: add one first.")
    mine = _begin(clock())
    work = _Work(mine, fetch or configured.fetch_archive, clock, rest)
    try:
        todo = missing(lots, mine.started_at, winters)
        _go_through(work, dict(list(todo.items())[:most_requests]), len(todo), told)
    except BaseException:
        _close(work, HistoryFetch.Outcome.STOPPED, "Stopped by a fault of our own.")
        raise
    return mine


@dataclass
class _Work:
    """One going through the archive and what it needs."""

    row: HistoryFetch
    fetch: FetchArchive
    clock: Callable[[], datetime]
    rest: Callable[[], None]
    requests: int = 0
    stored: int = 0


def _begin(now: datetime) -> HistoryFetch:
    running = HistoryFetch.objects.filter(outcome=HistoryFetch.Outcome.RUNNING)
    # Also one that seems to run in the future: the clock of a demo can be put back.
    cut_off = running.exclude(touched_at__gt=now - ABANDONED_AFTER, touched_at__lte=now)
    cut_off.update(outcome=HistoryFetch.Outcome.STOPPED, detail="Cut off with its process.")
    waiting = HistoryFetch.objects.filter(started_at__lte=now, not_before__gt=now)
    if last := waiting.order_by("-not_before").first():
        until = timezone.localtime(last.not_before)
        raise HistoryRefused(
            f"The archive asked us to wait until {until:%H:%M on %d %B}. Nothing was asked."
        )
    try:
        with transaction.atomic():
            return HistoryFetch.objects.create(
                started_at=now, touched_at=now, outcome=HistoryFetch.Outcome.RUNNING
            )
    except IntegrityError as error:
        raise HistoryRefused("Past winters are being fetched already.") from error


def _go_through(
    work: _Work,
    todo: dict[int, list[Woodlot]],
    left: int,
    told: Callable[[WinterFetched], None],
) -> None:
    problems: list[str] = []
    for winter, lots in todo.items():
        if work.requests:
            work.rest()
        outcome = _ask(work, winter, lots)
        stored = _store(work, winter, lots, outcome)
        left -= stored == len(lots)
        found = list(_problems(outcome, lots))
        problems += [f"{winter}: {problem}" for problem in found]
        told(WinterFetched(winter, stored, len(lots), left, tuple(found)))
        if outcome.failure:
            work.row.not_before = outcome.not_before
            words = f"Stopped: {outcome.failure.detail} {work.stored} winters came before that."
            return _close(work, HistoryFetch.Outcome.STOPPED, words)
    words = f"{work.stored} winters stored, {left} still to fetch. {' '.join(problems)}"
    return _close(work, HistoryFetch.Outcome.DONE, words.strip())


def _ask(work: _Work, winter: int, lots: Sequence[Woodlot]) -> FetchOutcome:
    points = [SitePoint(lot.pk, lot.latitude, lot.longitude, lot.elevation_m) for lot in lots]
    work.requests += 1
    return work.fetch(
        points,
        first_day(winter),
        last_day(winter),
        settings.WEATHER_ARCHIVE_MODEL,
        now=work.clock(),
    )


def _store(work: _Work, winter: int, lots: Sequence[Woodlot], outcome: FetchOutcome) -> int:
    """Keep what came, over what came too soon; how many woodlots have the winter now."""
    there = set(
        Woodlot.objects.filter(pk__in=[lot.pk for lot in lots]).values_list("pk", flat=True)
    )
    good = [
        series
        for site, series in outcome.series.items()
        if site in there and _share_known(series) >= FEWEST_SHARE
    ]
    now = work.clock()
    with transaction.atomic():
        for series in good:
            ArchiveWinter.objects.update_or_create(
                woodlot_id=series.site_id,
                winter=winter,
                model=settings.WEATHER_ARCHIVE_MODEL,
                defaults=_columns(series, outcome, now),
            )
        work.stored += len(good)
        work.row.touched_at = now
        work.row.save(update_fields=["touched_at"])
    return len(good)


def _columns(series: HourlySeries, outcome: FetchOutcome, now: datetime) -> dict[str, object]:
    hours = np.asarray(series.temps_c, dtype=np.float64)[0]
    return {
        "provider": outcome.provenance.provider,
        "attribution": outcome.provenance.attribution,
        "licence_url": outcome.provenance.licence_url,
        "fetched_at": now,
        "start_at": series.start_at,
        "hours": hours.size,
        "known_hours": int(np.isfinite(hours).sum()),
        "packed": pack(hours),
        "elevation_used_m": series.elevation_used_m,
    }


def _share_known(series: HourlySeries) -> float:
    return float(np.isfinite(np.asarray(series.temps_c)[0]).mean())


def _problems(outcome: FetchOutcome, lots: Sequence[Woodlot]) -> Iterator[str]:
    names = {lot.pk: lot.name for lot in lots}
    for site, finding in outcome.refused.items():
        yield f"{names.get(site, 'a woodlot')}: {finding.detail}"
    for site, series in outcome.series.items():
        if _share_known(series) < FEWEST_SHARE:
            share = f"{_share_known(series):.0%}"
            yield f"{names.get(site, 'a woodlot')}: only {share} of the hours came."


def _close(work: _Work, outcome: HistoryFetch.Outcome, detail: str) -> None:
    row = work.row
    row.outcome, row.detail, row.touched_at = outcome, detail[:LONGEST_DETAIL], work.clock()
    row.save(update_fields=["outcome", "detail", "touched_at", "not_before"])

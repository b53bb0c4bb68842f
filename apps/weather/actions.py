"""Fetching forecasts: one at a time, all or nothing per woodlot and model, the last good kept."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from django.db import IntegrityError, transaction
from django.utils import timezone

from apps.weather import keeping
from apps.weather.client import configured
from apps.weather.client.records import FetchOutcome, Finding, Provider, SitePoint, Source
from apps.weather.client.transport import Deadline, Pace
from apps.weather.models import HourlySeries, RefreshAttempt, SourceAttempt
from apps.woods.models import Woodlot

# A refresh ends within its deadline of a minute; one that did not was cut off with its process.
ABANDONED_AFTER = timedelta(minutes=5)
LONGEST_DETAIL = 500
KEPT = "What was stored before is kept."
# Failures of the host and not of one model: the same host is not asked again in this refresh.
OF_THE_HOST = {
    "unreachable", "timed_out", "too_slow", "rate_limited", "redirected", "unavailable",
    "key_refused", "no_contact",
}  # fmt: skip


class RefreshRefusedError(Exception):
    """The weather was not asked for; the message says why and what to do."""


class AlreadyRefreshingError(RefreshRefusedError):
    """Another refresh is under way."""


class AskedToWaitError(RefreshRefusedError):
    """Every service told us to stay away until a moment that has not come."""


class NoWoodlotsError(RefreshRefusedError):
    """There is no place to ask about."""


class NoSourceError(RefreshRefusedError):
    """The settings name no service, or one that nobody knows."""


@dataclass
class _Refresh:
    """One refresh under way: who is asked about what, and what has come of it so far."""

    attempt: RefreshAttempt
    names: dict[int, str]
    points: list[SitePoint]
    waits: dict[str, datetime]
    now: datetime
    pace: Pace
    deadline: Deadline
    silent_hosts: set[str] = field(default_factory=set)
    asked: list[SourceAttempt] = field(default_factory=list)
    # Woodlots that have hours as new as the source gives, per source.
    served: dict[str, set[int]] = field(default_factory=lambda: defaultdict(set))


def refresh(
    *, now: datetime, sources: Sequence[Source] | None = None, pace: Pace | None = None
) -> RefreshAttempt:
    """Ask for every woodlot; the attempt that comes back says in words how it went.

    The ensembles are asked, and of the single forecasts the first; the next ones only for
    woodlots that still have none. Raises a RefreshRefusedError when nothing was asked. What the
    network or a service does never raises: it is recorded. No database lock is held while the
    network is waited for.
    """
    sources = _configured() if sources is None else sources
    # Asked in the order of their names, so that the words about them come in that order too.
    woodlots = list(Woodlot.objects.order_by("name"))
    if not woodlots:
        raise NoWoodlotsError("There is no woodlot to ask about yet: add one first.")
    waits = _waits(now)
    _refuse_if_all_wait(sources, waits)
    attempt, pace = _begin(now), pace or Pace()
    under_way = _Refresh(
        attempt=attempt,
        names={woodlot.pk: woodlot.name for woodlot in woodlots},
        points=[point_of(woodlot) for woodlot in woodlots],
        waits=waits,
        now=now,
        pace=pace,
        deadline=Deadline(pace.refresh_seconds),
    )
    try:
        _ask_all(under_way, sources)
        keeping.thin(now)
        _close(attempt, *_verdict(under_way))
    except BaseException:
        # Let the next one in at once, whatever this was; the error itself goes on up.
        _close(attempt, RefreshAttempt.Outcome.FAILED, f"Stopped by a fault of our own. {KEPT}")
        raise
    return attempt


def point_of(woodlot: Woodlot) -> SitePoint:
    return SitePoint(woodlot.pk, woodlot.latitude, woodlot.longitude, woodlot.elevation_m)


def _configured() -> Sequence[Source]:
    try:
        found = configured.sources()
    except configured.UnknownSourceError as error:
        raise NoSourceError(str(error)) from error
    if not found:
        raise NoSourceError("THAWLINE_WEATHER_SOURCES names no service: nobody was asked.")
    return found


def _begin(now: datetime) -> RefreshAttempt:
    running = RefreshAttempt.objects.filter(outcome=RefreshAttempt.Outcome.RUNNING)
    # Also one that seems to begin in the future: the clock of a demo can be put back.
    cut_off = running.exclude(started_at__gt=now - ABANDONED_AFTER, started_at__lte=now)
    cut_off.update(outcome=RefreshAttempt.Outcome.FAILED, detail=f"Cut off. {KEPT}")
    try:
        with transaction.atomic():
            return RefreshAttempt.objects.create(
                started_at=now, outcome=RefreshAttempt.Outcome.RUNNING
            )
    except IntegrityError as error:
        raise AlreadyRefreshingError(
            "A refresh is already under way: look again in a minute."
        ) from error


def _waits(now: datetime) -> dict[str, datetime]:
    """Until when each provider asked us to stay away."""
    # Only waits begun before now bind: those of a clock since put back would bind for months.
    told = SourceAttempt.objects.filter(attempt__started_at__lte=now, not_before__gt=now)
    rows = told.order_by("not_before").values_list("provider", "not_before")
    return {provider: until for provider, until in rows if until}


def _refuse_if_all_wait(sources: Sequence[Source], waits: dict[str, datetime]) -> None:
    asked = {provider.provenance.provider for source in sources for provider in source.providers}
    if asked <= set(waits):
        until = timezone.localtime(min(waits[provider] for provider in asked))
        raise AskedToWaitError(
            f"The service asked us to wait until {until:%H:%M on %d %B}. Nothing was asked."
        )


def _ask_all(under_way: _Refresh, sources: Sequence[Source]) -> None:
    without = {point.site_id for point in under_way.points}
    for source in sources:
        wanted = [point for point in under_way.points if source.members or point.site_id in without]
        for provider in source.providers if wanted else ():
            under_way.served[source.key] |= _ask(under_way, provider, wanted)
        if not source.members:
            without -= under_way.served[source.key]


def _ask(under_way: _Refresh, provider: Provider, points: list[SitePoint]) -> set[int]:
    """The woodlots that now have the newest this model gives."""
    if reason := _why_not(under_way, provider):
        _note(under_way, provider, SourceAttempt.Outcome.SKIPPED, reason, [])
        return set()
    held = _held(under_way, provider)
    outcome = provider.fetch(
        points,
        now=under_way.now,
        memories=keeping.memories(points, held, _last(under_way, provider)),
        deadline=under_way.deadline.share(under_way.pace.service_seconds),
    )
    if outcome.failure and outcome.failure.kind in OF_THE_HOST:
        under_way.silent_hosts.add(provider.host)
    # The hours and the words about them stand or fall together.
    with transaction.atomic():
        keeping.store(outcome=outcome, points=points, held=held, now=under_way.now)
        _settle(under_way, provider, outcome, points)
    return set(outcome.series) | set(outcome.unchanged)


def _why_not(under_way: _Refresh, provider: Provider) -> str:
    if until := under_way.waits.get(provider.provenance.provider):
        return f"Not asked: told to wait until {timezone.localtime(until):%H:%M on %d %B}."
    if provider.host in under_way.silent_hosts:
        return f"Not asked: {provider.host} has just failed."
    if under_way.deadline.spent:
        return f"Not asked: the {under_way.deadline.seconds:g} seconds of a refresh are over."
    return ""


def _held(under_way: _Refresh, provider: Provider) -> dict[int, HourlySeries]:
    of = provider.provenance
    rows = HourlySeries.objects.newest_per_model(under_way.now).select_related("run")
    rows = rows.filter(run__provider=of.provider, run__product=of.product, run__model=of.model)
    return {row.woodlot_id: row for row in rows}


def _last(under_way: _Refresh, provider: Provider) -> SourceAttempt | None:
    of = provider.provenance
    same = SourceAttempt.objects.filter(
        attempt__started_at__lte=under_way.now,
        provider=of.provider,
        product=of.product,
        model=of.model,
    )
    return same.exclude(outcome=SourceAttempt.Outcome.SKIPPED).order_by("pk").last()


def _settle(
    under_way: _Refresh, provider: Provider, outcome: FetchOutcome, points: Sequence[SitePoint]
) -> None:
    found = list(outcome.refused.values())
    if outcome.failure:
        # What stopped the whole comes first: the detail is cut to its column.
        found.insert(0, outcome.failure)
    got = len(outcome.series)
    words = " ".join(_told(finding, under_way.names) for finding in found)
    if found:
        verdict = SourceAttempt.Outcome.PARTIAL if got else SourceAttempt.Outcome.FAILED
    elif got:
        verdict, words = SourceAttempt.Outcome.OK, f"Hours for {got} of {len(points)} woodlots."
    else:
        verdict, words = SourceAttempt.Outcome.UNCHANGED, "Nothing newer than what is stored."
    if outcome.not_before:
        under_way.waits[provider.provenance.provider] = outcome.not_before
    _note(under_way, provider, verdict, words, found, outcome.not_before)


def _note(
    under_way: _Refresh,
    provider: Provider,
    verdict: SourceAttempt.Outcome,
    words: str,
    found: Iterable[Finding],
    not_before: datetime | None = None,
) -> None:
    of = provider.provenance
    row = SourceAttempt.objects.create(
        attempt=under_way.attempt,
        provider=of.provider,
        product=of.product,
        model=of.model,
        outcome=verdict,
        detail=words[:LONGEST_DETAIL],
        findings=[keeping.noted(finding) for finding in found],
        not_before=not_before,
    )
    under_way.asked.append(row)


def _close(attempt: RefreshAttempt, outcome: RefreshAttempt.Outcome, detail: str) -> None:
    attempt.outcome = outcome
    attempt.detail = detail[:LONGEST_DETAIL]
    attempt.save(update_fields=["outcome", "detail"])


def _verdict(under_way: _Refresh) -> tuple[RefreshAttempt.Outcome, str]:
    """All is well when each woodlot has what every kind of source promised."""
    troubles = [row for row in under_way.asked if row.outcome not in {"ok", "unchanged"}]
    told = " ".join(_labelled(row, alone=len(under_way.asked) == 1) for row in troubles)
    everyone = set(under_way.names)
    served = set.union(*under_way.served.values()) if under_way.served else set()
    if not served:
        return RefreshAttempt.Outcome.FAILED, f"Nothing new. {KEPT} {told}".strip()
    if troubles or served != everyone:
        counted = f"Fresh hours for {len(served)} of {len(everyone)} woodlots. {KEPT}"
        return RefreshAttempt.Outcome.PARTIAL, f"{counted} {told}"
    if all(row.outcome == "unchanged" for row in under_way.asked):
        return RefreshAttempt.Outcome.OK, "The services have nothing newer than what is stored."
    return RefreshAttempt.Outcome.OK, f"Fresh hours for all woodlots: {len(everyone)}."


def _labelled(row: SourceAttempt, *, alone: bool) -> str:
    return row.detail if alone else f"{row.provider} {row.model}: {row.detail}"


def _told(finding: Finding, names: dict[int, str]) -> str:
    name = names.get(finding.site_id) if finding.site_id is not None else None
    return f"{name}: {finding.detail}" if name else finding.detail

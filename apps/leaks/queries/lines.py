"""What the checks say of each line: open leaks, last walks, and which line to walk next."""

from collections.abc import Sequence
from datetime import datetime

from django.db.models import Count, Max, OuterRef, Subquery
from django.utils import timezone

from apps.leaks import walk
from apps.leaks.models import Leak, LeakCheck, LeakCheckQuerySet, LeakQuerySet
from apps.leaks.queries.obstructions import open_obstructions_by_line
from apps.leaks.standing import NO_READING, RANKED, LineStanding, rolled_taps
from apps.leaks.walk import Seen, ranking_terms
from apps.operation.queries import Constants
from apps.tapping.queries import taps_set_by_line
from apps.woods.models import Line, PumpHouse, Woodlot
from apps.woods.queries import label_order, planned_taps_by_line


def open_leaks(woodlot: Woodlot | None = None) -> LeakQuerySet:
    """Every leak left and not yet fixed, oldest first, whatever season it is from.

    `tight_since` is when a later check first found the line tight, which closes nothing.
    """
    # Tight is a hint that somebody mended it, not word of it: it is shown and closes nothing.
    tight_later = LeakCheck.objects.standing().filter(
        line=OuterRef("line"), state=LeakCheck.State.TIGHT, observed_at__gt=OuterRef("opened_at")
    )
    first_tight = tight_later.order_by("observed_at").values("observed_at")[:1]
    leaks = (
        Leak.objects.still_open()
        .select_related("line__woodlot", "opened_by__crew")
        .annotate(tight_since=Subquery(first_tight))
        .order_by("opened_at", "id")
    )
    return leaks if woodlot is None else leaks.filter(line__woodlot=woodlot)


def open_leaks_by_line() -> dict[int, int]:
    rows = Leak.objects.still_open().values_list("line_id")
    return dict(rows.annotate(leaks=Count("id")).values_list("line_id", "leaks"))


def last_walked_by_line() -> dict[int, datetime]:
    """When each line last had a verdict; frozen and taken-back checks do not count."""
    rows = LeakCheck.objects.walked().values_list("line_id")
    return dict(rows.annotate(at=Max("observed_at")).values_list("line_id", "at"))


def ranked_lines(
    *, season: int, now: datetime, constants: Constants, woodlot: Woodlot | None = None
) -> list[LineStanding]:
    """Every line once: those worth a walk first, then those that cannot be ranked, and why.

    The number of queries is the same however many lines there are.
    """
    # All that is asked below is asked once for all lines and joined here by key.
    # Without their paths: a mapped line is thousands of numbers, and the walk needs none of them.
    rows = Line.objects.select_related("woodlot").defer("geometry")
    if woodlot is not None:
        rows = rows.filter(woodlot=woodlot)
    lines = sorted(rows, key=lambda line: (line.woodlot.name, label_order(line.label)))
    planned, counted = planned_taps_by_line(season), taps_set_by_line(season)
    seen = Seen(
        lines=lines,
        pump_houses={house.pk: house for house in PumpHouse.objects.all()},
        taps=rolled_taps(lines, counted, planned),
        walked_at=last_walked_by_line(),
        latest=_by_line(LeakCheck.objects.standing()),
        # Of this season alone: over the summer the tubing was washed, chewed and mended.
        readings=_by_line(LeakCheck.objects.since(start_of(season)).about_vacuum()),
        open_leaks=open_leaks_by_line(),
        across=open_obstructions_by_line(),
        today=timezone.localtime(now).date(),
    )
    return walk.walking_order(seen, ranking_terms(constants))


def next_lines(standings: Sequence[LineStanding], count: int) -> list[LineStanding]:
    """The first lines to walk: the ranked ones, then those without a reading."""
    # At target or frozen, a walk brings no sap that is known of.
    return [row for row in standings if row.group in (RANKED, NO_READING)][:count]


def _by_line(checks: LeakCheckQuerySet) -> dict[int, LeakCheck]:
    return {check.line_id: check for check in checks.newest_per_line()}


def start_of(season: int) -> datetime:
    # Made aware in the operation's zone, which the middleware has activated.
    return timezone.make_aware(datetime(season - 1, 12, 1))  # noqa: DTZ001

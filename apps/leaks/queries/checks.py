"""The checks themselves: one after the other, what was used, and who was where the same day."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.db.models import Sum
from django.utils import timezone

from apps.leaks.models import LeakCheck, LeakCheckQuerySet, LeakQuerySet, Part, PartUsed
from apps.leaks.queries.lines import start_of
from apps.woods.models import Line, Woodlot
from apps.woods.queries import label_order


def checks(woodlot: Woodlot | None = None) -> LeakCheckQuerySet:
    """Every check as it was seen, newest first, those taken back among them."""
    rows = (
        LeakCheck.objects.select_related("line__woodlot", "crew", "voided_by")
        .prefetch_related("parts", "photos")
        .order_by("-observed_at", "-id")
    )
    return rows if woodlot is None else rows.filter(line__woodlot=woodlot)


def with_what_was_seen(leaks: LeakQuerySet) -> LeakQuerySet:
    """Open leaks with the parts and photos of the checks that left them."""
    # The line again by way of the check: the words beside a photo name it.
    rows = leaks.select_related("opened_by__line")
    return rows.prefetch_related("opened_by__parts", "opened_by__photos")


def parts_used(season: int, woodlot: Woodlot | None = None) -> list[tuple[str, int]]:
    """What went into the lines since the season began, by the standing checks, most first."""
    rows = PartUsed.objects.filter(
        leak_check__voided=False, leak_check__observed_at__gte=start_of(season)
    )
    if woodlot is not None:
        rows = rows.filter(leak_check__line__woodlot=woodlot)
    summed = rows.values_list("part").annotate(used=Sum("count")).order_by("-used", "part")
    return [(Part(part).label, used) for part, used in summed.values_list("part", "used")]


@dataclass(frozen=True)
class SameDay:
    """One line that more than one person checked on one day, their checks in the order seen."""

    line: Line
    checks: Sequence[LeakCheck]

    @property
    def agree(self) -> bool:
        return len({check.state for check in self.checks}) == 1


def same_day_differences(day: date) -> list[SameDay]:
    """The lines with standing checks by more than one person on this local day.

    Nothing is merged and nobody is right: both rows stand, and the later look has the last word.
    """
    rows = _of_day(day).select_related("line__woodlot", "crew").order_by("observed_at", "id")
    by_line: dict[Line, list[LeakCheck]] = {}
    for check in rows:
        by_line.setdefault(check.line, []).append(check)
    met = [
        SameDay(line, seen)
        for line, seen in by_line.items()
        if len({check.crew_id for check in seen}) > 1
    ]
    return sorted(met, key=lambda row: (row.line.woodlot.name, label_order(row.line.label)))


def _of_day(day: date) -> LeakCheckQuerySet:
    # By its two midnights, which an index can use; one day a year has 23 hours and one 25.
    start, end = (
        timezone.make_aware(datetime.combine(each, time.min))
        for each in (day, day + timedelta(days=1))
    )
    return LeakCheck.objects.standing().filter(observed_at__gte=start, observed_at__lt=end)

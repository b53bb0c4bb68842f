"""What lies across the lines: by class of work while it lies there, then what was cleared."""

from django.db.models import Case, Count, OuterRef, Prefetch, Subquery, Value, When

from apps.leaks.models import Clearing, Obstruction, ObstructionQuerySet
from apps.woods.models import Woodlot

WORKS = list(Obstruction.Work.values)


def open_obstructions(woodlot: Woodlot | None = None) -> ObstructionQuerySet:
    """Those still across a line, by class of work, longest there first."""
    return _listed(Obstruction.objects.still_open(), woodlot).order_by(_by_work(), "seen_at", "id")


def cleared_obstructions(woodlot: Woodlot | None = None) -> ObstructionQuerySet:
    """Those somebody said to be gone, newest word first; `words` holds each word with its crew."""
    standing = Clearing.objects.standing().select_related("crew").order_by("cleared_at", "id")
    newest = standing.filter(obstruction=OuterRef("pk")).order_by("-cleared_at")
    rows = _listed(Obstruction.objects.cleared(), woodlot).prefetch_related(
        Prefetch("clearings", queryset=standing, to_attr="words")
    )
    last_word = Subquery(newest.values("cleared_at")[:1])
    return rows.annotate(cleared_at=last_word).order_by("-cleared_at", "-id")


def open_obstructions_by_line() -> dict[int, int]:
    rows = Obstruction.objects.still_open().values_list("line_id")
    return dict(rows.annotate(across=Count("id")).values_list("line_id", "across"))


def _listed(rows: ObstructionQuerySet, woodlot: Woodlot | None) -> ObstructionQuerySet:
    rows = rows.select_related("line__woodlot", "crew").prefetch_related("photos")
    return rows if woodlot is None else rows.filter(line__woodlot=woodlot)


def _by_work() -> Case:
    # What anybody can do on the way first, what nobody here may do last.
    return Case(*(When(work=work, then=Value(nth)) for nth, work in enumerate(WORKS)))

"""What stands in the woods, and how many taps are planned at every level."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db.models import Count, F, Prefetch, Q, QuerySet, Sum, prefetch_related_objects

from apps.woods import tree
from apps.woods.models import (
    Landowner,
    Lease,
    Line,
    Note,
    NoteQuerySet,
    PumpHouse,
    TapCount,
    Woodlot,
)
from apps.woods.tree import TapsTotal

# As many as are read at a glance; the rest stand on the page of notes.
NOTES_SHOWN = 5


@dataclass(frozen=True)
class TreeLine:
    """One line with its place in the tree and the planned taps on it and beneath it."""

    line: Line
    depth: int
    pump_house: PumpHouse | None
    own: TapsTotal
    total: TapsTotal

    @property
    def has_branches(self) -> bool:
        return self.total.lines > 1

    @property
    def indent(self) -> str:
        """No-break spaces, because a table cell swallows plain ones."""
        return "\u00a0\u00a0" * (self.depth - 1) + "↳ " if self.depth else ""

    @property
    def slope(self) -> float | None:
        """Fall over length, as a share; unknown while either is."""
        if self.line.fall_m is None or self.line.length_m is None:
            return None
        return self.line.fall_m / self.line.length_m


def planned_taps_by_line(season: int, woodlot: Woodlot | None = None) -> dict[int, int]:
    """Line id to the taps planned on the line itself; a line not counted is not in it."""
    counts = TapCount.objects.filter(season=season).values_list("line_id", "planned_taps")
    if woodlot is None:
        return dict(counts)
    # Not joined: right after a large import PostgreSQL, which has not counted the rows yet,
    # would go through every line for every count.
    here = set(Line.objects.filter(woodlot=woodlot).values_list("pk", flat=True))
    return {line_id: taps for line_id, taps in counts if line_id in here}


def planned_taps_by_woodlot(season: int) -> dict[int, TapsTotal]:
    """Every woodlot's id to the planned taps over all its lines, and how many were counted."""
    this_season = Q(lines__tap_counts__season=season)
    # The season's count is at most one a line, so this join doubles no line.
    rows = Woodlot.objects.annotate(
        line_count=Count("lines", distinct=True),
        counted=Count("lines__tap_counts", filter=this_season),
        taps=Sum("lines__tap_counts__planned_taps", filter=this_season, default=0),
    ).values_list("pk", "line_count", "counted", "taps")
    return {pk: TapsTotal(taps, counted, lines - counted) for pk, lines, counted, taps in rows}


def line_tree(woodlot: Woodlot, season: int) -> list[TreeLine]:
    """Every line of the woodlot once, each before its branches, labels in counting order."""
    rows = list(Line.objects.filter(woodlot=woodlot).select_related("parent"))
    planned = planned_taps_by_line(season, woodlot)
    # Sorted here and not by the database, which would put L10 before L2.
    rows.sort(key=lambda line: label_order(line.label))
    houses = {house.pk: house for house in woodlot.pump_houses.all()}
    by_id = {line.pk: line for line in rows}
    return [
        TreeLine(
            line=by_id[branch.line_id],
            depth=branch.depth,
            # No row has the key 0: a line that drains nowhere finds no house.
            pump_house=houses.get(branch.pump_house_id or 0),
            own=branch.own,
            total=branch.total,
        )
        for branch in tree.grow([_stem(line, planned.get(line.pk)) for line in rows])
    ]


def _stem(line: Line, planned: int | None) -> tree.Stem:
    return tree.Stem(line.pk, line.parent_id, line.pump_house_id, planned)


def planned_taps_by_pump_house(lines: Sequence[TreeLine]) -> dict[PumpHouse | None, TapsTotal]:
    """Roll a woodlot's tree up to its pump houses; None holds the lines without one."""
    return tree.totals_by_house((row.pump_house, row.own) for row in lines)


def label_order(label: str) -> tuple[tuple[int, int, str], ...]:
    """Sort key by which L2 comes before L10."""
    # Numbers before letters, each piece marked with which it is: 2 and "b" are never compared.
    pieces = re.findall(r"\d+|\D+", label)
    return tuple((0, int(p), "") if p.isdecimal() else (1, 0, p.casefold()) for p in pieces)


@dataclass(frozen=True)
class LineList:
    """A woodlot's lines, all or those sought, with the totals over all of them."""

    rows: list[TreeLine]
    total: TapsTotal
    could_carry: int


def line_list(woodlot: Woodlot, season: int, sought: str = "") -> LineList:
    """Lines whose label, or that of the line they run into, holds the text sought."""
    rows = line_tree(woodlot, season)
    # Before the search: what somebody looks for does not change what the woodlot holds.
    total = sum((row.own for row in rows), TapsTotal())
    if sought:
        text = sought.casefold()
        rows = [row for row in rows if any(text in word for word in _words(row.line))]
    return LineList(rows, total, _could_carry(woodlot, season))


def _words(line: Line) -> list[str]:
    return [line.label.casefold(), line.parent.label.casefold() if line.parent else ""]


def _could_carry(woodlot: Woodlot, season: int) -> int:
    """Lines not counted this season that were in the season before."""
    uncounted = Line.objects.filter(woodlot=woodlot).exclude(tap_counts__season=season)
    return TapCount.objects.filter(season=season - 1, line__in=uncounted).count()


def planned_taps(line: Line, season: int) -> int | None:
    """Taps planned on one line; None while nobody has counted."""
    counts = TapCount.objects.filter(line=line, season=season)
    return counts.values_list("planned_taps", flat=True).first()


def woodlot_sheet(woodlot: Woodlot, season: int) -> dict[str, object]:
    """All that the page of one woodlot shows."""
    rows = line_tree(woodlot, season)
    by_house = planned_taps_by_pump_house(rows)
    houses = list(woodlot.pump_houses.order_by("name"))
    return {
        "total": sum(by_house.values(), TapsTotal()),
        "houses": [(house, by_house.get(house, TapsTotal())) for house in houses],
        "without_house": by_house.get(None),
        "leases": leases(woodlot),
        "notes": notes(woodlot)[:NOTES_SHOWN],
    }


def woodlots() -> QuerySet[Woodlot]:
    return Woodlot.objects.select_related("landowner").order_by("name")


def landowners() -> QuerySet[Landowner]:
    return Landowner.objects.annotate(woodlot_count=Count("woodlots")).order_by("name")


def leases(woodlot: Woodlot) -> QuerySet[Lease]:
    # The one in force is the newest; those before it are its history.
    return woodlot.leases.select_related("landowner").order_by(F("starts_on").desc())


def notes(woodlot: Woodlot | None = None) -> NoteQuerySet:
    """Standing notes, newest first; those of a woodlot are its own and those of its lines."""
    rows = (
        Note.objects.standing()
        .select_related("line__woodlot", "woodlot", "crew")
        .order_by("-noted_at", "-id")
    )
    if woodlot is None:
        return rows
    return rows.filter(Q(woodlot=woodlot) | Q(line__woodlot=woodlot))


def with_notes(rows: Iterable[TreeLine]) -> None:
    """Fetch the standing notes of all these lines at once, as each line's `noted`."""
    standing = Note.objects.standing().select_related("crew").order_by("-noted_at", "-id")
    prefetch_related_objects(
        [row.line for row in rows], Prefetch("notes", queryset=standing, to_attr="noted")
    )


def woodlot_chosen(text: object) -> Woodlot | None:
    """The woodlot a page was asked for; None, meaning all, for anything that is not one."""
    # isdecimal and not isdigit: int() stumbles over a superscript two.
    key = str(text)
    return Woodlot.objects.filter(pk=int(key)).first() if key.isdecimal() else None

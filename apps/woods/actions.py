"""Changes to the woods: each keeps what the tree of lines and the database promise."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any, TypeVar
from uuid import UUID

from django.db import IntegrityError, models, transaction

from apps.domain.line_path import NotAPath, Path, checked_path
from apps.operation.models import CrewMember
from apps.woods import limits
from apps.woods.models import Landowner, Lease, Line, Note, PumpHouse, TapCount, Woodlot

Row = TypeVar("Row", bound=models.Model)
# How many of a sort a refusal names; the rest are counted.
NAMED = 4


class WoodsRefused(Exception):
    """A change that would break a promise; `field` is the form field to mend."""

    field = "name"


class Taken(WoodsRefused):
    """Another row already goes by this name, label or date."""

    def __init__(self, field: str, message: str) -> None:
        super().__init__(message)
        self.field = field


class WrongWoodlot(WoodsRefused):
    """A line can only run into a line, or drain to a pump house, of its own woodlot."""

    def __init__(self, field: str, message: str) -> None:
        super().__init__(message)
        self.field = field


class WrongGeometry(WoodsRefused):
    """Points that cannot be where this line runs."""

    field = "geometry"


class LinesInARing(WoodsRefused):
    """Following each line to the one it runs into must end at the pump, never come back."""

    field = "parent"


class StillInUse(WoodsRefused):
    """Something recorded stands on this row, and records never lose their ground."""

    field = "__all__"


class NotYours(Exception):
    """Only the one who wrote a note, or an owner, may take it back."""


def record_note(
    *,
    uuid: UUID,
    text: str,
    noted_at: datetime,
    received_at: datetime,
    crew: CrewMember,
    woodlot: Woodlot | None = None,
    line: Line | None = None,
) -> Note:
    """Keep one note of a line, of a woodlot or of neither, once, however often it is sent."""
    note, _ = Note.objects.get_or_create(
        uuid=uuid,
        defaults={
            "text": text,
            "noted_at": noted_at,
            "received_at": received_at,
            "crew": crew,
            "woodlot": woodlot,
            "line": line,
        },
    )
    return note


def void_note(*, note: Note, by: CrewMember, at: datetime) -> None:
    """Take a note back: its row stays and is shown nowhere; done twice it is once."""
    if note.crew_id != by.pk and not by.is_owner:
        raise NotYours("Only the one who wrote a note, or an owner, can take it back.")
    Note.objects.standing().filter(pk=note.pk).update(voided_at=at, voided_by=by)


def save_landowner(*, landowner: Landowner | None = None, **fields: Any) -> Landowner:
    # No look for the name beforehand: between the look and the write it could be taken.
    row = landowner or Landowner()
    return _save(row, fields, ("name",), Taken("name", f"{fields['name']} is already listed."))


def save_woodlot(*, woodlot: Woodlot | None = None, **fields: Any) -> Woodlot:
    taken = Taken("name", f"There is already a woodlot called {fields['name']}.")
    return _save(woodlot or Woodlot(), fields, ("name",), taken)


def save_pump_house(
    *, woodlot: Woodlot, pump_house: PumpHouse | None = None, **fields: Any
) -> PumpHouse:
    taken = Taken("name", f"{woodlot} already has a pump house called {fields['name']}.")
    row = pump_house or PumpHouse(woodlot=woodlot)
    return _save(row, fields, ("woodlot", "name"), taken)


def save_lease(*, woodlot: Woodlot, lease: Lease | None = None, **fields: Any) -> Lease:
    """Write a lease down, or mend one; its woodlot never changes."""
    taken = Taken("starts_on", f"{woodlot} already has a lease that starts that day.")
    row = lease or Lease(woodlot=woodlot)
    return _save(row, fields, ("woodlot", "starts_on"), taken)


@transaction.atomic
def save_line(
    *,
    woodlot: Woodlot,
    season: int,
    planned_taps: int | None,
    line: Line | None = None,
    **fields: Any,
) -> Line:
    """Write a line and the taps planned on it this season; None forgets the count."""
    # Two people moving lines at once could close a ring between them: one woodlot, one writer.
    Woodlot.objects.select_for_update().get(pk=woodlot.pk)
    row = line or Line(woodlot=woodlot)
    _check_place(row, fields.get("parent"), fields.get("pump_house"))
    if fields.get("geometry") is not None:
        fields["geometry"] = _checked_geometry(woodlot, fields["geometry"])
    taken = Taken("label", f"{woodlot} already has a line labelled {fields['label']}.")
    _save(row, fields, ("woodlot", "label"), taken)
    set_planned_taps(line=row, season=season, planned_taps=planned_taps)
    return row


@transaction.atomic
def remove_line(*, line: Line, season: int) -> None:
    """Take away a line entered by mistake: only while nothing recorded stands on it.

    Its planned taps of this season and later go with it; those of past seasons hold it fast.
    """
    # The plan of this season may be part of the same mistake; one of a past season is history.
    if TapCount.objects.filter(line=line, season__lt=season).exists():
        raise StillInUse(f"{line} was counted in past seasons, so it stays in the records.")
    _remove(line)


@transaction.atomic
def remove_woodlot(*, woodlot: Woodlot) -> None:
    """Take a woodlot away while nothing stands on it; weather fetched for it goes along."""
    _remove(woodlot)


@transaction.atomic
def remove_pump_house(*, pump_house: PumpHouse) -> None:
    """Take a pump house away while no line drains to it and no gauge was read there."""
    _remove(pump_house)


@transaction.atomic
def remove_lease(*, lease: Lease) -> None:
    """Take a lease away that was written down by mistake."""
    _remove(lease)


@transaction.atomic
def remove_landowner(*, landowner: Landowner) -> None:
    """Take a landowner away while no woodlot and no lease is theirs."""
    _remove(landowner)


def set_planned_taps(*, line: Line, season: int, planned_taps: int | None) -> None:
    """Plan taps on one line; None means not counted, which is not the same as nought."""
    # An emptied field takes the row away: that is the only way to say "not counted" again.
    if planned_taps is None:
        TapCount.objects.filter(line=line, season=season).delete()
        return
    TapCount.objects.update_or_create(
        line=line, season=season, defaults={"planned_taps": planned_taps}
    )


def plan_as_season_before(*, woodlot: Woodlot, season: int) -> int:
    """Carry last season's counts to lines not yet counted this season; how many were carried."""
    uncounted = Line.objects.filter(woodlot=woodlot).exclude(tap_counts__season=season)
    before = TapCount.objects.filter(season=season - 1, line__in=uncounted)
    rows = [
        TapCount(line_id=line_id, season=season, planned_taps=taps)
        for line_id, taps in before.values_list("line_id", "planned_taps")
    ]
    # A count somebody typed meanwhile stands; only the gaps are filled.
    TapCount.objects.bulk_create(rows, ignore_conflicts=True)
    return len(rows)


def _check_place(line: Line, parent: Line | None, pump_house: PumpHouse | None) -> None:
    if pump_house is not None and pump_house.woodlot_id != line.woodlot_id:
        raise WrongWoodlot("pump_house", f"{pump_house} is in another woodlot.")
    if parent is None:
        return
    if parent.woodlot_id != line.woodlot_id:
        raise WrongWoodlot("parent", f"{parent} is in another woodlot.")
    # A line not saved yet has no branches, so nothing can come back to it.
    if line.pk is not None and _reaches(parent.pk, line):
        raise LinesInARing(f"{parent} already runs into {line}: that would make a ring.")


def _remove(row: models.Model) -> None:
    """Delete a row on which nothing stands, or refuse and name what does."""
    # Held first: nobody may put something on it between the look and the deleting.
    list(type(row)._default_manager.select_for_update().filter(pk=row.pk))
    try:
        # What stands on a row is known to the foreign keys that protect it: no list of them is
        # kept here to fall behind.
        row.delete()
    except models.ProtectedError as error:
        standing = _standing(error.protected_objects)
        raise StillInUse(f"{row} stays, because this stands on it: {standing}.") from error


def _standing(rows: Iterable[models.Model]) -> str:
    """What stands on something, sort by sort, the first few of each by name."""
    sorts: defaultdict[type[models.Model], list[str]] = defaultdict(list)
    # A set has no order of its own, and a refusal should read the same twice.
    for row in sorted(rows, key=lambda row: row.pk):
        sorts[type(row)].append(str(row))
    return "; ".join(sorted(_counted(sort, names) for sort, names in sorts.items()))


def _counted(sort: type[models.Model], names: Sequence[str]) -> str:
    many = len(names) > 1
    word = sort._meta.verbose_name_plural if many else sort._meta.verbose_name
    more = f" and {len(names) - NAMED} more" if len(names) > NAMED else ""
    return f"{len(names)} {word} ({', '.join(names[:NAMED])}{more})"


def _checked_geometry(woodlot: Woodlot, points: object) -> Path:
    try:
        path = checked_path(points)
    except NotAPath as error:
        raise WrongGeometry(f"Not kept: {error}.") from error
    if (wrong := limits.too_far_away(path, woodlot.longitude, woodlot.latitude)) is not None:
        raise WrongGeometry(f"Not kept: {wrong}.")
    return path


def _reaches(start: int, line: Line) -> bool:
    """Whether following the flow from `start` comes to `line`."""
    # All of the woodlot in one question; step by step it would be one for every line passed.
    flow = dict(Line.objects.filter(woodlot_id=line.woodlot_id).values_list("pk", "parent_id"))
    # Rows written past these actions may hold a ring already: it must not hang the page.
    seen: set[int] = set()
    here: int | None = start
    while here is not None and here not in seen:
        if here == line.pk:
            return True
        seen.add(here)
        here = flow.get(here)
    return False


def _save(row: Row, fields: Mapping[str, Any], identity: tuple[str, ...], taken: Taken) -> Row:
    """Write a row; let the database decide identity, and say in words when it refuses."""
    for name, value in fields.items():
        setattr(row, name, value)
    try:
        # A savepoint of its own: after a refusal PostgreSQL answers nothing until one is undone.
        with transaction.atomic():
            # Only what was given: what somebody else changed beside it meanwhile stays.
            row.save(update_fields=list(fields) if row.pk else None)
    except IntegrityError as error:
        same = {name: getattr(row, name) for name in identity}
        # The messages of the two databases differ; asking again works on both.
        others = type(row)._default_manager.filter(**same).exclude(pk=row.pk)
        if others.exists():
            raise taken from error
        raise
    return row

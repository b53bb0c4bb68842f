"""What the phone's page needs: lines to pick from, a line by its number, what a check did."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from uuid import UUID, uuid4

from django.utils.text import slugify

from apps.field.models import Phone
from apps.leaks import queries as leaks
from apps.leaks.models import Leak, LeakCheck
from apps.leaks.standing import LineStanding
from apps.woods.models import Line, Woodlot

# As many as stand above the four states and Save on a phone without scrolling.
FIRST_PICKS = 3
# Beyond these, typing the number is quicker than scrolling with gloves.
MORE_PICKS = 40


class NoSuchLine(Exception):
    """Nothing carries that label."""


class SeveralLines(Exception):
    """The label, or the number typed for it, fits more than one line."""

    def __init__(self, lines: list[Line]) -> None:
        super().__init__(", ".join(f"{line.label} in {line.woodlot}" for line in lines))
        self.lines = lines


def find_line(*, woodlot: Woodlot | None, typed: str) -> Line:
    """The line with that label, or else the only one whose label has that number in it.

    A number pad has no letters: 12 finds L12, and neither L112 nor L2. An exact label goes first.
    """
    lines = Line.objects.select_related("woodlot").order_by("woodlot__name", "label", "pk")
    if woodlot is not None:
        lines = lines.filter(woodlot=woodlot)
    # Somebody who types a whole label means that line, whatever numbers others share with it.
    exact = list(lines.filter(label__iexact=typed))
    # Both must have numbers: labels without any would all be alike.
    found = exact or [line for line in lines if _numbers(line.label) == _numbers(typed) != []]
    if not found:
        raise NoSuchLine(typed)
    if len(found) > 1:
        raise SeveralLines(found)
    return found[0]


def _numbers(label: str) -> list[int]:
    return [int(digits) for digits in re.findall(r"\d+", label)]


def number_pad_is_enough() -> bool:
    """Whether every line of a woodlot can be told from the others by the numbers in its label."""
    labels = Line.objects.values_list("woodlot_id", "label")
    seen = [(woodlot_id, tuple(_numbers(label))) for woodlot_id, label in labels]
    # Per woodlot: the page lets the woodlot be chosen, never a letter.
    return all(numbers for _, numbers in seen) and len(seen) == len(set(seen))


@dataclass(frozen=True)
class Picks:
    """Lines to touch: a screenful, then those behind one more touch; the rest are typed."""

    first: Sequence[LineStanding]
    more: Sequence[LineStanding]
    untold: int


def picks(standings: Sequence[LineStanding], chosen: object) -> Picks:
    """The lines in the order of the walk, the one chosen already before all others."""
    wanted = [row for row in standings if str(row.line.pk) == str(chosen)]
    # A line chosen on another page must be in sight and touched, or Save would take another.
    ordered = wanted + [row for row in standings if row not in wanted]
    last = FIRST_PICKS + MORE_PICKS
    return Picks(ordered[:FIRST_PICKS], ordered[FIRST_PICKS:last], max(0, len(ordered) - last))


@dataclass(frozen=True)
class LeakChoice:
    """A leak on the page after saving, with an identifier ready for the check one touch makes."""

    leak: Leak
    uuid: UUID


@dataclass(frozen=True)
class Outcome:
    """What one check did to the leaks of its line, and what it left open."""

    opened: bool
    closed: Sequence[LeakChoice]
    still_open: Sequence[LeakChoice]
    uuid: UUID


def outcome_of(check: LeakCheck) -> Outcome:
    still_open = leaks.open_leaks().filter(line=check.line_id)
    closed = check.closed_leaks.select_related("opened_by").order_by("opened_at")
    return Outcome(
        opened=any(leak.opened_by_id == check.pk for leak in still_open),
        # Identifiers made with the page: a small button touched twice records one check.
        closed=[LeakChoice(leak, uuid4()) for leak in closed],
        still_open=[
            LeakChoice(leak, uuid4()) for leak in still_open if leak.opened_by_id != check.pk
        ],
        uuid=uuid4(),
    )


def is_revoked(uuid: UUID | str) -> bool:
    return Phone.objects.filter(uuid=uuid, revoked_at__isnull=False).exists()


def woodlot_slugs() -> dict[int, str]:
    """Each woodlot as the address of a tag names it; of two alike the first keeps the plain one.

    A tag once printed stays true when another woodlot is added, though not when one is renamed.
    """
    slugs: dict[int, str] = {}
    for pk, name in Woodlot.objects.order_by("pk").values_list("pk", "name"):
        slug = slugify(name) or "woodlot"
        # More than once where another woodlot is called like this one's number.
        while slug in slugs.values():
            slug = f"{slug}-{pk}"
        slugs[pk] = slug
    return slugs

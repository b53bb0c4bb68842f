"""One line as any file tells it, and how its words and numbers are read.

Formula: none but the unit conversions of apps.domain.units.
Units: rows hold SI; each file states the unit beside the number, in a heading or a name.
Validity: the limits are those of apps.woods.limits; letters are those that fit on a tag and into
every one of the three files.
Source: NIST SP 811 (2008), Appendix B, for the exact foot and inch.
"""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields

from apps.domain import units
from apps.domain.line_path import Path
from apps.woods import limits

# People write the words; the codes are taken too, as they are in older sheets of one's own.
KINDS = {
    "wet conductor": "wet",
    "dry conductor": "dry",
    "mainline": "main",
    "lateral": "lateral",
}
KIND_WORDS = {code: words for words, code in KINDS.items()}
NAME_LETTERS = 80
Convert = Callable[[float], float]
# Plain figures only: float() alone would take nan, inf and 1_000 for numbers as well.
NUMBER = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]+)?")


class NotASheet(ValueError):
    """The text cannot be read as a file of lines at all; `field` is where the page says so."""

    field = "text"


class BadCell(ValueError):
    """One value that cannot be read; the message is the reason."""


@dataclass(frozen=True)
class Fault:
    """What is wrong, where: rows count from 1, the headings, as a spreadsheet shows them.

    Features and tracks count from 1 as well, in the order they stand in their file.
    """

    row: int
    column: str
    reason: str


@dataclass(frozen=True)
class Place:
    """Where a woodlot lies: all that is needed to start one that is not on record yet."""

    latitude: float
    longitude: float
    elevation_m: float


@dataclass(frozen=True)
class LineRow:
    """One line as a file tells it; None is unknown or none."""

    woodlot: str
    label: str
    kind: str
    pump_house: str | None = None
    parent: str | None = None
    planned_taps: int | None = None
    length_m: float | None = None
    fall_m: float | None = None
    diameter_mm: float | None = None
    walk_minutes: float | None = None
    installed_season: int | None = None
    drops_installed_season: int | None = None
    geometry: Path | None = None

    @property
    def identity(self) -> tuple[str, str]:
        return self.woodlot, self.label


FIELDS = tuple(one.name for one in fields(LineRow))


@dataclass(frozen=True)
class Sheet:
    """What was read: rows by their number, the fields it tells of, and all faults.

    A row with a fault is there too as far as it names its line, for its place to be checked.
    """

    rows: dict[int, LineRow]
    told: frozenset[str]
    season: int | None
    faults: tuple[Fault, ...]
    # A feature may leave out what its neighbour tells; a row of a sheet cannot.
    told_by_row: Mapping[int, frozenset[str]] = field(default_factory=dict)
    # Told of a line that is not on record yet, and of no other.
    told_if_new: frozenset[str] = frozenset()
    places: Mapping[str, Place] = field(default_factory=dict)
    # What was understood in one of several ways, for whoever looks before writing.
    notices: tuple[str, ...] = ()
    counts: str = "row"

    def told_of(self, number: int) -> frozenset[str]:
        return self.told_by_row.get(number, self.told)


@dataclass(frozen=True)
class Measure:
    """A measured field, its believable range in SI and the units a file may state it in."""

    field: str
    low: float
    high: float
    # Each as (to SI, from SI); the first unit is the US one, the last the metric one.
    units: Mapping[str, tuple[Convert, Convert]]

    def read(self, number: float, unit: str, written: str) -> float:
        """SI from a number in one of the units. Raises BadCell with the range in that unit."""
        store, show = self.units[unit]
        value_si = store(number)
        # Converting a limit there and back may move it by a rounding: forgive a billionth.
        slack = 1e-9 * max(abs(self.low), abs(self.high))
        if not self.low - slack <= value_si <= self.high + slack:
            raise BadCell(
                f"{written} is not between {show(self.low):.6g} and {show(self.high):.6g}"
            )
        return value_si


def _same(value: float) -> float:
    return value


SAME = (_same, _same)
FEET = (units.metres_from_feet, units.feet_from_metres)
INCHES = (units.mm_from_inches, units.inches_from_mm)
# In the order they are written.
MEASURES = {
    "length": Measure("length_m", *limits.LENGTH_M, {"ft": FEET, "m": SAME}),
    "diameter": Measure("diameter_mm", *limits.DIAMETER_MM, {"in.": INCHES, "mm": SAME}),
    "fall": Measure("fall_m", *limits.FALL_M, {"ft": FEET, "m": SAME}),
    "walk": Measure("walk_minutes", *limits.WALK_MINUTES, {"min": SAME}),
}


def text_of(longest: int) -> Callable[[str], str]:
    """A reader of names and labels."""

    def read(cell: str) -> str:
        if len(cell) > longest:
            raise BadCell(f"is longer than {longest} letters")
        if limits.UNWRITABLE.search(cell):
            raise BadCell("holds a character that cannot be written on a tag")
        return cell

    return read


def kind_of(cell: str) -> str:
    """The code of a kind written as a word or as a code. Raises BadCell."""
    word = cell.casefold()
    if word in KIND_WORDS:
        return word
    if word not in KINDS:
        raise BadCell(f"“{cell}” is no kind of line; the kinds are {', '.join(KINDS)}")
    return KINDS[word]


def whole_within(value: int, bounds: tuple[int, int], written: str) -> int:
    """A whole number inside its bounds. Raises BadCell."""
    low, high = bounds
    if not low <= value <= high:
        raise BadCell(f"{written} is not between {low} and {high}")
    return value


def number_of(cell: str) -> float:
    """A number from plain figures. Raises BadCell."""
    if not NUMBER.fullmatch(cell):
        raise BadCell(f"“{cell}” is not a number; write 1200 or 12.5, without commas or units")
    return float(cell)

"""A sheet of lines, as text, to rows or to named faults; and rows back to a sheet.

Formula: none but the unit conversions of apps.domain.units.
Units: the heading of a measured column states its unit, "length (ft)" or "length (m)"; rows hold
SI. Numbers are written to ten figures, so that a sheet read and written again is the same sheet.
Validity: UTF-8 text, comma, semicolon or tab between cells, headings in any order. An empty cell
is an unknown, never nought. The limits are those of apps.woods.limits.
Source: RFC 4180 (Shafranovich, 2005) for commas, quotes and doubled quotes.
"""

import csv
import io
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, fields

from apps.domain import units
from apps.woods import limits

# People write the words; the codes are taken too, as they are in older sheets of one's own.
KINDS = {
    "wet conductor": "wet",
    "dry conductor": "dry",
    "mainline": "main",
    "lateral": "lateral",
}
KIND_WORDS = {code: words for words, code in KINDS.items()}
REQUIRED = ("woodlot", "label", "kind")
Convert = Callable[[float], float]
# Plain figures only: float() alone would take nan, inf and 1_000 for numbers as well.
NUMBER = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]+)?")
# A spreadsheet turns 12 into 12.0; 12.5 taps stay refused.
WHOLE = re.compile(r"([0-9]+)(\.0*)?")
HEADING = re.compile(r"(?P<name>[a-z ]+?)\s*(\((?P<unit>[a-z.]+)\))?")
# The season in the heading goes with the file: a sheet of last year cannot land in this one.
PLANNED = re.compile(r"planned taps(?: (?P<season>[0-9]{4}))?")
# A cell that starts so is run as a formula by a spreadsheet; an apostrophe before it says "text".
FORMULA_STARTS = ("=", "+", "-", "@")


class NotASheet(ValueError):
    """The bytes or the headings cannot be read as a sheet of lines at all."""


class BadCell(ValueError):
    """One cell that cannot be read; the message is the reason."""


@dataclass(frozen=True)
class Fault:
    """What is wrong, where: rows count from 1, the headings, as a spreadsheet shows them."""

    row: int
    column: str
    reason: str


@dataclass(frozen=True)
class LineRow:
    """One line as a sheet tells it; None is unknown or none."""

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

    @property
    def identity(self) -> tuple[str, str]:
        return self.woodlot, self.label


@dataclass(frozen=True)
class Sheet:
    """What was read: rows by their number, the fields it tells of, and all faults.

    A row with a fault is there too as far as it names its line, for its place to be checked.
    """

    rows: dict[int, LineRow]
    told: frozenset[str]
    season: int | None
    faults: tuple[Fault, ...]


@dataclass(frozen=True)
class Column:
    """One heading: the field it fills and how its cells are read."""

    heading: str
    field: str
    read: Callable[[str], object]
    season: int | None = None


@dataclass(frozen=True)
class Measure:
    """A measured field, its believable range in SI and the units its heading may state."""

    field: str
    low: float
    high: float
    units: Mapping[str, tuple[Convert, Convert]]


def _same(value: float) -> float:
    return value


# Each unit as (to SI, from SI).
SAME = (_same, _same)
FEET = (units.metres_from_feet, units.feet_from_metres)
INCHES = (units.mm_from_inches, units.inches_from_mm)
# In the order they are written; the first unit is the US one, the second the metric one.
MEASURES = {
    "length": Measure("length_m", *limits.LENGTH_M, {"ft": FEET, "m": SAME}),
    "diameter": Measure("diameter_mm", *limits.DIAMETER_MM, {"in.": INCHES, "mm": SAME}),
    "fall": Measure("fall_m", *limits.FALL_M, {"ft": FEET, "m": SAME}),
    "walk": Measure("walk_minutes", *limits.WALK_MINUTES, {"min": SAME}),
}


def decode(data: bytes) -> str:
    """Text from UTF-8 bytes, with or without a byte-order mark. Raises NotASheet."""
    try:
        # The byte-order mark that spreadsheets put first would else be part of the first heading.
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise NotASheet("This is not UTF-8 text. Save the sheet as CSV UTF-8.") from error
    # A workbook saved as it is, not as CSV, is full of these.
    if "\0" in text:
        raise NotASheet("This is not a CSV sheet. Save it as CSV UTF-8.")
    return text


def read_lines(text: str) -> Sheet:
    """Read a sheet of lines. Raises NotASheet when its headings cannot be understood."""
    # Pasted text may bring the mark along too.
    table = _table(text.removeprefix("\ufeff"))
    columns = _columns(table[0] if table else [])
    rows: dict[int, LineRow] = {}
    faults: list[Fault] = []
    # As the spreadsheet numbers them: row 1 holds the headings.
    for number, cells in enumerate(table[1:], start=2):
        if not any(cell.strip() for cell in cells):
            continue
        row, wrong = _row(number, cells, columns)
        faults.extend(wrong)
        if row is not None:
            rows[number] = row
    told = frozenset(column.field for column in columns)
    season = next((column.season for column in columns if column.season), None)
    return Sheet(rows, told, season, tuple(faults))


def headings(season: int, unit_system: str) -> list[str]:
    """The headings in the order they are written, in US or metric units."""
    measured = [f"{name} ({unit})" for name, unit in _chosen(unit_system).items()]
    head = ["woodlot", "pump house", "label", "kind", "parent", f"planned taps {season}"]
    return [*head, *measured, "installed", "drops installed"]


def write_lines(rows: Iterable[LineRow], season: int, unit_system: str) -> str:
    """A sheet of lines, CRLF between rows, that read_lines reads back unchanged."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(headings(season, unit_system))
    chosen = _chosen(unit_system)
    for row in rows:
        texts = [row.woodlot, row.pump_house, row.label, KIND_WORDS[row.kind], row.parent]
        numbers = [_written(getattr(row, MEASURES[name].field), name, chosen) for name in chosen]
        seasons = [row.installed_season, row.drops_installed_season]
        guarded = [_guarded(text or "") for text in texts]
        writer.writerow([*guarded, row.planned_taps, *numbers, *seasons])
    return out.getvalue()


def _chosen(unit_system: str) -> dict[str, str]:
    place = 0 if unit_system == "us" else -1
    return {name: list(measure.units)[place] for name, measure in MEASURES.items()}


def _written(value_si: float | None, name: str, chosen: Mapping[str, str]) -> str:
    if value_si is None:
        return ""
    show = MEASURES[name].units[chosen[name]][1]
    # Ten figures: more than any tape measures, fewer than would show the rounding of feet.
    return f"{show(value_si):.10g}"


def _table(text: str) -> list[list[str]]:
    # By the headings, which hold none of the three marks; a note further down may hold all.
    first = text.split("\n", 1)[0]
    delimiter = max(",;\t", key=first.count)
    try:
        # Strict, or a quote left open would swallow the rest of the sheet as one cell.
        return list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True))
    except csv.Error as error:
        raise NotASheet(f"The sheet cannot be read: {error}.") from error


def _columns(headings: list[str]) -> list[Column]:
    columns = [_column(heading) for heading in headings]
    found = [column.field for column in columns if column.field]
    if missing := [name for name in REQUIRED if name not in found]:
        raise NotASheet(f"The first row must head a column “{missing[0]}”.")
    if twice := [column.heading for column in columns if found.count(column.field) > 1]:
        raise NotASheet(f"Two columns say the same: “{twice[0]}” and “{twice[1]}”.")
    return columns


def _column(heading: str) -> Column:
    plain = " ".join(heading.casefold().split())
    if plain in PLAIN:
        return Column(heading, *PLAIN[plain])
    if planned := PLANNED.fullmatch(plain):
        season = planned["season"]
        return Column(heading, "planned_taps", _planned, _whole_season(season) if season else None)
    named = HEADING.fullmatch(plain)
    if named and named["name"] in MEASURES:
        return Column(heading, *_measured(named["name"], named["unit"]))
    if not plain:
        return Column(heading, "", _empty)
    raise NotASheet(f"There is no column “{heading}”. The columns are listed on this page.")


def _measured(name: str, unit: str | None) -> tuple[str, Callable[[str], float]]:
    measure = MEASURES[name]
    # "in" without its point is as clear as with it.
    stated = next(
        (known for known in measure.units if known.rstrip(".") == (unit or "").rstrip(".")), None
    )
    if stated is None:
        ways = " or ".join(f"“{name} ({known})”" for known in measure.units)
        raise NotASheet(f"The heading “{name}” must state its unit: {ways}.")
    store = measure.units[stated][0]

    def read(cell: str) -> float:
        value_si = store(_number(cell))
        # Converting a limit there and back may move it by a rounding: forgive a billionth.
        slack = 1e-9 * max(abs(measure.low), abs(measure.high))
        if not measure.low - slack <= value_si <= measure.high + slack:
            show = measure.units[stated][1]
            raise BadCell(
                f"{cell} is not between {show(measure.low):.6g} and {show(measure.high):.6g}"
            )
        return value_si

    return measure.field, read


def _row(
    number: int, cells: list[str], columns: list[Column]
) -> tuple[LineRow | None, list[Fault]]:
    """The row and its faults; what could not be read is left unknown in the row."""
    faults: list[Fault] = []
    # A kind that cannot be read is a fault already; the row still has to be placed.
    values: dict[str, object] = {"kind": ""}
    if any(cell.strip() for cell in cells[len(columns) :]):
        faults.append(Fault(number, "", "has more cells than there are headings"))
    # Spreadsheets drop empty cells at the end of a row.
    padded = [*cells, *[""] * (len(columns) - len(cells))]
    for column, cell in zip(columns, padded, strict=False):
        try:
            values[column.field] = _value(column, cell.strip())
        except BadCell as bad:
            faults.append(Fault(number, column.heading, str(bad)))
    values.pop("", None)
    # Without both there is no telling which line is meant, and nothing more to check.
    named = "woodlot" in values and "label" in values
    return (LineRow(**values) if named else None), faults  # type: ignore[arg-type]


def _value(column: Column, cell: str) -> object:
    if cell:
        return column.read(_unguarded(cell))
    if column.field in REQUIRED:
        raise BadCell("is empty")
    return None


def _text(longest: int) -> Callable[[str], str]:
    def read(cell: str) -> str:
        if len(cell) > longest:
            raise BadCell(f"is longer than {longest} letters")
        return cell

    return read


def _kind(cell: str) -> str:
    word = cell.casefold()
    if word in KIND_WORDS:
        return word
    if word not in KINDS:
        raise BadCell(f"“{cell}” is no kind of line; the kinds are {', '.join(KINDS)}")
    return KINDS[word]


def _number(cell: str) -> float:
    if not NUMBER.fullmatch(cell):
        raise BadCell(f"“{cell}” is not a number; write 1200 or 12.5, without commas or units")
    return float(cell)


def _whole(low: int, high: int) -> Callable[[str], int]:
    def read(cell: str) -> int:
        whole = WHOLE.fullmatch(cell)
        if not whole:
            raise BadCell(f"“{cell}” is not a whole number; write 1200, without commas or units")
        # Thousands of digits are over the limit anyway: they are not worked through first.
        value = int(whole[1]) if len(whole[1]) < 10 else high + 1
        if not low <= value <= high:
            raise BadCell(f"{cell} is not between {low} and {high}")
        return value

    return read


def _empty(cell: str) -> None:
    raise BadCell(f"“{cell}” stands under no heading")


def _guarded(text: str) -> str:
    # A label like -W stays a label; one that is guarded already is guarded once more, and so
    # both come back as they were.
    return f"'{text}" if text.lstrip("'").startswith(FORMULA_STARTS) else text


def _unguarded(cell: str) -> str:
    guarded = cell.startswith("'") and cell.lstrip("'").startswith(FORMULA_STARTS)
    return cell[1:] if guarded else cell


_planned = _whole(*limits.PLANNED_TAPS)
_season = _whole(*limits.SEASON)


def _whole_season(digits: str) -> int:
    try:
        return _season(digits)
    except BadCell as bad:
        raise NotASheet(f"The season in a heading: {bad}.") from bad


PLAIN: dict[str, tuple[str, Callable[[str], object]]] = {
    "woodlot": ("woodlot", _text(80)),
    "pump house": ("pump_house", _text(80)),
    "label": ("label", _text(limits.LABEL_LETTERS)),
    "kind": ("kind", _kind),
    "parent": ("parent", _text(limits.LABEL_LETTERS)),
    "installed": ("installed_season", _season),
    "drops installed": ("drops_installed_season", _season),
}
FIELDS = tuple(field.name for field in fields(LineRow))

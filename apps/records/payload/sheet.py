"""A sheet of lines, as text, to rows or to named faults; and rows back to a sheet.

Formula: none but the unit conversions of apps.domain.units.
Units: the heading of a measured column states its unit, "length (ft)" or "length (m)"; rows hold
SI. Numbers are written to ten figures, so that a sheet read and written again is the same sheet.
Validity: UTF-8 text, comma, semicolon or tab between cells, headings in any order. An empty cell
is an unknown, never nought. The limits are those of apps.woods.limits. A text that a spreadsheet
would run as a formula is written with an apostrophe before it, one more than it had, and read
with one less.
Source: RFC 4180 (Shafranovich, 2005) for commas, quotes and doubled quotes.
"""

import csv
import io
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from apps.records.payload import wkt
from apps.records.payload.rows import (
    FEET,
    KIND_WORDS,
    MEASURES,
    NAME_LETTERS,
    SAME,
    BadCell,
    Fault,
    LineRow,
    Measure,
    NotASheet,
    Place,
    Sheet,
    kind_of,
    number_of,
    text_of,
    whole_within,
)
from apps.woods import limits

REQUIRED = ("woodlot", "label", "kind")
# A spreadsheet turns 12 into 12.0; 12.5 taps stay refused.
WHOLE = re.compile(r"([0-9]+)(\.0*)?")
HEADING = re.compile(r"(?P<name>[a-z ]+?)\s*(\((?P<unit>[a-z.]+)\))?")
# The season in the heading goes with the file: a sheet of last year cannot land in this one.
PLANNED = re.compile(r"planned taps(?: (?P<season>[0-9]{4}))?")
# A cell that starts so is run as a formula by a spreadsheet; an apostrophe before it says "text".
FORMULA_STARTS = ("=", "+", "-", "@")
# The place of a woodlot stands beside each of its lines: a sheet has one kind of row.
PLACE = ("place_latitude", "place_longitude", "place_elevation_m")
PLACE_HEADS = ("woodlot latitude", "woodlot longitude", "woodlot elevation")
ELEVATION = Measure("place_elevation_m", *limits.ELEVATION_M, {"ft": FEET, "m": SAME})
MEASURED = MEASURES | {"woodlot elevation": ELEVATION}


@dataclass(frozen=True)
class Column:
    """One heading: the field it fills and how its cells are read."""

    heading: str
    field: str
    read: Callable[[str], object]
    season: int | None = None


def decode(data: bytes) -> str:
    """Text from UTF-8 bytes, with or without a byte-order mark. Raises NotASheet."""
    try:
        # The byte-order mark that spreadsheets put first would else be part of the first heading.
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise NotASheet(
            "This is not UTF-8 text. Save the file as UTF-8; a sheet as CSV UTF-8."
        ) from error
    # A workbook saved as it is, not as CSV, is full of these.
    if "\0" in text:
        raise NotASheet("This is not a CSV sheet, GeoJSON or GPX. Save a sheet as CSV UTF-8.")
    return text


def read_lines(text: str) -> Sheet:
    """Read a sheet of lines. Raises NotASheet when its headings cannot be understood."""
    # Pasted text may bring the mark along too.
    table = _table(text.removeprefix("\ufeff"))
    columns = _columns(table[0] if table else [])
    rows: dict[int, LineRow] = {}
    faults: list[Fault] = []
    places = Places()
    # As the spreadsheet numbers them: row 1 holds the headings.
    for number, cells in enumerate(table[1:], start=2):
        if not any(cell.strip() for cell in cells):
            continue
        values, wrong = _values(number, cells, columns)
        faults.extend(wrong)
        place = [values.pop(name, None) for name in PLACE]
        # Without both there is no telling which line is meant, and nothing more to check.
        if "woodlot" in values and "label" in values:
            rows[number] = LineRow(**values)  # type: ignore[arg-type]
            faults.extend(places.told(number, rows[number].woodlot, place))
    told = frozenset(column.field for column in columns).difference(PLACE)
    season = next((column.season for column in columns if column.season), None)
    return Sheet(rows, told, season, tuple(faults), places=places.known)


class Places:
    """The places of woodlots met so far, each told once or the same every time."""

    def __init__(self) -> None:
        self.known: dict[str, Place] = {}
        self._first: dict[str, int] = {}

    def told(self, number: int, woodlot: str, place: list[object]) -> list[Fault]:
        # Half a place starts no woodlot, and one on record needs none.
        if None in place:
            return []
        told = Place(*place)  # type: ignore[arg-type]
        first = self._first.setdefault(woodlot, number)
        if self.known.setdefault(woodlot, told) != told:
            return [Fault(number, "woodlot", f"{woodlot} lies elsewhere than in row {first}")]
        return []


def headings(season: int, unit_system: str) -> list[str]:
    """The headings in the order they are written, in US or metric units."""
    measured = [f"{name} ({unit})" for name, unit in _chosen(unit_system).items()]
    head = ["woodlot", "pump house", "label", "kind", "parent", f"planned taps {season}"]
    elevation = f"{PLACE_HEADS[2]} ({_unit(ELEVATION, unit_system)})"
    return [
        *[*head, *measured, "installed", "drops installed", "geometry"],
        *[*PLACE_HEADS[:2], elevation],
    ]


def write_lines(
    rows: Iterable[LineRow],
    season: int,
    unit_system: str,
    places: Mapping[str, Place] | None = None,
) -> str:
    """A sheet of lines, CRLF between rows, that read_lines reads back unchanged."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(headings(season, unit_system))
    chosen = _chosen(unit_system)
    beside = {
        woodlot: _place_cells(place, unit_system) for woodlot, place in (places or {}).items()
    }
    for row in rows:
        texts = [row.woodlot, row.pump_house, row.label, KIND_WORDS[row.kind], row.parent]
        guarded = [_guarded(text or "") for text in texts]
        numbers = [
            _written(getattr(row, MEASURES[name].field), MEASURES[name], unit)
            for name, unit in chosen.items()
        ]
        seasons = [row.installed_season, row.drops_installed_season]
        path = wkt.write_path(row.geometry) if row.geometry else ""
        place = beside.get(row.woodlot, [""] * len(PLACE))
        writer.writerow([*guarded, row.planned_taps, *numbers, *seasons, path, *place])
    return out.getvalue()


def _chosen(unit_system: str) -> dict[str, str]:
    return {name: _unit(measure, unit_system) for name, measure in MEASURES.items()}


def _unit(measure: Measure, unit_system: str) -> str:
    return list(measure.units)[0 if unit_system == "us" else -1]


def _place_cells(place: Place, unit_system: str) -> list[str]:
    degrees = [_figures(place.latitude), _figures(place.longitude)]
    return [*degrees, _written(place.elevation_m, ELEVATION, _unit(ELEVATION, unit_system))]


def _written(value_si: float | None, measure: Measure, unit: str) -> str:
    return "" if value_si is None else _figures(measure.units[unit][1](value_si))


def _figures(value: float) -> str:
    # Ten figures: more than any tape measures, fewer than would show the rounding of feet.
    return f"{value:.10g}"


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
    if named and named["name"] in MEASURED:
        return Column(heading, *_measured(named["name"], named["unit"]))
    if not plain:
        return Column(heading, "", _empty)
    raise NotASheet(f"There is no column “{heading}”. The columns are listed on this page.")


def _measured(name: str, unit: str | None) -> tuple[str, Callable[[str], float]]:
    measure = MEASURED[name]
    # "in" without its point is as clear as with it.
    stated = next(
        (known for known in measure.units if known.rstrip(".") == (unit or "").rstrip(".")), None
    )
    if stated is None:
        ways = " or ".join(f"“{name} ({known})”" for known in measure.units)
        raise NotASheet(f"The heading “{name}” must state its unit: {ways}.")

    def read(cell: str) -> float:
        return measure.read(number_of(cell), stated, cell)

    return measure.field, read


def _values(
    number: int, cells: list[str], columns: list[Column]
) -> tuple[dict[str, object], list[Fault]]:
    """What the row tells by field, and its faults; what cannot be read is not among it."""
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
    return values, faults


def _value(column: Column, cell: str) -> object:
    if cell:
        return column.read(_unguarded(cell))
    if column.field in REQUIRED:
        raise BadCell("is empty")
    return None


def _degrees(most: float) -> Callable[[str], float]:
    def read(cell: str) -> float:
        if not -most <= number_of(cell) <= most:
            raise BadCell(f"{cell} is not between {-most:g} and {most:g}")
        return float(cell)

    return read


def _whole(low: int, high: int) -> Callable[[str], int]:
    def read(cell: str) -> int:
        whole = WHOLE.fullmatch(cell)
        if not whole:
            raise BadCell(f"“{cell}” is not a whole number; write 1200, without commas or units")
        # Thousands of digits are over the limit anyway: they are not worked through first.
        value = int(whole[1]) if len(whole[1]) < 10 else high + 1
        return whole_within(value, (low, high), cell)

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


_label = text_of(limits.LABEL_LETTERS)
_name = text_of(NAME_LETTERS)
PLAIN: dict[str, tuple[str, Callable[[str], object]]] = {
    "woodlot": ("woodlot", _name),
    "pump house": ("pump_house", _name),
    "label": ("label", _label),
    "kind": ("kind", kind_of),
    "parent": ("parent", _label),
    "installed": ("installed_season", _season),
    "drops installed": ("drops_installed_season", _season),
    "geometry": ("geometry", wkt.read_path),
    PLACE_HEADS[0]: (PLACE[0], _degrees(90)),
    PLACE_HEADS[1]: (PLACE[1], _degrees(180)),
}

"""Lines as a GeoJSON feature collection, to rows or to named faults; and rows back to one.

Formula: none but the unit conversions of apps.domain.units.
Units: the name of a measured property ends with its unit, "length_m" or "length_ft"; written are
SI and every figure, so that a collection read and written again is the same. Positions are
longitude, latitude and, where known, metres above the sea, on WGS 84 (RFC 7946, section 4).
Validity: one feature a line, its LineString from the pump end outwards, or null where nobody has
mapped it (section 3.2). A feature of kind "woodlot" says by its Point where a woodlot lies. A
property that is not there says nothing, one that is null says unknown.
Source: RFC 7946 (Butler, Daly, Doyle, Gillies, Hagen, Schaub, 2016); RFC 8259 (Bray, 2017).
"""

import json
import re
from collections.abc import Callable, Iterable, Mapping
from typing import Any

from apps.domain.line_path import NotAPath, Path, checked_path
from apps.records.payload.rows import (
    KIND_WORDS,
    MEASURES,
    NAME_LETTERS,
    BadCell,
    Fault,
    LineRow,
    NotASheet,
    Place,
    Sheet,
    kind_of,
    text_of,
    whole_within,
)
from apps.woods import limits
from apps.woods.payload import NotGeometry, line_string, strict_json

REQUIRED = ("woodlot", "label", "kind")
WOODLOT = "woodlot"
PLANNED = re.compile(r"planned_taps(?:_(?P<season>[0-9]{4}))?")
SEASONS = ("installed_season", "drops_installed_season")
# RFC 7946 knows WGS 84 alone; its predecessor could name another, and some tools still name one.
SAME_AS_WGS_84 = ("CRS84", "4326")
LARGEST_NUMBER = 1e15
Read = Callable[[Any], object]


def read_features(text: str) -> Sheet:
    """Read a feature collection of lines, or one feature. Raises NotASheet."""
    features = _features(text)
    reading = _Reading()
    for number, feature in enumerate(features, start=1):
        try:
            reading.take(number, feature)
        except BadCell as bad:
            reading.fault(number, "", str(bad))
    return reading.sheet()


def write_features(
    rows: Iterable[LineRow], season: int, places: Mapping[str, Place] | None = None
) -> str:
    """A feature collection, one feature to a line of text, that read_features reads unchanged."""
    features = [_woodlot_feature(name, place) for name, place in (places or {}).items()]
    features += [_line_feature(row, season) for row in rows]
    written = ",\n".join(
        json.dumps(feature, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
        for feature in features
    )
    return f'{{"type":"FeatureCollection","features":[\n{written}\n]}}\n'


def _woodlot_feature(name: str, place: Place) -> dict[str, object]:
    at = [place.longitude, place.latitude, place.elevation_m]
    return {
        "type": "Feature",
        "geometry": {"type": "Point", "coordinates": at},
        "properties": {"woodlot": name, "kind": WOODLOT},
    }


def _line_feature(row: LineRow, season: int) -> dict[str, object]:
    path = row.geometry
    properties = {
        "woodlot": row.woodlot,
        "pump_house": row.pump_house,
        "label": row.label,
        "kind": KIND_WORDS[row.kind],
        "parent": row.parent,
        f"planned_taps_{season}": row.planned_taps,
    }
    measured = [measure.field for measure in MEASURES.values()]
    properties |= {name: getattr(row, name) for name in (*measured, *SEASONS)}
    geometry = {"type": "LineString", "coordinates": path} if path else None
    return {"type": "Feature", "geometry": geometry, "properties": properties}


def _features(text: str) -> list[Any]:
    try:
        read = strict_json(text.removeprefix("\ufeff"))
    except NotGeometry as error:
        raise NotASheet(f"This is not GeoJSON: {error}.") from error
    if not isinstance(read, dict) or read.get("type") not in ("FeatureCollection", "Feature"):
        raise NotASheet("A GeoJSON file of lines is a FeatureCollection: RFC 7946, section 3.3.")
    _refuse_other_datum(read)
    if read["type"] == "Feature":
        return [read]
    if not isinstance(read.get("features"), list):
        raise NotASheet("The FeatureCollection has no list of features.")
    return list(read["features"])


def _refuse_other_datum(read: dict[str, Any]) -> None:
    named = json.dumps(read.get("crs"))
    # Read as degrees, the metres of another system would put a line in the sea.
    if read.get("crs") is not None and not any(same in named for same in SAME_AS_WGS_84):
        raise NotASheet("The file names another coordinate system. Save it in WGS 84 (RFC 7946).")


class _Reading:
    """What has been read so far of one collection."""

    def __init__(self) -> None:
        self.rows: dict[int, LineRow] = {}
        self.told: dict[int, frozenset[str]] = {}
        self.faults: list[Fault] = []
        self.places: dict[str, Place] = {}
        self.aside: dict[str, int] = {}
        self.seasons: dict[int, int] = {}

    def fault(self, number: int, column: str, reason: str) -> None:
        self.faults.append(Fault(number, column, reason))

    def take(self, number: int, feature: Any) -> None:
        """Read one feature: a woodlot or a line. Raises BadCell when it is neither."""
        if not isinstance(feature, dict) or feature.get("type") != "Feature":
            raise BadCell("is no Feature")
        properties = feature.get("properties")
        if not isinstance(properties, dict):
            raise BadCell("has no properties, so there is no telling which line it is")
        if properties.get("kind") == WOODLOT:
            self._take_woodlot(number, feature, properties)
        else:
            self._take_line(number, feature, properties)

    def _take_woodlot(self, number: int, feature: dict[str, Any], named: dict[str, Any]) -> None:
        woodlot = _text(NAME_LETTERS)(named.get("woodlot"))
        if woodlot is None:
            raise BadCell("a woodlot needs its name, as “woodlot”")
        place = _place(feature.get("geometry"))
        if self.places.setdefault(str(woodlot), place) != place:
            raise BadCell(f"{woodlot} lies elsewhere in an earlier feature")

    def _take_line(self, number: int, feature: dict[str, Any], named: dict[str, Any]) -> None:
        before = len(self.faults)
        # A kind that cannot be read is a fault already; the line still has to be placed.
        values: dict[str, Any] = {"kind": ""}
        for name, value in named.items():
            self._take_property(number, name, value, values)
        # One complaint a property: what cannot be read is not missing as well.
        blamed = {fault.column for fault in self.faults[before:]}
        for name in REQUIRED:
            if not values.get(name) and name not in blamed:
                self.fault(number, name, "is not there")
        try:
            values["geometry"] = _path(feature.get("geometry"))
        except BadCell as bad:
            self.fault(number, "geometry", str(bad))
        if values.get("woodlot") and values.get("label"):
            self.rows[number] = LineRow(**values)
            self.told[number] = frozenset(values)

    def _take_property(self, number: int, name: str, value: Any, values: dict[str, Any]) -> None:
        try:
            field, read = self._reader(name)
            told = None if value is None and field not in REQUIRED else read(value)
        except BadCell as bad:
            self.fault(number, name, str(bad))
            return
        if field in values and field != "kind":
            self.fault(number, name, "says what another property says too")
        elif field:
            values[field] = told

    def _reader(self, name: str) -> tuple[str, Read]:
        """The field a property fills, none for a stranger, and how it is read."""
        if found := READERS.get(name):
            return found
        if planned := PLANNED.fullmatch(name):
            if planned["season"]:
                season = whole_within(int(planned["season"]), limits.SEASON, planned["season"])
                self.seasons[season] = self.seasons.get(season, 0) + 1
            return "planned_taps", _whole(limits.PLANNED_TAPS)
        if name in MEASURES:
            ways = " or ".join(one for one in READERS if one.startswith(f"{name}_"))
            raise BadCell(f"must state its unit: {ways}")
        # Other tools leave colours and numbers of their own in a file; each is named, not lost.
        self.aside[name] = self.aside.get(name, 0) + 1
        return "", _left_aside

    def sheet(self) -> Sheet:
        if len(self.seasons) > 1:
            seasons = ", ".join(str(season) for season in sorted(self.seasons))
            raise NotASheet(f"The taps planned are of several seasons: {seasons}. One a file.")
        notices = tuple(
            f"The property “{name}” of {count} feature{'s' if count != 1 else ''} is left aside: "
            "lines have no such thing."
            for name, count in sorted(self.aside.items())
        )
        return Sheet(
            self.rows,
            frozenset(),
            next(iter(self.seasons), None),
            tuple(self.faults),
            told_by_row=self.told,
            places=self.places,
            notices=notices,
            counts="feature",
        )


def _path(geometry: Any) -> Path | None:
    if geometry is None:
        return None
    try:
        return checked_path(line_string(geometry))
    except (NotGeometry, NotAPath) as error:
        raise BadCell(str(error)) from error


def _place(geometry: Any) -> Place:
    at = geometry.get("coordinates") if isinstance(geometry, dict) else None
    if not isinstance(at, list) or len(at) != 3 or geometry.get("type") != "Point":
        raise BadCell("a woodlot needs a Point of longitude, latitude and elevation")
    numbers = [_number(value) for value in at]
    bounds = ((-180.0, 180.0), (-90.0, 90.0), limits.ELEVATION_M)
    for value, (low, high) in zip(numbers, bounds, strict=True):
        if not low <= value <= high:
            raise BadCell(f"{value:.10g} is not between {low:g} and {high:g}")
    return Place(longitude=numbers[0], latitude=numbers[1], elevation_m=numbers[2])


def _text(longest: int) -> Read:
    read_text = text_of(longest)

    def read(value: Any) -> str | None:
        # A label of figures alone comes back from some tools as a number.
        if isinstance(value, int) and not isinstance(value, bool):
            value = f"{_number(value):.0f}"
        if value is not None and not isinstance(value, str):
            raise BadCell("must be text")
        # Checked as it is read, so that what is trimmed here is trimmed everywhere.
        return read_text(value.strip()) or None if value is not None else None

    return read


def _kind(value: Any) -> str:
    word = _text(NAME_LETTERS)(value)
    return kind_of(str(word)) if word is not None else ""


def _left_aside(value: Any) -> None:
    return None


def _number(value: Any) -> float:
    # True is a number to Python, and to nobody else.
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise BadCell("must be a number")
    # Before it is made a float, which a number of hundreds of figures cannot be.
    if not abs(value) <= LARGEST_NUMBER:
        raise BadCell("is too large a number")
    return float(value)


def _whole(bounds: tuple[int, int]) -> Read:
    def read(value: Any) -> int:
        number = _number(value)
        if not number.is_integer():
            raise BadCell(f"{value} is not a whole number")
        return whole_within(int(number), bounds, f"{number:.10g}")

    return read


def _measured(name: str, unit: str) -> Read:
    def read(value: Any) -> float:
        number = _number(value)
        return MEASURES[name].read(number, unit, f"{number:.10g}")

    return read


READERS: dict[str, tuple[str, Read]] = {
    "woodlot": ("woodlot", _text(NAME_LETTERS)),
    "pump_house": ("pump_house", _text(NAME_LETTERS)),
    "label": ("label", _text(limits.LABEL_LETTERS)),
    "kind": ("kind", _kind),
    "parent": ("parent", _text(limits.LABEL_LETTERS)),
    **{name: (name, _whole(limits.SEASON)) for name in SEASONS},
    "walk_minutes": ("walk_minutes", _measured("walk", "min")),
    "length_m": ("length_m", _measured("length", "m")),
    "length_ft": ("length_m", _measured("length", "ft")),
    "fall_m": ("fall_m", _measured("fall", "m")),
    "fall_ft": ("fall_m", _measured("fall", "ft")),
    "diameter_mm": ("diameter_mm", _measured("diameter", "mm")),
    "diameter_in": ("diameter_mm", _measured("diameter", "in.")),
}

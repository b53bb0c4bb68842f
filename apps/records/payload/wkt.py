"""A path of a line in one cell of a sheet.

Formula: none. Units: degrees of longitude and latitude on WGS 84, then metres above the sea.
Validity: one LINESTRING, flat or with heights; what a path may be is apps.domain.line_path's.
Source: well-known text of OGC 06-103r4, Simple feature access, part 1 (2011), section 7.2, there
also as ISO 19125-1.
"""

import re

from apps.domain.line_path import (
    DEGREE_DECIMALS,
    HEIGHT_DECIMALS,
    NotAPath,
    Path,
    Point,
    checked_path,
    has_heights,
)
from apps.records.payload.rows import BadCell, number_of

# Z may stand apart, together or not at all: tools differ, and the points say how many they are.
LINESTRING = re.compile(r"LINESTRING\s*(?P<heights>Z)?\s*\((?P<points>[^()]*)\)", re.IGNORECASE)
DECIMALS = (DEGREE_DECIMALS, DEGREE_DECIMALS, HEIGHT_DECIMALS)


def read_path(cell: str) -> Path:
    """The path a cell holds. Raises BadCell."""
    found = LINESTRING.fullmatch(cell)
    if found is None:
        shown = cell if len(cell) <= 30 else f"{cell[:30]}…"
        raise BadCell(f"“{shown}” is no path; write LINESTRING (-75.3 43.9, -75.301 43.901)")
    points = [_point(text) for text in found["points"].split(",")]
    if found["heights"] and any(len(point) != len(DECIMALS) for point in points):
        raise BadCell("LINESTRING Z needs a height at every point")
    try:
        return checked_path(points)
    except NotAPath as error:
        raise BadCell(str(error)) from error


def write_path(path: Path) -> str:
    """A path as well-known text that read_path reads back unchanged."""
    points = ", ".join(" ".join(plain_point(point)) for point in path)
    return f"LINESTRING Z ({points})" if has_heights(path) else f"LINESTRING ({points})"


def plain_point(point: Point) -> list[str]:
    """The numbers of a point in plain decimals, never as 1e-07: not every reader takes that."""
    numbers = zip(point, DECIMALS, strict=False)
    return [f"{value:.{decimals}f}".rstrip("0").rstrip(".") for value, decimals in numbers]


def _point(text: str) -> list[float]:
    return [number_of(number) for number in text.split()]

"""One path of a line as GeoJSON, from text and back.

Formula: none. Units: degrees of longitude and latitude on WGS 84, then metres above the sea.
Validity: a LineString, a MultiLineString of one part, a Feature holding either, or its bare list
of positions. What a path may be is apps.domain.line_path's.
Source: RFC 7946 (Butler et al., 2016), sections 3.1.4 and 3.1.5; RFC 8259 (Bray, 2017), by whose
section 4 a name that stands twice means nothing sure.
"""

import json
from typing import Any

from apps.domain.line_path import Path, checked_path


class NotGeometry(ValueError):
    """The text or the object is no path of a line in GeoJSON; the message is the reason."""


def read_path(text: str) -> Path:
    """The path that was typed or pasted. Raises NotGeometry, or line_path.NotAPath."""
    read = strict_json(text)
    if isinstance(read, list):
        return checked_path(read)
    if isinstance(read, dict) and read.get("type") == "Feature":
        read = read.get("geometry")
    return checked_path(line_string(read))


def write_path(path: Path | list[list[float]]) -> str:
    """A path as a LineString, one position to a line of text."""
    points = ",\n".join(json.dumps(list(point)) for point in path)
    return f'{{"type": "LineString", "coordinates": [\n{points}\n]}}'


def line_string(geometry: Any) -> Any:
    """The positions of a GeoJSON geometry, not checked yet. Raises NotGeometry."""
    if not isinstance(geometry, dict):
        raise NotGeometry("a geometry is an object with a type and coordinates")
    kind, positions = geometry.get("type"), geometry.get("coordinates")
    if kind == "LineString":
        return positions
    # Mapping tools save a single line as a set of one.
    if kind == "MultiLineString" and isinstance(positions, list) and len(positions) == 1:
        return positions[0]
    raise NotGeometry(f"a line is a LineString of one part, not {_named(kind)}")


def strict_json(text: str) -> Any:
    """JSON whose names stand once and whose letters can be written. Raises NotGeometry."""
    try:
        return json.loads(text, object_pairs_hook=_once, parse_constant=_refused)
    except json.JSONDecodeError as error:
        raise NotGeometry(f"{error.msg} in line {error.lineno}") from error
    except RecursionError as error:
        raise NotGeometry("it is nested too deeply") from error
    except NotGeometry:
        raise
    except ValueError as error:
        # A number of thousands of figures is refused before it is worked out.
        raise NotGeometry("a number is too long") from error


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise NotGeometry(f"the name “{_written(twice)}” stands twice")
    for text in (*found, *found.values()):
        if isinstance(text, str) and _written(text) != text:
            raise NotGeometry("a text holds half a letter (a lone surrogate)")
    return found


def _written(text: str) -> str:
    return text.encode(errors="replace").decode()


def _refused(constant: str) -> float:
    raise NotGeometry(f"{constant} is no number")


def _named(kind: Any) -> str:
    return f"a {kind[:40]}" if isinstance(kind, str) and kind else "something without a type"

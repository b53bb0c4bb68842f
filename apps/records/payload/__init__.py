"""Files of lines, as text, to rows or to named faults; and rows back to a file.

Three open forms are read and written, told apart by how the text begins: comma-separated sheets
(sheet), GeoJSON (geojson) and the tracks of GPX (gpx). What a row is, rows says.
"""

from apps.records.payload import geojson, gpx, sheet
from apps.records.payload.gpx import NoWoodlotChosen, TrackChoice, write_tracks
from apps.records.payload.rows import (
    FIELDS,
    KIND_WORDS,
    KINDS,
    Fault,
    LineRow,
    NotASheet,
    Place,
    Sheet,
)
from apps.records.payload.sheet import decode, headings, read_lines, write_lines

__all__ = [
    "FIELDS",
    "KINDS",
    "KIND_WORDS",
    "Fault",
    "LineRow",
    "NoWoodlotChosen",
    "NotASheet",
    "Place",
    "Sheet",
    "TrackChoice",
    "decode",
    "headings",
    "read",
    "read_lines",
    "write_features",
    "write_lines",
    "write_tracks",
]

write_features = geojson.write_features


def read(text: str, tracks: TrackChoice) -> Sheet:
    """Read a file of lines in any of the three forms; `tracks` says what a GPX file leaves open.

    Raises NotASheet when it cannot be understood at all.
    """
    # Neither mark can begin a sheet: its first row holds headings, and no heading has them.
    first = text.lstrip("\ufeff \t\r\n")[:1]
    if first in ("{", "["):
        return geojson.read_features(text)
    if first == "<":
        return gpx.read_tracks(text, tracks)
    return sheet.read_lines(text)

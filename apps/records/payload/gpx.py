"""Tracks walked with a phone, as GPX, to rows of lines; and rows back to tracks.

Formula: none. Units: degrees of longitude and latitude on WGS 84, heights in metres.
Validity: GPX 1.1, and 1.0, whose tracks are written alike. A track is a line by its name, its
segments joined in their order; times, waypoints and routes are not looked at. A track of more
points than a line may have is thinned, and the page says by how much; a height that some points
lack is kept for none. A document type is refused before anything in it is read: with none there is
no entity to expand and nothing outside the file to fetch.
Source: GPX 1.1 schema (Foster, 2004), http://www.topografix.com/GPX/1/1; XML 1.0 (fifth edition).
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from html import escape
from xml.parsers import expat

from apps.domain.line_path import (
    MOST_POINTS,
    NotAPath,
    Path,
    Point,
    checked_path,
    checked_points,
    thinned,
)
from apps.records.payload.rows import (
    KIND_WORDS,
    KINDS,
    BadCell,
    Fault,
    LineRow,
    NotASheet,
    Sheet,
    number_of,
    text_of,
)
from apps.records.payload.wkt import plain_point
from apps.woods import limits

NAMESPACE = "http://www.topografix.com/GPX/1/1"
TRACK = ("gpx", "trk")
POINT = ("gpx", "trk", "trkseg", "trkpt")
# A day's walk, one point a second; more is no line, and thinning it would hold up the page.
MOST_WALKED = 100_000
# Where text means something; all other text is passed over as it is read.
TEXTS = {(*TRACK, "name"), (*TRACK, "type"), (*POINT, "ele")}


class NoWoodlotChosen(NotASheet):
    """A track's name is a label, and a label names a line only within its woodlot."""

    field = "woodlot"


@dataclass(frozen=True)
class TrackChoice:
    """What a file of tracks leaves open: where they are, what new lines are, and which way.

    `label` stands for the name of a single track; `from_far_end` turns every track round.
    """

    woodlot: str = ""
    kind: str = ""
    label: str = ""
    from_far_end: bool = False


@dataclass
class Track:
    """One track as its file tells it."""

    name: str = ""
    type: str = ""
    segments: int = 0
    points: list[Point] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)


def read_tracks(text: str, choice: TrackChoice) -> Sheet:
    """Read the tracks of a GPX file as lines of one woodlot. Raises NotASheet."""
    tracks = _Walk(text).tracks
    if not tracks:
        raise NotASheet("There is no track in this file. Waypoints and routes are no walked line.")
    if not choice.woodlot:
        raise NoWoodlotChosen("Choose the woodlot these tracks were walked in.")
    if choice.label and len(tracks) > 1:
        raise NotASheet(f"One label cannot stand for {len(tracks)} tracks. Leave it empty.")
    rows: dict[int, LineRow] = {}
    faults: list[Fault] = []
    notices: list[str] = []
    for number, track in enumerate(tracks, start=1):
        row, wrong, said = _line(track, choice)
        faults += [Fault(number, column, reason) for column, reason in wrong]
        notices += [f"Track {number}, {track.name or 'without a name'}: {one}." for one in said]
        if row is not None:
            rows[number] = row
    return Sheet(
        rows,
        frozenset({"geometry"}),
        None,
        tuple(faults),
        told_if_new=frozenset({"kind"}),
        notices=tuple(notices),
        counts="track",
    )


def write_tracks(rows: Iterable[LineRow], woodlot: str) -> str:
    """A GPX file with one track for each mapped line, that read_tracks reads back unchanged."""
    tracks = "".join(_track(row, row.geometry) for row in rows if row.geometry)
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<gpx version="1.1" creator="Thawline" xmlns="{NAMESPACE}">\n'
        f"<metadata><name>{escape(woodlot)}</name></metadata>\n{tracks}</gpx>\n"
    )


def _track(row: LineRow, path: Path) -> str:
    points = "\n".join(_trkpt(plain_point(point)) for point in path)
    return (
        f"<trk><name>{escape(row.label)}</name><type>{KIND_WORDS[row.kind]}</type><trkseg>\n"
        f"{points}\n</trkseg></trk>\n"
    )


def _trkpt(numbers: list[str]) -> str:
    longitude, latitude, *height = numbers
    inside = f"<ele>{height[0]}</ele>" if height else ""
    return f'<trkpt lat="{latitude}" lon="{longitude}">{inside}</trkpt>'


def _line(
    track: Track, choice: TrackChoice
) -> tuple[LineRow | None, list[tuple[str, str]], list[str]]:
    """The row a track makes, what is wrong with it by column, and what should be said of it."""
    wrong = [("trkpt", reason) for reason in track.wrong[:1]]
    label = choice.label or track.name.strip()
    if bad := _no_label(label):
        return None, [*wrong, ("name", bad)], []
    kind = choice.kind or KINDS.get(track.type.strip().casefold(), "")
    row = LineRow(choice.woodlot, label, kind)
    if wrong:
        return row, wrong, []
    try:
        path, said = _path(track)
    except NotAPath as bad:
        return row, [("trkpt", str(bad))], []
    turned = tuple(reversed(path)) if choice.from_far_end else path
    return LineRow(choice.woodlot, label, kind, geometry=turned), [], said


def _no_label(label: str) -> str:
    """Why a name cannot be the label of a line; empty when it can."""
    if not label:
        return "is empty; it must be the label of the line"
    try:
        text_of(limits.LABEL_LETTERS)(label)
    except BadCell as bad:
        return str(bad)
    return ""


def _path(track: Track) -> tuple[Path, list[str]]:
    points, said = track.points, []
    if track.segments > 1:
        said.append(f"its {track.segments} segments are joined in their order")
    if 0 < sum(len(point) > 2 for point in points) < len(points):
        points = [point[:2] for point in points]
        said.append("some points have no height, so none is kept")
    if len(points) > MOST_WALKED:
        raise NotAPath(f"more than {MOST_WALKED:,} points were walked; split the track")
    # Each point before any is dropped: one that lies wrong is named and never thinned away.
    points = list(checked_points(points))
    if len(points) > MOST_POINTS:
        kept, off_m = thinned(points)
        said.append(
            f"of its {len(points):,} points {len(kept):,} are kept, and no other lies more than "
            f"{off_m:.1f} m off the line through them"
        )
        points = [points[place] for place in kept]
    return checked_path(points), said


class _Walk:
    """Reads a GPX file from its beginning to its end, keeping its tracks."""

    def __init__(self, text: str) -> None:
        self.tracks: list[Track] = []
        self._path: list[str] = []
        self._text: list[str] = []
        self._height = ""
        self._at: tuple[float, float] | None = None
        self._parser = expat.ParserCreate(namespace_separator=" ")
        self._parser.StartDoctypeDeclHandler = _refuse_document_type
        self._parser.StartElementHandler = self._start
        self._parser.EndElementHandler = self._end
        self._parser.CharacterDataHandler = self._characters
        self._parser.buffer_text = True
        try:
            # As text, so that the file's own word on its encoding is not needed any more.
            self._parser.Parse(text.removeprefix("\ufeff").lstrip(), True)
        except expat.ExpatError as error:
            raise NotASheet(f"The GPX file cannot be read: {error}.") from error

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        local = name.rpartition(" ")[2]
        if not self._path and local != "gpx":
            raise NotASheet(f"This is XML, but no GPX: it begins with {local[:40]}.")
        self._path.append(local)
        self._text = []
        place = tuple(self._path)
        if place == TRACK:
            self.tracks.append(Track())
        elif place == POINT[:-1]:
            self.tracks[-1].segments += 1
        elif place == POINT:
            self._height = ""
            self._at = self._position(attributes)

    def _position(self, attributes: dict[str, str]) -> tuple[float, float] | None:
        try:
            return number_of(attributes["lon"].strip()), number_of(attributes["lat"].strip())
        except KeyError:
            self._blame("has no lat or no lon")
        except BadCell as bad:
            self._blame(str(bad))
        return None

    def _blame(self, reason: str) -> None:
        line = self._parser.CurrentLineNumber
        self.tracks[-1].wrong.append(f"a point {reason} (line {line} of the file)")

    def _characters(self, text: str) -> None:
        if tuple(self._path) in TEXTS:
            self._text.append(text)

    def _end(self, name: str) -> None:
        place, text = tuple(self._path), "".join(self._text)
        self._path.pop()
        if place == (*TRACK, "name"):
            self.tracks[-1].name = text
        elif place == (*TRACK, "type"):
            self.tracks[-1].type = text
        elif place == (*POINT, "ele"):
            self._height = text.strip()
        elif place == POINT and self._at is not None:
            self._keep(self._at)

    def _keep(self, at: tuple[float, float]) -> None:
        try:
            height = (number_of(self._height),) if self._height else ()
        except BadCell as bad:
            self._blame(str(bad))
            return
        self.tracks[-1].points.append((*at, *height))


def _refuse_document_type(*declared: object) -> None:
    raise NotASheet("The file declares a document type. No GPX file needs one, so it is not read.")

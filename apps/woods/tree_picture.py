"""The tree of lines as a picture, for woods that nobody has mapped.

Each line that others run into is a pipe drawn from its pump end on the left; laterals without
branches hang from it as ribs, folded onto further stretches of the same pipe where they are many.
Lengths mean nothing here. Everything is laid out in units of a narrow screen, 360 across, so that
a phone shows the letters at their own size.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from apps.woods.models import Line, PumpHouse
from apps.woods.queries import TreeLine
from apps.woods.tree import TapsTotal

WIDTH = 360
EDGE = 6
STEP = 14
# Deeper branches keep this indent: their pipes would shrink to nothing.
DEEPEST = 8
TITLE = 22
PIPE_TO_RIBS = 46
RIB = 10
LETTER = 7.2
RIB_LEAST = 42
# About what a screen shows at once, and a third of a printed page: pictures stand in columns.
TALLEST = 560
PIPE_WIDTHS = {"wet": 6, "dry": 6, "main": 4, "lateral": 2}


@dataclass(frozen=True)
class Stroke:
    """A stretch of pipe, of the kind that `kind` names."""

    kind: str
    x1: float
    y1: float
    x2: float
    y2: float

    @property
    def width(self) -> int:
        return PIPE_WIDTHS[self.kind]


@dataclass(frozen=True)
class Words:
    """Letters in the picture; `sort` is label, detail or rib."""

    sort: str
    x: float
    y: float
    text: str


@dataclass
class TreePicture:
    """One line that drains straight to the pump house, with what runs into it, or a part of it."""

    title: str
    strokes: list[Stroke] = field(default_factory=list)
    words: list[Words] = field(default_factory=list)
    height: float = 0
    width: int = WIDTH

    def pipe(self, kind: str, left: float, y: float) -> None:
        self.strokes.append(Stroke(kind, left, y, WIDTH - EDGE, y))

    def down(self, kind: str, x: float, y: float, to_y: float) -> None:
        self.strokes.append(Stroke(kind, x, y, x, to_y))


@dataclass(frozen=True)
class HousePictures:
    """A pump house, or none, and the pictures of each line that drains to it by itself."""

    house: PumpHouse | None
    pictures: list[TreePicture]


def tree_pictures(rows: Sequence[TreeLine]) -> list[HousePictures]:
    """Pictures of a woodlot's tree in the order of its rows, house by house, none last."""
    found: dict[PumpHouse | None, list[TreePicture]] = defaultdict(list)
    for stand in _stands(rows):
        found[stand[0].pump_house].extend(_pictures(stand))
    order = sorted(found, key=lambda house: (house is None, house.name if house else ""))
    return [HousePictures(house, found[house]) for house in order]


def _stands(rows: Iterable[TreeLine]) -> list[list[TreeLine]]:
    """The rows cut before each line that runs into no other."""
    stands: list[list[TreeLine]] = []
    for row in rows:
        if not row.depth:
            stands.append([])
        stands[-1].append(row)
    return stands


def _pictures(stand: list[TreeLine]) -> list[TreePicture]:
    """One line with all that runs into it; where that is much, in several pictures."""
    root = stand[0]
    pictures = [TreePicture(_said(root))]
    ribs: dict[int | None, list[TreeLine]] = defaultdict(list)
    for row in stand:
        if _is_rib(row):
            ribs[row.line.parent_id].append(row)
    pipes: dict[int, float] = {}
    for row in stand:
        if _is_rib(row):
            continue
        # Cut only between branches of the first line, whose pipe then begins the next picture.
        if row.depth == 1 and pictures[-1].height > TALLEST:
            pictures.append(TreePicture(f"{root.line.label}, continued"))
            _draw_pipe(pictures[-1], root, pipes, "continued")
        _draw_pipe(pictures[-1], row, pipes)
        _draw_ribs(pictures[-1], row, ribs[row.line.pk], pipes[row.line.pk])
    return pictures


def _said(root: TreeLine) -> str:
    kind = root.line.get_kind_display().lower()
    below = f", with {root.total.lines - 1} running into it" if root.has_branches else ""
    return f"{root.line.label}, {kind}, {_taps(root.total)}{below}"


def _is_rib(row: TreeLine) -> bool:
    return bool(row.depth) and row.line.kind == Line.Kind.LATERAL and not row.has_branches


def _left(row: TreeLine) -> float:
    return EDGE + STEP * min(row.depth, DEEPEST)


def _draw_pipe(
    picture: TreePicture, row: TreeLine, pipes: dict[int, float], detail: str = ""
) -> None:
    left, kind = _left(row), row.line.kind
    y = pipes[row.line.pk] = picture.height + TITLE
    picture.pipe(kind, left, y)
    above = pipes.get(row.line.parent_id or 0)
    if above is not None:
        picture.down(kind, left, above, y)
    # The letters stand on the pipe, clear of the one that comes down to it.
    picture.words.append(Words("label", left + 6, y - 6, row.line.label))
    beside = left + 6 + LETTER * (len(row.line.label) + 1.5)
    detail = detail or f"{row.line.get_kind_display().lower()}, {_taps(row.total)}"
    # A long label leaves no room; the table has it all.
    if beside + LETTER * len(detail) <= WIDTH:
        picture.words.append(Words("detail", beside, y - 6, detail))
    picture.height = y + EDGE


def _draw_ribs(picture: TreePicture, row: TreeLine, ribs: list[TreeLine], y: float) -> None:
    first = x = _left(row) + 2 * STEP
    for rib in ribs:
        room = max(RIB_LEAST, LETTER * (len(rib.line.label) + 1))
        if x > first and x + room > WIDTH - EDGE:
            x = first
            # The same pipe, folded: on from its far end, and back to where ribs begin.
            picture.down(row.line.kind, WIDTH - EDGE, y, y + PIPE_TO_RIBS)
            y += PIPE_TO_RIBS
            picture.pipe(row.line.kind, first - STEP / 2, y)
        picture.down("lateral", x + 4, y, y + RIB)
        picture.words.append(Words("rib", x, y + RIB + 12, rib.line.label))
        picture.words.append(Words("detail", x, y + RIB + 25, _short_taps(rib.own)))
        x += room
    if ribs:
        picture.height = y + PIPE_TO_RIBS - EDGE


def _taps(total: TapsTotal) -> str:
    if not total.known:
        return "taps unknown"
    return f"{total.taps:,} taps" if total.complete else f"{total.taps:,} taps and more uncounted"


def _short_taps(own: TapsTotal) -> str:
    return f"{own.taps:,}" if own.known else "?"

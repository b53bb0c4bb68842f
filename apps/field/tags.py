"""Tags for the valves: a code that is a plain link into the app, and the line in letters beside it.

The code is a QR symbol (ISO/IEC 18004) with error correction M or better and a quiet zone of four
modules, drawn as SVG.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import segno
from django.urls import reverse

from apps.field.queries import woodlot_slugs
from apps.woods.models import Line, Woodlot
from apps.woods.queries import label_order

QUIET_ZONE_MODULES = 4
# Two beside each other, five above each other: as many as a letter and an A4 sheet both hold.
TAGS_OF_A_PAGE = 10


@dataclass(frozen=True)
class Tag:
    """What one tag shows."""

    line: Line
    link: str

    @property
    def code(self) -> str:
        return qr_image(self.link)

    @property
    def link_shown(self) -> str:
        """For typing where no camera will read: without what a browser adds by itself."""
        return self.link.partition("://")[2]


def qr_image(text: str) -> str:
    """A picture of the code, as an address for `img`."""
    # Never the micro kind, which the cameras of phones do not read.
    drawn = segno.make_qr(text, error="m")
    return drawn.svg_data_uri(border=QUIET_ZONE_MODULES, omitsize=True, light="#fff")


def tags_of(woodlot: Woodlot, base: str, only: str = "") -> list[Tag]:
    """A tag for each line of the woodlot, or for those whose labels are listed, by label."""
    slug = woodlot_slugs()[woodlot.pk]
    lines = sorted(woodlot.lines.all(), key=lambda line: label_order(line.label))
    return [
        Tag(line, base + reverse("field:phone_line", args=[slug, line.label]))
        for line in _chosen(lines, only)
    ]


def in_pages(tags: Sequence[Tag]) -> list[Sequence[Tag]]:
    return [tags[start : start + TAGS_OF_A_PAGE] for start in range(0, len(tags), TAGS_OF_A_PAGE)]


def _chosen(lines: Iterable[Line], only: str) -> list[Line]:
    wanted = {word.casefold() for word in re.split(r"[,;\s]+", only) if word}
    # A label may have a space in it, so the whole text is tried as one too.
    wanted.add(only.strip().casefold())
    return [line for line in lines if not only.strip() or line.label.casefold() in wanted]

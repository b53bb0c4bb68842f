"""One line as it stands today: taps, last look, reading, and where it belongs in the walk."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from apps.domain.leak_ranking import RankedLine
from apps.leaks.models import LeakCheck
from apps.woods import tree
from apps.woods.models import Line, PumpHouse

RANKED = "ranked"
NO_READING = "no_reading"
AT_TARGET = "at_target"
NO_TAPS = "no_taps"
FROZEN = "frozen"
GAUGE_FAULT = "gauge_fault"

# In the order they are shown: what is worth a walk first, what cannot be judged last.
GROUPS = {
    RANKED: "Worth walking, most sap per hour first",
    NO_READING: "No reading yet, longest unwalked first",
    AT_TARGET: "At target or above: nothing to gain by their reading",
    NO_TAPS: "Cannot be ranked: no taps counted or planned",
    FROZEN: "Frozen when last seen: no verdict",
    GAUGE_FAULT: "Set aside: the gauge cannot be right",
}


@dataclass(frozen=True)
class LineTaps:
    """Taps on a line and on all that runs into it, and where the number came from."""

    taps: int
    lines_counted: int
    lines_planned: int
    lines_unknown: int

    @property
    def known(self) -> bool:
        return self.lines_counted + self.lines_planned > 0

    @property
    def source(self) -> str:
        # No line known: a sum of nought would be read as a line without taps.
        if not self.known:
            return "unknown"
        parts = [
            ("set", self.lines_counted),
            ("planned", self.lines_planned),
            ("unknown", self.lines_unknown),
        ]
        said = [(word, lines) for word, lines in parts if lines]
        if len(said) == 1:
            return said[0][0]
        return ", ".join(f"{n} line{'' if n == 1 else 's'} {word}" for word, n in said)

    @property
    def words(self) -> str:
        return f"{self.taps:,} taps ({self.source})" if self.known else "taps unknown"


@dataclass(frozen=True)
class LineStanding:
    """Everything the pages say about one line; `ranked` only where it was ranked."""

    line: Line
    pump_house: PumpHouse | None
    taps: LineTaps
    latest: LeakCheck | None
    walked_at: datetime | None
    days_since_walked: int | None
    reading_kpa: float | None
    reading_at: datetime | None
    days_since_reading: int | None
    ceiling_kpa: float
    target_kpa: float
    walk_minutes: float
    fix_minutes: float
    open_leaks: int
    group: str
    ranked: RankedLine | None
    rank: int | None
    # Things that lie across it: who walks there wants the saw along, or another line first.
    across: int = 0

    @property
    def minutes(self) -> float:
        return self.walk_minutes + self.fix_minutes

    @property
    def walked(self) -> str:
        """How long since somebody gave a verdict, in words."""
        return days_in_words("walked", self.days_since_walked)

    @property
    def last_look(self) -> str:
        """The newest state, and the walk before it where that state is no verdict."""
        # Nothing seen is said so; it is not the same as seen and well.
        if self.latest is None:
            return "never walked"
        if self.latest.state == LeakCheck.State.FROZEN:
            return f"frozen · {self.walked}"
        return days_in_words(self.latest.get_state_display().lower(), self.days_since_walked)

    @property
    def group_title(self) -> str:
        return GROUPS[self.group]


def days_in_words(what: str, days: int | None) -> str:
    """'walked 3 days ago'; a day yet to come is a clock that was wrong, and is called so."""
    if days is None:
        return f"never {what}"
    if days < 0:
        return f"{what} on a day still to come: check that clock"
    return f"{what} {('today', 'yesterday')[days] if days < 2 else f'{days} days ago'}"


def rolled_taps(
    lines: Iterable[Line], counted: Mapping[int, int], planned: Mapping[int, int]
) -> dict[int, tuple[LineTaps, int | None]]:
    """Each line's taps with all that drains through it, and the pump house it drains to.

    A leak low on a conductor takes vacuum from everything above it, so the whole branch counts.
    """
    stems = [
        tree.Stem(line.pk, line.parent_id, line.pump_house_id, _own(line.pk, counted, planned))
        for line in lines
    ]
    # The same tree with the counted lines alone: the difference is what only a plan speaks for.
    set_only = [tree.Stem(s.line_id, s.parent_id, None, counted.get(s.line_id)) for s in stems]
    set_lines = {b.line_id: b.total.lines_counted for b in tree.grow(set_only)}
    return {
        branch.line_id: (
            LineTaps(
                taps=branch.total.taps,
                lines_counted=set_lines[branch.line_id],
                lines_planned=branch.total.lines_counted - set_lines[branch.line_id],
                lines_unknown=branch.total.lines_uncounted,
            ),
            branch.pump_house_id,
        )
        for branch in tree.grow(stems)
    }


def _own(line_id: int, counted: Mapping[int, int], planned: Mapping[int, int]) -> int | None:
    # What was set goes before what was meant to be, line by line.
    return counted.get(line_id, planned.get(line_id))

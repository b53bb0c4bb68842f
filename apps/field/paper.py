"""The paper form of a woodlot and its twin on the desk: the same lines in the same order."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from uuid import UUID, uuid5

from django.db.models import Count, QuerySet

from apps.leaks import queries as leaks
from apps.leaks.models import Cause, LeakCheck
from apps.leaks.standing import LineStanding
from apps.operation.queries import Constants
from apps.woods.models import Woodlot
from apps.woods.queries import label_order

STATE_OF_KEY = {
    "T": LeakCheck.State.TIGHT,
    "F": LeakCheck.State.LEAK_FIXED,
    "L": LeakCheck.State.LEAK_LEFT,
    "Z": LeakCheck.State.FROZEN,
}
# By number on the paper, and a sheet may lie in a pocket for weeks: new ones go to the end.
CAUSES = (
    Cause.CHEW, Cause.LIMB, Cause.SPOUT, Cause.SADDLE, Cause.FITTING, Cause.TEE, Cause.SAG,
    Cause.DEER, Cause.UNKNOWN,
)  # fmt: skip
WALK, LABEL = "walk", "label"
ORDERS = {WALK: "as on the phone: what is worth a walk first", LABEL: "by line number"}
# What a letter or an A4 sheet holds in one column, and in two.
ROWS_OF_A_COLUMN = 36


@dataclass(frozen=True)
class StateKey:
    """One of the four states by its letter."""

    key: str
    state: str
    words: str


def state_keys() -> list[StateKey]:
    return [StateKey(key, str(state), str(state.label)) for key, state in STATE_OF_KEY.items()]


def cause_numbers() -> list[tuple[int, str, str]]:
    """Number on the paper, code, and words."""
    return [(n, str(cause), str(cause.label)) for n, cause in enumerate(CAUSES, start=1)]


@dataclass(frozen=True)
class Sheet:
    """The lines of one woodlot in the order of one printed sheet."""

    woodlot: Woodlot
    order: str
    rows: Sequence[LineStanding]

    @property
    def order_words(self) -> str:
        return ORDERS[self.order]

    @property
    def pages(self) -> list[list[Sequence[LineStanding]]]:
        """As printed: one column as long as it fits, else two to a page."""
        cuts = [*range(0, len(self.rows), ROWS_OF_A_COLUMN), len(self.rows)]
        columns = [self.rows[start:end] for start, end in pairwise(cuts)]
        return [columns[n : n + 2] for n in range(0, len(columns), 2)]

    @property
    def is_wide(self) -> bool:
        """Whether one column leaves room for notes."""
        return len(self.rows) <= ROWS_OF_A_COLUMN


def sheet_of(
    woodlot: Woodlot, *, order: object, season: int, now: datetime, constants: Constants
) -> Sheet:
    """Every line of the woodlot once, in the order asked for; the phone's where none is known."""
    rows = leaks.ranked_lines(season=season, now=now, constants=constants, woodlot=woodlot)
    if order == LABEL:
        rows.sort(key=lambda row: label_order(row.line.label))
    return Sheet(woodlot, LABEL if order == LABEL else WALK, rows)


def check_uuid(sheet: UUID, line_id: int) -> UUID:
    """One identifier for each row of one page: the page sent twice names the same checks."""
    return uuid5(sheet, f"line {line_id}")


def typed_checks(woodlot: Woodlot, sheet: UUID) -> list[LeakCheck]:
    """What one typed page has recorded, taken back or not, by label."""
    uuids = [check_uuid(sheet, pk) for pk in woodlot.lines.values_list("pk", flat=True)]
    checks = LeakCheck.objects.filter(uuid__in=uuids).select_related("line", "crew")
    return sorted(checks, key=lambda check: label_order(check.line.label))


def woodlots_with_lines() -> QuerySet[Woodlot]:
    return Woodlot.objects.annotate(line_count=Count("lines")).order_by("name")

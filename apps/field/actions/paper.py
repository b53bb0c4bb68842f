"""A sheet of paper typed in at the desk: all of its rows, or none."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction

from apps.leaks.actions import SentBefore, record_check
from apps.operation.models import CrewMember
from apps.woods.models import Line


class SheetRefused(Exception):
    """A row is at odds with what is recorded already; nothing of the sheet was written."""

    def __init__(self, line: Line, reason: str) -> None:
        super().__init__(f"{line.label}: {reason}")
        self.line = line
        self.reason = reason


@dataclass(frozen=True)
class SheetRow:
    """One line as it was written down; `found` holds the rest by the names of `record_check`."""

    uuid: UUID
    line: Line
    state: str
    found: dict[str, Any]


@transaction.atomic
def record_sheet(
    *, rows: Sequence[SheetRow], observed_at: datetime, received_at: datetime, crew: CrewMember
) -> int:
    """Write every row as a check of that moment; how many were new. Sent again it writes nothing.

    Raises SheetRefused when a row's identifier is a check of another state.
    """
    new = 0
    # Always in the same order: two sheets at once must not wait for each other's lines.
    for row in sorted(rows, key=lambda row: row.line.pk):
        try:
            recorded = record_check(
                uuid=row.uuid,
                line=row.line,
                state=row.state,
                observed_at=observed_at,
                received_at=received_at,
                crew=crew,
                **row.found,
            )
        except SentBefore as refusal:
            raise SheetRefused(row.line, str(refusal)) from refusal
        new += recorded.is_new
    return new

from collections.abc import Callable
from typing import Any

from apps.field import payload
from apps.field.actions import rows
from apps.field.actions.rows import Seen
from apps.field.actions.voids import void

WRITERS: dict[type[payload.Body], Callable[[Seen, Any], None]] = {
    payload.Check: rows.keep_check,
    payload.Void: void,
    payload.After: rows.keep_after,
    payload.Tally: rows.keep_tally,
    payload.Pull: rows.keep_pull,
    payload.Dip: rows.keep_dip,
    payload.Gauge: rows.keep_gauge,
    payload.Obstruction: rows.keep_obstruction,
    payload.Clear: rows.keep_clear,
    payload.Note: rows.keep_note,
}


def write(seen: Seen, body: payload.Body) -> None:
    """Raises Refused, and leaves what it began to the transaction around it."""
    WRITERS[type(body)](seen, body)

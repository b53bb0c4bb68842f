"""JSON read so that a fault inside one record stays inside that record.

Formula: none. Units: none.
Validity: what JSON allows and a database cannot keep (NUL, lone surrogates, numbers without end,
the same name twice) is marked where it stands, for `unkeepable` to find with its record.
Source: RFC 8259 (2017); sections 4, 6 and 8.2 name these as what readers differ on.
"""

import json
import math
import re
from typing import Any

MOST_LEVELS = 4
MOST_RECORD_BYTES = 8 * 1024
# Beyond it a whole number does not survive a phone's own arithmetic.
LARGEST_WHOLE = 2**53
# A page cannot be asked to convert a million digits.
MOST_DIGITS = 20
NOT_TEXT = re.compile("[\0\ud800-\udfff]")


class NotJson(ValueError):
    """The bytes are no JSON at all."""


class Marked:
    """Stands where the text held something that cannot be kept; `why` is said of its record."""

    def __init__(self, why: str) -> None:
        self.why = why


def loads(body: bytes) -> Any:
    """The value the bytes spell, with Marked in place of what no record may hold."""
    try:
        return json.loads(
            body.decode("utf-8"),
            parse_constant=lambda word: Marked(f"{word} is no number."),
            parse_int=_whole,
            parse_float=_decimal,
            object_pairs_hook=_object,
        )
    except (ValueError, RecursionError) as error:
        raise NotJson("The body is not JSON.") from error


def _whole(digits: str) -> int | Marked:
    if len(digits) > MOST_DIGITS:
        return Marked("A number in it is too large.")
    return int(digits)


def _decimal(digits: str) -> float | Marked:
    value = float(digits)
    return value if math.isfinite(value) else Marked("A number in it is too large.")


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any] | Marked:
    told = dict(pairs)
    if len(told) < len(pairs):
        # Which of the two was meant nobody can say.
        return Marked("The same name stands in it twice.")
    return told


def unkeepable(value: Any, levels: int = MOST_LEVELS) -> str:
    """Why a value cannot be kept as it is; empty when it can."""
    if isinstance(value, Marked):
        return value.why
    if isinstance(value, str) and NOT_TEXT.search(value):
        return "A text in it holds characters that cannot be kept."
    if isinstance(value, int) and abs(value) > LARGEST_WHOLE:
        return "A number in it is too large."
    if not isinstance(value, (dict, list)):
        return ""
    if levels == 0:
        return f"It is nested more than {MOST_LEVELS} levels deep."
    inside = [*value.keys(), *value.values()] if isinstance(value, dict) else value
    return next((why for one in inside if (why := unkeepable(one, levels - 1))), "")


def is_too_long(record: dict[str, Any]) -> bool:
    return len(json.dumps(record, ensure_ascii=False).encode()) > MOST_RECORD_BYTES

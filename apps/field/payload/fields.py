"""One value of a record at a time, by its own type or refused by its name.

Formula: none. Units: those the key ends on.
Validity: a key that is absent or null is not said. True is no number and 3.0 is no whole number,
for a page that sends such has a fault that would show elsewhere.
Source: RFC 9562 (2024), section 4, for the text form of a UUID.
"""

import re
from collections.abc import Mapping
from typing import Any
from uuid import UUID

UUID_TEXT = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}", re.IGNORECASE | re.ASCII)
LARGEST_KEY = 2**31 - 1
# What a person knows each key as; a key without an entry is nothing a person typed.
WORDS = {
    "after_kpa": "The reading after",
    "at": "The time it was saved",
    "before_kpa": "The reading before",
    "cause": "The cause",
    "depth_mm": "The depth",
    "drops": "The place, in drops,",
    "finishes": "Whether the line is finished",
    "line": "The line",
    "note": "The note",
    "of": "The record it is about",
    "parts": "The parts used",
    "pos": "The position",
    "pump_house": "The pump house",
    "state": "The state",
    "tank": "The tank",
    "taps": "The number of taps",
    "text": "The text",
    "vacuum_kpa": "The reading",
    "woodlot": "The woodlot",
    "work": "The kind of work",
}


class BadField(ValueError):
    """One value that cannot be taken: its key, and why in a whole sentence."""

    def __init__(self, field: str, what: str) -> None:
        self.field = field
        self.reason = f"{WORDS.get(field, f'“{field}”')} {what}"
        super().__init__(self.reason)


class Fields:
    """The values of one object; each is asked for by its type and limits."""

    def __init__(self, told: Mapping[str, Any]) -> None:
        self._told = told

    def has(self, key: str) -> bool:
        return self._told.get(key) is not None

    def _needed(self, key: str) -> Any:
        if not self.has(key):
            raise BadField(key, "is missing.")
        return self._told[key]

    def whole(self, key: str, low: int, high: int) -> int:
        value = self._needed(key)
        if not is_whole(value) or not low <= value <= high:
            raise BadField(key, f"must be a whole number from {low} to {high}.")
        return int(value)

    def whole_if_said(self, key: str, low: int, high: int) -> int | None:
        return self.whole(key, low, high) if self.has(key) else None

    def key(self, key: str) -> int:
        """The number of a row; whether there is such a row the database knows."""
        value = self._needed(key)
        if not is_whole(value) or not 1 <= value <= LARGEST_KEY:
            raise BadField(key, "is not one this server knows.")
        return int(value)

    def key_if_said(self, key: str) -> int | None:
        return self.key(key) if self.has(key) else None

    def number(self, key: str, low: float, high: float) -> float:
        value = self._needed(key)
        if not is_number(value) or not low <= value <= high:
            raise BadField(key, f"must be a number from {low:g} to {high:g}.")
        return float(value)

    def number_if_said(self, key: str, low: float, high: float) -> float | None:
        return self.number(key, low, high) if self.has(key) else None

    def yes(self, key: str) -> bool:
        value = self._needed(key) if self.has(key) else False
        if not isinstance(value, bool):
            raise BadField(key, "must be yes or no.")
        return value

    def text(self, key: str, most: int) -> str:
        """Without blanks around it; empty when it was not said."""
        value = self._needed(key) if self.has(key) else ""
        if not isinstance(value, str):
            raise BadField(key, "must be text.")
        if len(value) > most:
            raise BadField(key, f"is longer than {most} characters.")
        return value.strip()

    def code(self, key: str) -> str:
        """A short word out of a list that the database knows."""
        value = self._needed(key)
        if not isinstance(value, str) or not 1 <= len(value) <= 20:
            raise BadField(key, "is none that this server knows.")
        return value

    def mapping(self, key: str) -> dict[str, Any]:
        value = self._told.get(key)
        if value is not None and not isinstance(value, dict):
            raise BadField(key, "must be counted by kind.")
        return value or {}

    def uuid(self, key: str) -> UUID:
        value = self._needed(key)
        if not isinstance(value, str) or not UUID_TEXT.fullmatch(value):
            raise BadField(key, "is no identifier.")
        return UUID(value)


def is_whole(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool)


def is_number(value: object) -> bool:
    return is_whole(value) or isinstance(value, float)

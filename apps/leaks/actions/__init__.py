"""Writing down what was seen, and taking it back; nothing is ever deleted."""

from apps.leaks.actions.checks import (
    Recorded,
    add_reading_after,
    record_check,
    take_back_reading_after,
    void_check,
)
from apps.leaks.actions.errors import AnotherReading, NotYours, ReadingAlreadySet, SentBefore
from apps.leaks.actions.gauges import record_gauge_reading, void_gauge_reading
from apps.leaks.actions.obstructions import (
    clear_obstruction,
    record_obstruction,
    void_clearing,
    void_obstruction,
)
from apps.leaks.actions.photos import attach_photo

__all__ = [
    "AnotherReading",
    "NotYours",
    "ReadingAlreadySet",
    "Recorded",
    "SentBefore",
    "add_reading_after",
    "attach_photo",
    "clear_obstruction",
    "record_check",
    "record_gauge_reading",
    "record_obstruction",
    "take_back_reading_after",
    "void_check",
    "void_clearing",
    "void_gauge_reading",
    "void_obstruction",
]

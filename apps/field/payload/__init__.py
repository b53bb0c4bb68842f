"""What a phone posts, from bytes to frozen records or to refusals that name field and reason.

Formula: none.
Units: as the keys say, kPa and mm; times in ms since 1970-01-01 UTC by the phone's own clock.
Validity: format 1, at most 100 records and 256 KB of UTF-8 JSON. A record is judged by itself: one
that cannot be read takes no other with it.
Source: RFC 8259 (2017) for JSON, read more strictly than it asks: no name twice in an object, no
number that JSON has not. RFC 9562 (2024) for the text form of a UUID.
"""

from apps.field.payload.post import MOST_BYTES, MOST_RECORDS, BadPost, Post, TooMuch, read_post
from apps.field.payload.records import (
    After,
    BadRecord,
    Body,
    Check,
    Clear,
    Dip,
    Gauge,
    Note,
    Obstruction,
    Place,
    Pull,
    Record,
    Tally,
    Unreadable,
    Void,
)

__all__ = [
    "MOST_BYTES",
    "MOST_RECORDS",
    "After",
    "BadPost",
    "BadRecord",
    "Body",
    "Check",
    "Clear",
    "Dip",
    "Gauge",
    "Note",
    "Obstruction",
    "Place",
    "Post",
    "Pull",
    "Record",
    "Tally",
    "TooMuch",
    "Unreadable",
    "Void",
    "read_post",
]

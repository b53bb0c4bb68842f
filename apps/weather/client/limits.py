"""How long to stay away after a 429.

Formula: by the window the reply's reason names: minute, now + 70 s; hour, the next full UTC
hour; day, 00:05 UTC tomorrow; concurrent requests, now + 30 s. A reason that names none gives
the word to a Retry-After under six hours, else fifteen minutes. Hour and day get some seconds
on top, so that not everybody comes back at once.
Units: seconds; times aware UTC.
Source: Open-Meteo server source, RateLimiter.swift (2026): windows are cleared on the UTC clock
and no Retry-After is sent. Retry-After: RFC 9110 (2022) section 10.2.3.
"""

from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime

LONGEST_RETRY_AFTER = timedelta(hours=6)
USUAL_WAIT = timedelta(minutes=15)


def not_before(
    reason: str, retry_after: str | None, now: datetime, jitter_seconds: int
) -> datetime:
    """The moment from which asking again is polite."""
    jitter = timedelta(seconds=jitter_seconds)
    words = reason.lower()
    if "concurrent" in words:
        return now + timedelta(seconds=30)
    if "minute" in words:
        return now + timedelta(seconds=70)
    if "hour" in words:
        full_hour = now.replace(minute=0, second=0, microsecond=0)
        return full_hour + timedelta(hours=1) + jitter
    if "dai" in words or "day" in words:
        midnight = now.replace(hour=0, minute=5, second=0, microsecond=0)
        return midnight + timedelta(days=1) + jitter
    return now + _wait(retry_after, now)


def _wait(retry_after: str | None, now: datetime) -> timedelta:
    """Seconds or an HTTP date; anything else, or too long, is the usual wait."""
    try:
        if retry_after is None:
            return USUAL_WAIT
        if retry_after.strip().isdigit():
            wait = timedelta(seconds=int(retry_after))
        else:
            wait = parsedate_to_datetime(retry_after).astimezone(UTC) - now
    except (ValueError, OverflowError):
        return USUAL_WAIT
    return wait if timedelta() < wait < LONGEST_RETRY_AFTER else USUAL_WAIT

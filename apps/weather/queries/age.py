"""How old a forecast is, in words, and whether it may still be shown."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from apps.weather.models import RefreshAttempt

HOUR = timedelta(hours=1)
# Our own limits: how old a forecast may be and still be called so. Common practice, no source.
FRESH, RECENT, OLD = timedelta(hours=9), timedelta(hours=24), timedelta(hours=72)
FEWEST_HOURS_LEFT = 48
_PARTS_OF_DAY = ((5, "night"), (12, "morning"), (17, "afternoon"), (24, "evening"))


@dataclass(frozen=True)
class Staleness:
    """How far a forecast may be trusted: fresh, recent, old or withheld, and the words for it."""

    level: str
    words: str

    @property
    def withheld(self) -> bool:
        return self.level == "withheld"


def staleness(
    now: datetime,
    moment: datetime,
    known_until: datetime | None,
    tz: ZoneInfo,
    how: str = "fetched",
) -> Staleness:
    """By when it was issued or its run began, or else fetched; `how` is the word for that."""
    age = now - moment
    left = known_until - now if known_until else timedelta()
    if age > OLD:
        return Staleness("withheld", f"{_span(age)} old: too old to go by")
    if left < HOUR * FEWEST_HOURS_LEFT:
        return Staleness("withheld", f"{_span(age)} old, with under {FEWEST_HOURS_LEFT} hours left")
    if age > RECENT:
        return Staleness("old", f"{_span(age)} old: go by it with care, and refresh")
    if age > FRESH:
        return Staleness("recent", f"{_from_when(now, moment, tz)}, {_span(age)} old")
    if age < timedelta(minutes=1):
        return Staleness("fresh", f"{how} just now")
    return Staleness("fresh", f"{how} {_span(age)} ago")


def last_attempt(now: datetime) -> RefreshAttempt | None:
    return RefreshAttempt.objects.filter(started_at__lte=now).order_by("-started_at", "-pk").first()


def _span(age: timedelta) -> str:
    """'40 min', '11 h' or '3 days', cut down to what has fully passed."""
    minutes = max(0, int(age.total_seconds() // 60))
    if minutes < 60:
        return f"{minutes} min"
    if minutes < 48 * 60:
        return f"{minutes // 60} h"
    return f"{minutes // (24 * 60)} days"


def _from_when(now: datetime, moment: datetime, tz: ZoneInfo) -> str:
    here, then = now.astimezone(tz), moment.astimezone(tz)
    part = next(name for until, name in _PARTS_OF_DAY if then.hour < until)
    if here.date() == then.date():
        return f"from this {part}" if part != "night" else "from last night"
    # Before dawn belongs to the night that began the evening before.
    return "from last night" if part in {"evening", "night"} else f"from yesterday {part}"

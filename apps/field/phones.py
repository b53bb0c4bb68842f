"""The phones page: which ones there are, in words, and whose clock was off."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Count, Max, QuerySet

from apps.field.models import Phone, Receipt

FLAGS_SHOWN = 30
# The first that fits: every browser names older ones along with itself.
SYSTEMS = (
    ("iPhone", "iPhone"), ("iPad", "iPad"), ("Android", "Android phone"), ("Windows", "Windows"),
    ("Macintosh", "Mac"), ("Linux", "Linux"),
)  # fmt: skip
BROWSERS = (
    ("EdgA/", "Edge"), ("EdgiOS/", "Edge"), ("Edg/", "Edge"), ("FxiOS/", "Firefox"),
    ("Firefox/", "Firefox"), ("SamsungBrowser/", "the maker's own browser"), ("OPR/", "Opera"),
    ("CriOS/", "Chrome"), ("Chrome/", "Chrome"), ("Safari/", "Safari"),
)  # fmt: skip


@dataclass(frozen=True)
class ClockFlag:
    """One record whose time a person should look at."""

    receipt: Receipt

    @property
    def offset_words(self) -> str:
        """How far the phone's own clock was from the time kept."""
        seconds = self.receipt.clock_offset_ms / 1000
        if abs(seconds) < 1:
            return "right"
        # What was added to a slow clock is positive.
        return f"{_span(abs(seconds))} {'slow' if seconds > 0 else 'fast'}"

    @property
    def certain_words(self) -> str:
        return "corrected" if self.receipt.time_is_certain else "uncertain"


def browser_words(user_agent: str) -> str:
    """'iPhone, Safari': enough to tell two phones of one person apart."""
    found = [_first(user_agent, SYSTEMS), _first(user_agent, BROWSERS)]
    return ", ".join(word for word in found if word) or "not known"


def phones() -> QuerySet[Phone]:
    """Every phone, the one seen last first, with how many records it has handed in."""
    counted = Phone.objects.annotate(
        records=Count("receipts"), last_record_at=Max("receipts__received_at")
    )
    return counted.select_related("person", "revoked_by").order_by("-seen_at", "-pk")


def clock_flags(now: datetime, *, days: int = 30) -> list[ClockFlag]:
    """The newest records of this time whose clock was over five minutes off, or is uncertain."""
    recent = Receipt.objects.worth_showing().filter(received_at__gte=now - timedelta(days=days))
    rows = recent.select_related("phone__person", "crew").order_by("-received_at", "-pk")
    return [ClockFlag(receipt) for receipt in rows[:FLAGS_SHOWN]]


def _first(text: str, names: Iterable[tuple[str, str]]) -> str:
    return next((words for mark, words in names if mark in text), "")


def _span(seconds: float) -> str:
    for size, unit in ((86_400, "day"), (3_600, "hour"), (60, "minute"), (1, "second")):
        if seconds >= size:
            count = round(seconds / size, 1 if seconds / size < 10 and size > 60 else None)
            return f"{count:g} {unit}{'' if count == 1 else 's'}"
    return "under a second"

"""Which past winters are wanted, which are here, and how far the fetching has come."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from django.conf import settings
from django.db.models import Count, Max, QuerySet

from apps.weather.models import ArchiveWinter, HistoryFetch
from apps.woods.models import Woodlot

WINTERS = 25
# The archive runs five days behind, and has been seen to slip to seven.
LAG = timedelta(days=8)
# A winter fetched this soon after its end may have come without its last days.
SETTLED = timedelta(days=30)
ASK_AGAIN = timedelta(days=1)


def first_day(winter: int) -> date:
    """A day before 1 December, so that the first local day is whole in every zone."""
    return date(winter - 1, 11, 30)


def last_day(winter: int) -> date:
    """A day after 31 May, as `first_day`."""
    return date(winter, 6, 1)


def wanted(now: datetime, count: int = WINTERS) -> range:
    """Winters that are over and in the archive by now, the newest first; named by their spring."""
    year = now.astimezone(UTC).year
    newest = year if now >= _end(year) + LAG else year - 1
    return range(newest, newest - count, -1)


def missing(
    woodlots: Sequence[Woodlot], now: datetime, count: int = WINTERS
) -> dict[int, list[Woodlot]]:
    """The woodlots still without each winter, or with one that came too soon to be whole."""
    here = {
        (row.woodlot_id, row.winter)
        for row in _pinned().defer("packed")
        if not _to_ask_again(row, now)
    }
    lacking = {
        winter: [lot for lot in woodlots if (lot.pk, winter) not in here]
        for winter in wanted(now, count)
    }
    return {winter: lots for winter, lots in lacking.items() if lots}


@dataclass(frozen=True)
class WinterProgress:
    """How many of the wanted winters of one woodlot are here."""

    woodlot: Woodlot
    wanted: int
    here: int
    fetched_at: datetime | None

    @property
    def whole(self) -> bool:
        return self.here >= self.wanted


def winter_progress(woodlots: Iterable[Woodlot], now: datetime) -> list[WinterProgress]:
    """In the order given, in one question."""
    want = wanted(now)
    rows = _pinned().filter(winter__in=want).values_list("woodlot_id")
    counted = {
        pk: (count, at) for pk, count, at in rows.annotate(count=Count("pk"), at=Max("fetched_at"))
    }
    return [WinterProgress(lot, len(want), *counted.get(lot.pk, (0, None))) for lot in woodlots]


def last_fetch(now: datetime) -> HistoryFetch | None:
    return HistoryFetch.objects.filter(started_at__lte=now).order_by("-started_at", "-pk").first()


def _pinned() -> QuerySet[ArchiveWinter]:
    return ArchiveWinter.objects.filter(model=settings.WEATHER_ARCHIVE_MODEL)


def _to_ask_again(row: ArchiveWinter, now: datetime) -> bool:
    too_soon = row.fetched_at < _end(row.winter) + SETTLED
    return row.known_hours < row.hours and too_soon and now >= row.fetched_at + ASK_AGAIN


def _end(winter: int) -> datetime:
    return datetime.combine(last_day(winter), time(), UTC) + timedelta(days=1)

"""Which seasons forecasts are kept of, and how many mornings thinning with age has left of each."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

from apps.domain.tapping import season_of
from apps.weather.keeping import KEEP_ALL, KEEP_DAILY
from apps.weather.models import ForecastRun

DAY = timedelta(days=1)
DAYS_ALL, DAYS_DAILY = KEEP_ALL // DAY, KEEP_DAILY // DAY


@dataclass(frozen=True)
class Kept:
    """The mornings of one season with a forecast kept; `apart_days` is the commonest step."""

    season: int
    mornings: int
    first: date
    last: date
    apart_days: int | None

    @property
    def thinned(self) -> bool:
        """Whether most of its mornings lie further apart than one a day."""
        return self.apart_days is not None and self.apart_days > 1


def season_days(season: int) -> tuple[date, date]:
    """First and last day scored: in summer every forecast is right that nothing will freeze."""
    return date(season - 1, 12, 1), date(season, 5, 31)


def in_season(day: date) -> bool:
    first, last = season_days(season_of(day))
    return first <= day <= last


def kept_by_season(zone: ZoneInfo, now: datetime) -> dict[int, Kept]:
    """What is kept of each season up to now, the newest first; in one question."""
    moments = ForecastRun.objects.filter(fetched_at__lte=now).values_list("fetched_at", flat=True)
    # One morning a day however many models and refreshes it had.
    days = {at.astimezone(zone).date() for at in moments}
    grouped: dict[int, list[date]] = {}
    for day in sorted(day for day in days if in_season(day)):
        grouped.setdefault(season_of(day), []).append(day)
    return {season: _kept(season, grouped[season]) for season in sorted(grouped, reverse=True)}


def _kept(season: int, days: Sequence[date]) -> Kept:
    steps = Counter((later - earlier).days for earlier, later in pairwise(days))
    # Of steps as common as each other the longer is named, not to promise more than there is.
    apart = max(steps, key=lambda step: (steps[step], step), default=None)
    return Kept(season, len(days), days[0], days[-1], apart)

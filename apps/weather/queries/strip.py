"""The next days over all woodlots in one line, for the board."""

from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from apps.domain.freeze_thaw import FreezeThawDay, Tally, tally
from apps.operation.queries import Constants
from apps.weather.models import ForecastRun
from apps.weather.queries.age import Staleness
from apps.weather.queries.days import freeze_thaw_days, oldest_row
from apps.woods.models import Woodlot

DAYS_IN_STRIP = 7


@dataclass(frozen=True)
class StripDay:
    """One local day over all woodlots: how many say what, and the extremes of the known hours."""

    date: date
    tally: Tally
    minimum_c: float | None
    maximum_c: float | None

    @property
    def woodlots(self) -> int:
        return self.tally.known + self.tally.unknown


@dataclass(frozen=True)
class Strip:
    """The next days in one line for the board; empty when there is nothing to go by."""

    days: tuple[StripDay, ...]
    run: ForecastRun | None
    staleness: Staleness | None
    without: int


def weather_strip(constants: Constants, tz: ZoneInfo, now: datetime) -> Strip:
    """Woodlots counted by day; `without` of them have no forecast that can be shown."""
    rows = list(freeze_thaw_days(list(Woodlot.objects.all()), constants, tz, now).values())
    by_date: dict[date, list[FreezeThawDay]] = {}
    for row in rows:
        for day in row.days[:DAYS_IN_STRIP]:
            by_date.setdefault(day.date, []).append(day)
    oldest = oldest_row(rows)
    return Strip(
        days=tuple(_strip_day(day, by_date[day]) for day in sorted(by_date)),
        run=oldest.series.run if oldest and oldest.series else None,
        staleness=oldest.staleness if oldest else None,
        without=sum(not row.days for row in rows),
    )


def _strip_day(day: date, judged: list[FreezeThawDay]) -> StripDay:
    lows = [one.minimum_c for one in judged if one.minimum_c is not None]
    highs = [one.maximum_c for one in judged if one.maximum_c is not None]
    return StripDay(day, tally(judged), min(lows, default=None), max(highs, default=None))

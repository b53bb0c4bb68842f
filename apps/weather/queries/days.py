"""What the stored forecast says of each woodlot's local days: yes, no or unknown."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from apps.domain.errors import DomainError
from apps.domain.freeze_thaw import FreezeThawDay, Tally, judge_days, tally
from apps.operation.queries import Constants
from apps.weather.queries.age import Staleness
from apps.weather.queries.series import HOUR, Hours, StoredSeries, at_woodlot, latest_series
from apps.woods.models import Woodlot

DAYS_SHOWN = 15


@dataclass(frozen=True)
class WoodlotDays:
    """One woodlot's local days from today on; `temps_c` are at the woodlot's own height.

    `problem` says in words why there are no days, where there are none.
    """

    woodlot: Woodlot
    tz: ZoneInfo
    series: StoredSeries | None = None
    staleness: Staleness | None = None
    days: tuple[FreezeThawDay, ...] = ()
    temps_c: Hours | None = None
    problem: str = ""

    @property
    def tally(self) -> Tally:
        return tally(self.days)

    def hours(self) -> list[tuple[datetime, float | None]]:
        """The hours of the days shown: UTC and C at the woodlot's height, None where missing."""
        if self.series is None or self.temps_c is None or not self.days:
            return []
        start, tz = self.series.start_at, self.tz
        stamped = [
            (start + HOUR * index, None if np.isnan(value) else float(value))
            for index, value in enumerate(self.temps_c)
        ]
        first, last = self.days[0].date, self.days[-1].date
        return [pair for pair in stamped if first <= pair[0].astimezone(tz).date() <= last]


def freeze_thaw_days(
    woodlots: Sequence[Woodlot], constants: Constants, tz: ZoneInfo, now: datetime
) -> dict[int, WoodlotDays]:
    """Each woodlot's days, by id, in the order given; one without a forecast says so."""
    stored = latest_series(woodlots, now, tz)
    return {
        woodlot.pk: woodlot_days(woodlot, stored.get(woodlot.pk), constants, tz, now)
        for woodlot in woodlots
    }


def woodlot_days(
    woodlot: Woodlot,
    series: StoredSeries | None,
    constants: Constants,
    tz: ZoneInfo,
    now: datetime,
) -> WoodlotDays:
    """The days of one woodlot whose series to judge by is already chosen."""
    if series is None:
        return WoodlotDays(woodlot, tz, problem="No forecast yet: refresh the weather.")
    age = series.staleness(now, tz)
    if age.withheld:
        return WoodlotDays(
            woodlot, tz, series, age, problem=f"Withheld: the forecast is {age.words}."
        )
    try:
        temps_c = at_woodlot(series, woodlot, constants.number("weather.lapse_c_per_m"))[0]
        days = judge_days(
            temps_c,
            series.start_at,
            tz,
            freeze_c=constants.number("weather.freeze_c"),
            thaw_c=constants.number("weather.thaw_c"),
        )
    except DomainError as error:
        # Limits an owner set against each other must not take the page down.
        return WoodlotDays(woodlot, tz, series, age, problem=f"Cannot be judged: {error}.")
    # Yesterday was asked for so that today is whole; it is not shown.
    first = now.astimezone(tz).date()
    last = first + timedelta(days=DAYS_SHOWN - 1)
    shown = tuple(day for day in days if first <= day.date <= last)
    return WoodlotDays(woodlot, tz, series, age, shown, temps_c)


def oldest_row(rows: Iterable[WoodlotDays]) -> WoodlotDays | None:
    """The row whose forecast was made longest ago: its age is the one to say first."""
    born = [
        # The place breaks ties, so that rows themselves are never compared.
        (row.series.born_at, place, row)
        for place, row in enumerate(rows)
        if row.series is not None
    ]
    return min(born)[2] if born else None

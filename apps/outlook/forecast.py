"""What the stored forecast means for tapping: how far it reaches, too cold when, thawing when."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

import numpy as np

from apps.domain.tapping import ColdLimits
from apps.operation.queries import Constants
from apps.outlook import reach
from apps.outlook.reach import ColdDay, Hours
from apps.weather.models import ForecastRun
from apps.weather.queries import Staleness, WoodlotDays, freeze_thaw_days, oldest_row
from apps.woods.models import Woodlot


@dataclass(frozen=True)
class ThawDay:
    """A day that freezes and thaws in the named woodlots."""

    date: date
    woodlots: tuple[str, ...]


@dataclass(frozen=True)
class Forecast:
    """`until` is None, and no day is judged, while nothing fit to plan by is in store.

    `problems` says of each woodlot without a usable forecast why it has none. `without_wind` are
    days not ruled out some of whose hours were judged by their temperature alone; `wind_known` is
    False where that goes for every hour of every day.
    """

    run: ForecastRun | None = None
    staleness: Staleness | None = None
    until: date | None = None
    ruled_out: tuple[ColdDay, ...] = ()
    freeze_thaw: tuple[ThawDay, ...] = ()
    unknown_days: tuple[date, ...] = ()
    problems: tuple[tuple[str, str], ...] = ()
    wind_known: bool = False
    without_wind: tuple[date, ...] = ()


def read(
    woodlots: Sequence[Woodlot],
    *,
    hours_per_day: float,
    constants: Constants,
    zone: ZoneInfo,
    now: datetime,
) -> Forecast:
    """Judge the newest stored series of these woodlots; pages never call out for weather."""
    rows = list(freeze_thaw_days(woodlots, constants, zone, now).values())
    limits = ColdLimits(
        constants.number("tapping.cold_limit_c"), constants.number("tapping.wind_chill_limit_c")
    )
    today = now.astimezone(zone).date()
    judged = [
        day
        for series in map(_hours, rows)
        if series is not None
        for day in reach.work_days(series, zone, hours_per_day, limits)
        if day.date >= today
    ]
    until = reach.last_day_covered(judged)
    # The age said first is that of the oldest series the plan goes by, or of what is withheld.
    oldest = oldest_row([row for row in rows if row.temps_c is not None] or rows)
    thaws, unknown = _freeze_thaw(rows)
    return Forecast(
        run=oldest.series.run if oldest and oldest.series else None,
        staleness=oldest.staleness if oldest else None,
        until=until,
        ruled_out=tuple(reach.ruled_out(judged, until)),
        freeze_thaw=thaws,
        unknown_days=unknown,
        problems=tuple((row.woodlot.name, row.problem) for row in rows if row.problem),
        wind_known=any(day.winds_unknown < day.hours_known for day in judged),
        without_wind=tuple(reach.judged_without_wind(judged, until)),
    )


def _hours(row: WoodlotDays) -> Hours | None:
    """The woodlot's corrected hours, unless they are missing or withheld."""
    if row.series is None or row.temps_c is None:
        return None
    winds_kmh = row.series.winds_kmh
    if winds_kmh is None:
        winds_kmh = np.full_like(row.temps_c, np.nan)
    return Hours(row.woodlot.name, row.series.start_at, row.temps_c, winds_kmh)


def _freeze_thaw(rows: Sequence[WoodlotDays]) -> tuple[tuple[ThawDay, ...], tuple[date, ...]]:
    """Days to come that freeze and thaw somewhere, and those of which that cannot be said."""
    where: dict[date, list[str]] = defaultdict(list)
    unknown: set[date] = set()
    for row in rows:
        for day in row.days:
            if day.verdict == "yes":
                where[day.date].append(row.woodlot.name)
            elif day.verdict == "unknown":
                unknown.add(day.date)
    days = tuple(ThawDay(on, tuple(names)) for on, names in sorted(where.items()))
    return days, tuple(sorted(unknown - set(where)))

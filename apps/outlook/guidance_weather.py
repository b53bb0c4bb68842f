"""Each woodlot's members joined to the hours gone by, as days the start is read from.

Nothing here reads the database or a clock.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from apps.domain.freeze_thaw import local_day_edges
from apps.domain.sap_run import DayWeather, days_from_hours
from apps.domain.start_guidance import Seen, Signs, look_ahead
from apps.outlook.likelihood import HOUR, Hours, Span, local_midnight

DAY = timedelta(days=1)
# Far enough back for the last hard freeze of most winters, and for a thaw after it.
DAYS_BACK = 30
DAYS_AHEAD = 16


@dataclass(frozen=True, eq=False)
class Weather:
    """One woodlot's models as (members, days) from `DAYS_BACK` days ago on."""

    models: tuple[DayWeather, ...]

    def seen(self, today: date, signs: Signs) -> Seen | None:
        return look_ahead(self.models, today, signs)


def first_hour(today: date, zone: ZoneInfo) -> datetime:
    """The hour the joined series begin with."""
    return local_midnight(today - DAYS_BACK * DAY, zone)


def joined(
    models: Sequence[Span],
    past: Span,
    *,
    today: date,
    zone: ZoneInfo,
    now: datetime,
    warmer_c: float = 0.0,
) -> Weather:
    """Every model's members after the hours gone by; `warmer_c` moves what is still to come."""
    start_at = first_hour(today, zone)
    hours = (local_midnight(today + DAYS_AHEAD * DAY, zone) - start_at) // HOUR
    days = local_day_edges(start_at, hours, zone)
    to_come = np.arange(hours) >= (now - start_at) / HOUR
    gone = past.laid_on(start_at, hours)

    def whole(model: Span) -> Hours:
        members = model.laid_on(start_at, hours)
        known: Hours = np.where(to_come | np.isnan(gone), members, gone)
        return known + warmer_c * to_come

    return Weather(tuple(days_from_hours(whole(model), days) for model in models))

"""What the stored forecast says, per woodlot and local day, and how far it may be trusted."""

from apps.weather.queries.age import Staleness, last_attempt, staleness
from apps.weather.queries.chances import (
    FEWEST_MEMBERS,
    DayChance,
    ModelMembers,
    day_chances,
    members,
)
from apps.weather.queries.days import WoodlotDays, freeze_thaw_days, oldest_row
from apps.weather.queries.history import (
    HistoryHours,
    histories,
    history_hours,
    inferred_first_runs,
)
from apps.weather.queries.outlook import Limit, Limits, Outlook, limits, outlook
from apps.weather.queries.readings import Observed, observed_hours
from apps.weather.queries.series import StoredSeries, at_woodlot, latest_series, newest_series
from apps.weather.queries.strip import Strip, StripDay, weather_strip
from apps.weather.queries.usual import Usual, UsualDay, usual

__all__ = [
    "FEWEST_MEMBERS",
    "DayChance",
    "HistoryHours",
    "Limit",
    "Limits",
    "ModelMembers",
    "Observed",
    "Outlook",
    "Staleness",
    "StoredSeries",
    "Strip",
    "StripDay",
    "Usual",
    "UsualDay",
    "WoodlotDays",
    "at_woodlot",
    "day_chances",
    "freeze_thaw_days",
    "histories",
    "history_hours",
    "inferred_first_runs",
    "last_attempt",
    "latest_series",
    "limits",
    "members",
    "newest_series",
    "observed_hours",
    "oldest_row",
    "outlook",
    "staleness",
    "usual",
    "weather_strip",
]

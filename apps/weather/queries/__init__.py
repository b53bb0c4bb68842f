"""What the stored forecast says, per woodlot and local day, and how far it may be trusted."""

from apps.weather.queries.age import Staleness, last_attempt, staleness
from apps.weather.queries.chances import DayChance, ModelMembers, day_chances, members
from apps.weather.queries.days import WoodlotDays, freeze_thaw_days, oldest_row
from apps.weather.queries.outlook import Limit, Limits, Outlook, limits, outlook
from apps.weather.queries.series import StoredSeries, at_woodlot, latest_series, newest_series
from apps.weather.queries.strip import Strip, StripDay, weather_strip

__all__ = [
    "DayChance",
    "Limit",
    "Limits",
    "ModelMembers",
    "Outlook",
    "Staleness",
    "StoredSeries",
    "Strip",
    "StripDay",
    "WoodlotDays",
    "at_woodlot",
    "day_chances",
    "freeze_thaw_days",
    "last_attempt",
    "latest_series",
    "limits",
    "members",
    "newest_series",
    "oldest_row",
    "outlook",
    "staleness",
    "weather_strip",
]

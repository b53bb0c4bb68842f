"""One invented season as it would happen: sap by woodlot and day, and days fit for work.

The sap rule is made up for the demo: a freeze refills the trees, warm hours empty them, and the
weeks at both ends give little. Nothing outside the demo may use it.
"""

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

import numpy as np

from apps.demo.weather_story import temperature_c

# Local standard time, so that an invented day always has 24 hours.
MIDNIGHT_UTC_HOUR = 5
LITRES_PER_TAP_AT_BEST = 3.0
DEGREE_HOURS_OF_A_GOOD_DAY = 40.0
FREEZE_C = -1.5
KEPT_WITHOUT_A_FREEZE = 0.5


@dataclass(frozen=True)
class Place:
    """Where a woodlot stands, as the story needs it."""

    name: str
    latitude: float
    longitude: float
    elevation_m: float


@dataclass(frozen=True)
class Day:
    """One day at one place: its temperatures and what a tap would give at full vacuum."""

    day: date
    minimum_c: float
    maximum_c: float
    litres_per_tap: float


def days(place: Place, season: int) -> dict[date, Day]:
    """Every day from 10 January to 30 April of the season."""
    first, last = date(season, 1, 10), date(season, 4, 30)
    count = (last - first).days + 1
    start = datetime(season, 1, 10, MIDNIGHT_UTC_HOUR, tzinfo=UTC)
    seconds = int(start.timestamp()) + 3600 * np.arange(24 * count)
    temps = temperature_c(place.latitude, place.longitude, place.elevation_m, seconds)
    by_day = temps.reshape(count, 24)
    warmth = np.clip(by_day, 0, None).sum(axis=1)
    out: dict[date, Day] = {}
    store = 0.0
    for number in range(count):
        day = first + timedelta(days=number)
        lowest, highest = float(by_day[number].min()), float(by_day[number].max())
        # A freeze refills the trees; without one half of what was left is there.
        store = 1.0 if lowest <= FREEZE_C else store * KEPT_WITHOUT_A_FREEZE
        warm = min(1.3, float(warmth[number]) / DEGREE_HOURS_OF_A_GOOD_DAY)
        litres = LITRES_PER_TAP_AT_BEST * store * warm * _willing(day)
        # A trickle nobody gathers is left out.
        out[day] = Day(day, lowest, highest, litres if litres > 0.25 else 0.0)
    return out


def _willing(day: date) -> float:
    """How ready the trees are: frozen hard in January, budding by the end of April."""
    points = ((2, 8, 0.0), (2, 20, 0.3), (3, 6, 0.9), (4, 3, 0.9), (4, 14, 0.4), (4, 20, 0.0))
    xs = [date(day.year, month, number).toordinal() for month, number, _ in points]
    return float(np.interp(day.toordinal(), xs, [share for _, _, share in points]))


def fit_for_tapping(day: Day) -> bool:
    return day.day.weekday() != 6 and day.maximum_c > -11.0


def sugar_brix(place: Place, day: date, wobble: float) -> float:
    """Sweeter up to mid-March, then thinner; each woodlot has its own level."""
    level = {"Home Hill": 2.1, "Tamarack Hollow": 1.8, "Beech Ledge": 2.3, "Cold Brook": 2.0}
    middle = date(day.year, 3, 12)
    drift = -0.012 * max(0, (day - middle).days) - 0.004 * max(0, (middle - day).days)
    return round(max(1.1, level.get(place.name, 2.2) + drift + wobble), 1)

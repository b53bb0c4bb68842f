"""Tapping pace of a crew of two by depth of snow, and the hours a woodlot takes.

Formula: pair-hours = taps left / pace, the pace by snow depth in three steps, the two middle
limits included in the middle step. A pace the woodlot has shown itself takes the planned one's
place.
Units: snow in metres, pace in taps per pair-hour, time in pair-hours.
Validity: 0 to 5 m of snow. A depth typed in whole or decimal inches keeps its side of a limit:
depths are compared at a millionth of an inch.
Source: 100, 80 and 60 taps per pair-hour at 12 and 24 in are common practice, no source.
Producers report about 800 taps a pair on a good day and 50 an hour in knee-deep snow.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from apps.domain.errors import DomainError, OutOfRange, require_range
from apps.domain.units import inches_from_mm

DAY = timedelta(days=1)
# Inch depths pass through metres; this is far below any ruler and far above rounding.
INCH_DECIMALS = 6
# Hours such as 0.1 + 0.2 must not cost a whole further day.
HOUR_DECIMALS = 9


@dataclass(frozen=True, slots=True)
class SnowPaces:
    """Taps per pair-hour under, between (limits included) and over two snow depths."""

    light: float = 100
    middle: float = 80
    deep: float = 60
    middle_from_m: float = 0.3048
    deep_over_m: float = 0.6096

    def __post_init__(self) -> None:
        for name in ("light", "middle", "deep"):
            require_range(name, getattr(self, name), 1, 1000)
        require_range("middle_from_m", self.middle_from_m, 0, 5)
        require_range("deep_over_m", self.deep_over_m, self.middle_from_m, 5)


USUAL_PACES: Final = SnowPaces()


@dataclass(frozen=True, slots=True)
class WoodlotWork:
    """Taps still to make in one woodlot; `observed_pace` in taps per pair-hour once under way."""

    name: str
    taps_left: int
    snow_depth_m: float
    observed_pace: float | None = None

    def __post_init__(self) -> None:
        require_range("taps_left", self.taps_left, 0, 1_000_000)
        require_range("snow_depth_m", self.snow_depth_m, 0, 5)
        if self.observed_pace is not None:
            require_range("observed_pace", self.observed_pace, 1, 1000)


@dataclass(frozen=True, slots=True)
class WoodlotLine:
    """The arithmetic of one woodlot: taps left / pace = pair_hours."""

    name: str
    taps_left: int
    snow_depth_m: float
    pace: float
    pace_is_observed: bool
    pair_hours: float


def pace_taps_per_pair_hour(snow_depth_m: float, paces: SnowPaces = USUAL_PACES) -> float:
    """Taps an hour for a crew of two in this depth of snow; OutOfRange outside 0 to 5 m."""
    require_range("snow_depth_m", snow_depth_m, 0, 5)
    # The limits were set in inches; metres would move a depth typed at one to either side.
    depth = _inches(snow_depth_m)
    if depth < _inches(paces.middle_from_m):
        return paces.light
    return paces.middle if depth <= _inches(paces.deep_over_m) else paces.deep


def woodlot_line(work: WoodlotWork, paces: SnowPaces) -> WoodlotLine:
    """The hours a woodlot takes, at its own pace where it has shown one."""
    pace = work.observed_pace
    observed = pace is not None
    if pace is None:
        pace = pace_taps_per_pair_hour(work.snow_depth_m, paces)
    hours = work.taps_left / pace
    return WoodlotLine(work.name, work.taps_left, work.snow_depth_m, pace, observed, hours)


def require_working_week(rest_weekdays: Iterable[int]) -> None:
    """Refuse rest days that are not weekdays 0 (Monday) to 6, or that leave none to work on."""
    resting = set(rest_weekdays)
    for weekday in resting:
        if weekday not in range(7):
            raise OutOfRange("rest_weekdays", weekday, 0, 6)
    if len(resting) == 7:
        raise DomainError("rest_weekdays must leave at least one weekday to work on")


def next_free_day(day: date, blocked: frozenset[date], rest_weekdays: frozenset[int]) -> date:
    """This day, or the first after it that is neither a rest day nor blocked."""
    while day in blocked or day.weekday() in rest_weekdays:
        day += DAY
    return day


def _inches(metres: float) -> float:
    return round(inches_from_mm(metres * 1000), INCH_DECIMALS)

"""The evening's new finish date, from the taps actually made.

Formula: pair-hours left = taps left / observed pace in a woodlot under way, / planned pace in the
others; days left = ceil(pair-hours left / observed pair-hours a day), counted forward from the
next morning, skipping rest days and days ruled out.
Units: pair-hours, whole days.
Validity: at least one working hour a day observed. No allowance for lost days: what was lost so
far is already in the observed hours a day.
Source: arithmetic on the operation's own record.
"""

import math
from dataclasses import dataclass
from datetime import date

from apps.domain.errors import require_range
from apps.domain.tapping.back_plan import SUNDAY
from apps.domain.tapping.pace import (
    DAY,
    HOUR_DECIMALS,
    USUAL_PACES,
    SnowPaces,
    WoodlotLine,
    WoodlotWork,
    next_free_day,
    require_working_week,
    woodlot_line,
)


@dataclass(frozen=True, slots=True)
class ReforecastInput:
    """Taps left this evening, and the pair-hours worked on an average day so far."""

    woodlots: tuple[WoodlotWork, ...]
    next_day: date
    pair_hours_per_day: float
    rest_weekdays: frozenset[int] = frozenset({SUNDAY})
    blocked_days: frozenset[date] = frozenset()
    paces: SnowPaces = USUAL_PACES

    def __post_init__(self) -> None:
        require_range("pair_hours_per_day", self.pair_hours_per_day, 0.5, 2400)
        require_working_week(self.rest_weekdays)


@dataclass(frozen=True, slots=True)
class Reforecast:
    """`finish_date` is the last day of tapping; every tap is in by the `ready_morning` after it."""

    pair_hours: float
    working_days: int
    finish_date: date | None
    ready_morning: date
    woodlots: tuple[WoodlotLine, ...]


def reforecast(evening: ReforecastInput) -> Reforecast:
    """Count the days left forward from tomorrow; with nothing left, ready tomorrow morning."""
    lines = tuple(woodlot_line(work, evening.paces) for work in evening.woodlots)
    pair_hours = math.fsum(line.pair_hours for line in lines)
    # Whole days: a crew that is called out at all is out for the day.
    working = math.ceil(round(pair_hours / evening.pair_hours_per_day, HOUR_DECIMALS))
    finish, ready = None, evening.next_day
    # Day by day, because a day ruled out moves all the days after it.
    for _ in range(working):
        finish = next_free_day(ready, evening.blocked_days, evening.rest_weekdays)
        ready = finish + DAY
    return Reforecast(pair_hours, working, finish, ready, lines)

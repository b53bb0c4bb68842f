"""The published weekly rule for when a season opens, as it was seen restated.

Formula: for each week from 1 January, P = -5.09 + 0.722 F - 0.014 F^2 - 0.07 G and chance =
1 / (1 + e^-P); a producing week when the chance is at least 0.51. F counts the days since 1 January
whose minimum is under 3 C and maximum over it, G the degree-days over 5 C of daily means, both to
the end of the week.
Units: C, days, degree-days over 5 C.
Validity: rough. The rule was read in a restatement, not in the paper itself, and reading
"crossings of 3 C" as days is ours. Unknown days count nothing, and are counted as unknown.
Source: Houle, Paquette, Cote, Logan, Power, Charron and Duchesne (2015), PLOS ONE 10(12) e0144844,
seen restated: 83 % of producing and 95 % of other weeks right.
"""

from dataclasses import dataclass
from datetime import date

import numpy as np

from apps.domain.errors import DomainError, require_range
from apps.domain.sap_run.day_weather import DAY, DayWeather
from apps.domain.sap_run.logistic import sigmoid

CROSSING_C, GROWING_C = 3.0, 5.0
PRODUCING = 0.51
DAYS_A_WEEK = 7


@dataclass(frozen=True)
class Week:
    """One week of the rule: its first and last day, F, G and the chance.

    `producing` is None when more days than a week's worth since 1 January are unknown.
    """

    start: date
    end: date
    crossings: int
    growing_degree_days: float
    chance: float
    unknown_days: int

    @property
    def producing(self) -> bool | None:
        return None if self.unknown_days > DAYS_A_WEEK else self.chance >= PRODUCING


def weekly_chance(crossings: int, growing_degree_days: float) -> float:
    """The chance of a producing week from F and G. Raises OutOfRange for either under 0."""
    require_range("crossings", crossings, 0, 366)
    require_range("growing_degree_days", growing_degree_days, 0, 10_000)
    score = -5.09 + 0.722 * crossings - 0.014 * crossings**2 - 0.07 * growing_degree_days
    return float(sigmoid(np.array(score)))


def season_open_weekly(weather: DayWeather, year: int) -> list[Week]:
    """The whole weeks of `year` that one series of days covers from 1 January on.

    Days before 1 January are passed over. Raises DomainError for more than one series, or when
    1 January is not among the days: F and G would start short.
    """
    if np.ndim(weather.minimum_c) != 1:
        raise DomainError(f"weather must be one series, not {np.ndim(weather.minimum_c)} axes")
    first = date(year, 1, 1)
    if first not in weather.dates:
        raise DomainError(f"weather must hold {first}")
    skip = weather.dates.index(first)
    low, high = weather.minimum_c[skip:], weather.maximum_c[skip:]
    mean = weather.mean_c[skip:]
    # Comparisons with NaN are false, so an unknown day is no crossing.
    crossed = np.cumsum((low < CROSSING_C) & (high > CROSSING_C))
    grown = np.cumsum(np.fmax(mean - GROWING_C, 0))
    unknown = np.cumsum(np.isnan(low) | np.isnan(high) | np.isnan(mean))
    ends = range(DAYS_A_WEEK - 1, mean.size, DAYS_A_WEEK)
    return [
        Week(
            first + DAY * (end - DAYS_A_WEEK + 1),
            first + DAY * end,
            int(crossed[end]),
            float(grown[end]),
            weekly_chance(int(crossed[end]), float(grown[end])),
            int(unknown[end]),
        )
        for end in ends
    ]


def first_producing(weeks: list[Week]) -> Week | None:
    """The first week that produces; None when none does, or an unknown one comes before it."""
    for week in weeks:
        if week.producing is None:
            return None
        if week.producing:
            return week
    return None

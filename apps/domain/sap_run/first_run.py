"""The first run of a winter inferred from its temperatures, where nobody wrote it down.

Formula: thaw degree-hours add up from the last hard freeze (a day whose minimum is at or under
-10 C; that day's own warmth counts). The first run is the first day from 1 January to 31 May whose
run likelihood is high while that sum is at or over a setting. The setting is the one, of 0 to 1,500
degree-hours in steps of 25, with the least median error in days against the operation's own first
runs (ties: least mean error, then the lowest). With fewer than three of them to fit by, the first
day of the first producing week of the published weekly rule is taken instead.
Units: C, degree-hours over 0 C, days.
Validity: one series of days a winter. "The weather would have let sap run" is all it says. An
unknown day is no first run; more than seven of them before the day found leave it unknown.
Source: common practice, no source, for the hard freeze and the sum; the likelihood is that of
`likelihood`, the weekly rule that of `weekly`.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from statistics import mean, median
from typing import Literal

import numpy as np

from apps.domain.errors import DomainError, require_range
from apps.domain.sap_run.day_weather import DayWeather, Floats
from apps.domain.sap_run.likelihood import HIGH_FROM, run_probability
from apps.domain.sap_run.weekly import first_producing, season_open_weekly

Basis = Literal["fitted", "weekly rule"]

HARD_FREEZE_C = -10.0
SETTINGS_DEGREE_HOURS = tuple(range(0, 1501, 25))
FEWEST_OWN_DATES = 3
MOST_UNKNOWN_DAYS = 7
LAST_MONTH = 5


@dataclass(frozen=True)
class Setting:
    """The thaw degree-hours to reach, its median error in days, and the seasons fitted to."""

    thaw_degree_hours: float
    median_error_days: float
    seasons: tuple[int, ...]


@dataclass(frozen=True)
class InferredRun:
    """A first run as the weather would have had it; `date` is None when it cannot be said."""

    date: date | None
    basis: Basis
    unknown_days: int


def since_hard_freeze(weather: DayWeather, hard_freeze_c: float = HARD_FREEZE_C) -> Floats:
    """Thaw degree-hours gathered since the last hard freeze, (days,), unknown days adding none."""
    _refuse_members(weather)
    require_range("hard_freeze_c", hard_freeze_c, -40, 0)
    total = np.cumsum(np.nan_to_num(weather.thaw_degree_hours))
    hard = weather.minimum_c <= hard_freeze_c
    # What had come up to the eve of the latest hard freeze is taken off again.
    eve = np.concatenate(([0.0], total[:-1]))
    gathered: Floats = total - np.maximum.accumulate(np.where(hard, eve, 0.0))
    return gathered


def fit_setting(winters: Mapping[int, DayWeather], own: Mapping[int, date]) -> Setting | None:
    """The setting that fits the operation's own first runs, None with fewer than three to fit by.

    Own dates of winters without weather are passed over. A winter in which a setting finds no
    day counts against it as a miss of a whole season.
    """
    seasons = tuple(sorted(set(winters) & set(own)))
    if len(seasons) < FEWEST_OWN_DATES:
        return None
    prepared = {season: _prepare(winters[season], season) for season in seasons}

    def errors(setting: float) -> list[float]:
        return [_error(prepared[season].first(setting), own[season]) for season in seasons]

    best = min(
        SETTINGS_DEGREE_HOURS,
        key=lambda setting: (median(errors(setting)), mean(errors(setting)), setting),
    )
    return Setting(best, median(errors(best)), seasons)


def inferred_first_run(
    weather: DayWeather, season: int, setting: Setting | None = None
) -> InferredRun:
    """The first run of `season` from its days; without a setting, by the published weekly rule.

    Raises DomainError for more than one series, or when 1 January of the season is not among
    the days.
    """
    if setting is None:
        return _by_weekly_rule(weather, season)
    winter = _prepare(weather, season)
    return winter.first(setting.thaw_degree_hours)


def _by_weekly_rule(weather: DayWeather, season: int) -> InferredRun:
    weeks = season_open_weekly(weather, season)
    week = first_producing(weeks)
    if week is None:
        return InferredRun(None, "weekly rule", weeks[-1].unknown_days if weeks else 0)
    return InferredRun(week.start, "weekly rule", week.unknown_days)


@dataclass(frozen=True)
class _Winter:
    """Days from 1 January on: which are likely run days, warmth gathered, unknown days so far."""

    dates: tuple[date, ...]
    likely: Floats
    gathered: Floats
    unknown: Floats

    def first(self, setting: float) -> InferredRun:
        hit = np.flatnonzero((self.likely >= HIGH_FROM) & (self.gathered >= setting))
        if not hit.size:
            return InferredRun(None, "fitted", int(self.unknown[-1]))
        unknown = int(self.unknown[hit[0]])
        found = self.dates[hit[0]] if unknown <= MOST_UNKNOWN_DAYS else None
        return InferredRun(found, "fitted", unknown)


def _prepare(weather: DayWeather, season: int) -> _Winter:
    gathered, likely = since_hard_freeze(weather), run_probability(weather)
    first = date(season, 1, 1)
    if first not in weather.dates:
        raise DomainError(f"weather must hold {first}")
    start = weather.dates.index(first)
    # By June the same temperatures mean leaves, not sap.
    kept = [
        place
        for place in range(start, len(weather.dates))
        if weather.dates[place].year == season and weather.dates[place].month <= LAST_MONTH
    ]
    dates = tuple(weather.dates[place] for place in kept)
    return _Winter(dates, likely[kept], gathered[kept], np.cumsum(np.isnan(likely[kept])))


def _error(run: InferredRun, own: date) -> float:
    return abs((run.date - own).days) if run.date else 366.0


def _refuse_members(weather: DayWeather) -> None:
    if np.ndim(weather.minimum_c) != 1:
        raise DomainError(f"weather must be one series, not {np.ndim(weather.minimum_c)} axes")

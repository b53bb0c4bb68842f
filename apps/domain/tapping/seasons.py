"""First runs of past seasons, ordered within the season, and the morning to be ready by.

Formula: a date's place in its season is its days from 1 December. Accepting to miss k of N past
first runs, the ready morning is the (k+1)-th earliest place. The seasons missed by a morning are
those whose first run came strictly before it.
Units: whole days; a season is named by the year of its spring.
Validity: one first run per season. No smoothing, no interpolation. Places are days, so after
28 February a leap season shows the date a day earlier than the others.
Source: order statistic; "2 in 10" is common practice, no source.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from apps.domain.errors import DomainError, require_range

DECEMBER = 12

FirstRuns = tuple[tuple[int, date], ...]


@dataclass(frozen=True, slots=True)
class ReadyDate:
    """The morning to be ready by, k accepted misses of n seasons, and the seasons in order."""

    date: date
    k: int
    n: int
    ordered: FirstRuns


def season_of(day: date) -> int:
    """The season a date belongs to: 1 December starts the next one."""
    # Sap of a warm December belongs to the spring that it opens.
    return day.year + (day.month == DECEMBER)


def days_from_december(day: date) -> int:
    """Days from the 1 December that began the date's season; 1 December itself is 0."""
    return (day - date(season_of(day) - 1, DECEMBER, 1)).days


def ready_morning_from_history(
    first_runs: Mapping[int, date], accept_missing: int, season: int
) -> ReadyDate:
    """The (accept_missing + 1)-th earliest first run, as a morning of `season`.

    Raises DomainError without history or for a date outside its season, OutOfRange unless
    accept_missing is from 0 to one less than the seasons there are.
    """
    ordered = _ordered(first_runs)
    if not ordered:
        raise DomainError("first_runs must hold at least one past season, and holds none")
    require_range("accept_missing", accept_missing, 0, len(ordered) - 1)
    # Places, not dates, are compared: only they mean the same in every season.
    place = days_from_december(ordered[accept_missing][1])
    morning = date(season - 1, DECEMBER, 1) + timedelta(days=place)
    return ReadyDate(morning, accept_missing, len(ordered), ordered)


def seasons_missed(first_runs: Mapping[int, date], ready_morning: date, season: int) -> list[int]:
    """Seasons, in order of year, whose first run came strictly before the ready morning.

    Raises DomainError for a first run or a ready morning outside its season.
    """
    _refuse_other_season("ready_morning", ready_morning, season)
    place = days_from_december(ready_morning)
    return sorted(year for year, day in _ordered(first_runs) if days_from_december(day) < place)


def _ordered(first_runs: Mapping[int, date]) -> FirstRuns:
    for season, day in first_runs.items():
        _refuse_other_season("first_runs", day, season)
    # The year breaks a tie, so that the order shown never depends on how rows came in.
    return tuple(sorted(first_runs.items(), key=lambda run: (days_from_december(run[1]), run[0])))


def _refuse_other_season(name: str, day: date, season: int) -> None:
    if season_of(day) != season:
        first, last = date(season - 1, DECEMBER, 1), date(season, DECEMBER - 1, 30)
        raise DomainError(
            f"{name} must be between {first} and {last} in season {season}, not {day}"
        )

"""Sap in, added up through the season, beside the seasons before."""

from dataclasses import dataclass
from datetime import date, timedelta, tzinfo
from decimal import Decimal

from apps.season.queries.shown import Steps
from apps.sugarhouse import queries as sugarhouse

# More lines cross too often to be told apart.
SEASONS_COMPARED = 4
WEEK = timedelta(days=7)


@dataclass(frozen=True)
class Timeline:
    """Sap of the operation's own woodlots up to the end of each day in `days`, by season.

    `days` are of the season looked at; another season is read at the same day of its calendar.
    A figure is None for a day still to come.
    """

    unit: str
    seasons: tuple[int, ...]
    days: tuple[date, ...]
    amounts: dict[int, tuple[Decimal | None, ...]]

    @property
    def rows(self) -> list[tuple[date, list[Decimal | None]]]:
        columns = [self.amounts[season] for season in self.seasons]
        return [(day, [column[row] for column in columns]) for row, day in enumerate(self.days)]


def cumulative_sap(
    season: int, *, seasons: list[int], today: date, zone: tzinfo, unit_system: str
) -> Timeline:
    """Weekly from the first sap of any season compared to the last, newest season first."""
    # Looking back at a season, later ones did not exist yet.
    compared = tuple(year for year in sorted(seasons, reverse=True) if year <= season)
    by_day = sugarhouse.sap_by_day(list(compared[:SEASONS_COMPARED]), zone)
    # A season without sap would draw a line along the bottom.
    by_day = {year: days for year, days in by_day.items() if days}
    checkpoints = _weekly(season, [day for days in by_day.values() for day in days])
    steps = Steps(unit_system, 0)
    return Timeline(
        unit=steps.unit,
        seasons=tuple(by_day),
        days=tuple(checkpoints),
        amounts={
            year: tuple(_up_to(day, year - season, days, today, steps) for day in checkpoints)
            for year, days in by_day.items()
        },
    )


def place_in_season(day: date) -> tuple[int, int]:
    """Where a day falls in any season: December comes first."""
    return day.month % 12, day.day


def _weekly(season: int, days: list[date]) -> list[date]:
    if not days:
        return []
    first = _in_season(min(map(place_in_season, days)), season)
    last = _in_season(max(map(place_in_season, days)), season)
    # Rounded up, so that the last sap lies within the last week.
    weeks = -(-((last - first).days) // 7)
    return [first + WEEK * week for week in range(weeks + 1)]


def _in_season(place: tuple[int, int], season: int) -> date:
    month, day = place
    if month == 0:
        return date(season - 1, 12, day)
    # The 29th of February is read as the 1st of March where there is none.
    return date(season, month, 1) + timedelta(days=day - 1)


def _up_to(
    day: date, years: int, days: dict[date, float], today: date, steps: Steps
) -> Decimal | None:
    """None once the day lies ahead in that season, unless it is the week under way."""
    place = place_in_season(day)
    # The week under way is shown as far as it has come; a whole week ahead is not.
    began = day - WEEK + timedelta(days=1)
    if _shifted(began, years) > today:
        return None
    litres = sum(amount for on, amount in days.items() if place_in_season(on) <= place)
    return steps.shown(litres)


def _shifted(day: date, years: int) -> date:
    return date(day.year + years, day.month, 1) + timedelta(days=day.day - 1)

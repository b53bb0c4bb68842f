"""When sap first ran in past seasons: recorded dates, and those the weather would have let be.

The two are kept apart: a recorded date is a fact of one crew, an inferred one a rule's opinion.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from apps.domain.sap_run import InferredRun
from apps.domain.tapping import days_from_december, season_of
from apps.operation.queries import Constants
from apps.outlook.plan import same_place
from apps.tapping.queries import operation_first_runs, woodlot_first_runs
from apps.weather.queries import histories, inferred_first_runs
from apps.woods.models import Woodlot

# Shares of the seasons that a crew plans by: two in ten, half, eight in ten.
SHARES = (0.2, 0.5, 0.8)


@dataclass(frozen=True)
class Spread:
    """Dates of past seasons as days of the season shown, earliest first, and what they come to."""

    placed: tuple[date, ...]

    def by(self, share: float) -> date:
        """The date by which at least this share of the seasons had run: one that is there."""
        return self.placed[max(1, math.ceil(share * len(self.placed) - 1e-9)) - 1]

    @property
    def marks(self) -> list[date]:
        """Earliest, the planning shares, latest."""
        return [self.placed[0], *(self.by(share) for share in SHARES), self.placed[-1]]


@dataclass(frozen=True)
class PastFirstRuns:
    """One woodlot's past seasons; `own` tells whether its recorded dates are its own."""

    woodlot: Woodlot
    season: int
    recorded: Mapping[int, date]
    own: bool
    inferred: Mapping[int, InferredRun]

    @property
    def inferred_dates(self) -> dict[int, date]:
        return {season: run.date for season, run in self.inferred.items() if run.date}

    @property
    def by_weekly_rule(self) -> bool:
        return any(run.basis == "weekly rule" for run in self.inferred.values())

    @property
    def rows(self) -> list[tuple[int, date | None, InferredRun | None]]:
        seasons = sorted({*self.recorded, *self.inferred}, reverse=True)
        return [(one, self.recorded.get(one), self.inferred.get(one)) for one in seasons]

    @property
    def spreads(self) -> list[tuple[str, Spread]]:
        """Each kind by its name, where there are dates of it."""
        kinds = (("Recorded", self.recorded), ("Inferred", self.inferred_dates))
        return [(name, self._spread(dates)) for name, dates in kinds if dates]

    @property
    def apart_days(self) -> list[int]:
        """Recorded less inferred, for the seasons that have both, the least first."""
        inferred = self.inferred_dates
        both = set(self.recorded) & set(inferred)
        return sorted((self.recorded[one] - inferred[one]).days for one in both)

    def _spread(self, dates: Mapping[int, date]) -> Spread:
        ordered = sorted(dates.values(), key=days_from_december)
        return Spread(tuple(same_place(day, self.season) for day in ordered))


def past_first_runs(
    woodlot: Woodlot, constants: Constants, zone: ZoneInfo, now: datetime
) -> PastFirstRuns:
    """Of the seasons before the one under way; the operation's dates where it has none itself."""
    season = season_of(now.astimezone(zone).date())
    own = woodlot_first_runs(season).get(woodlot.pk, {})
    recorded = own or {year: run.date for year, run in operation_first_runs(season).items()}
    winters = histories([woodlot], constants)[woodlot.pk]
    past = {year: hours for year, hours in winters.items() if year < season}
    return PastFirstRuns(
        woodlot=woodlot,
        season=season,
        recorded=recorded,
        own=bool(own),
        # Only the woodlot's own dates set its threshold: another's would bend it.
        inferred=inferred_first_runs(past, zone, own),
    )

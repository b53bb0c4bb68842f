"""The first runs of past seasons: the operation's own dates and those the weather implies.

A recorded date is the day somebody gathered sap; an inferred one says only that the weather would
have let it run. Every entry says which it is.
"""

from dataclasses import dataclass
from datetime import date, tzinfo
from typing import Literal

from apps.domain.sap_run import InferredRun
from apps.tapping.models import FirstRun
from apps.weather.queries.history import Winters, history_hours, inferred_first_runs
from apps.woods.models import Woodlot

Origin = Literal["recorded", "inferred"]

# With as many dates of its own an operation goes by those alone.
ENOUGH_RECORDED = 3


@dataclass(frozen=True)
class PastFirstRun:
    """The first run of one season and where its date comes from."""

    season: int
    date: date
    origin: Origin


def first_run_history(
    woodlot: Woodlot, tz: tzinfo, winters: Winters | None = None
) -> list[PastFirstRun]:
    """By season. With three dates recorded or more, those alone; else inferred ones beside them.

    A woodlot without dates of its own has those of the whole operation. `winters` saves reading
    the woodlot's history again.
    """
    recorded = recorded_first_runs(woodlot)
    found = {season: PastFirstRun(season, day, "recorded") for season, day in recorded.items()}
    if len(recorded) < ENOUGH_RECORDED:
        for season, run in inferred_by_season(woodlot, tz, winters).items():
            if run.date is not None:
                found.setdefault(season, PastFirstRun(season, run.date, "inferred"))
    return [found[season] for season in sorted(found)]


def recorded_first_runs(woodlot: Woodlot) -> dict[int, date]:
    """The woodlot's own dates by season, else those of the whole operation; never the two mixed."""
    rows = FirstRun.objects.filter(woodlot=woodlot) or FirstRun.objects.filter(woodlot=None)
    return {row.season: row.date for row in rows}


def inferred_by_season(
    woodlot: Woodlot, tz: tzinfo, winters: Winters | None = None
) -> dict[int, InferredRun]:
    """From the weather alone; recorded dates only fit the warmth it takes."""
    hours = history_hours(woodlot) if winters is None else winters
    return inferred_first_runs(hours, tz, recorded_first_runs(woodlot))

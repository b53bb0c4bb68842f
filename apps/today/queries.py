"""The day's board, gathered from the rooms below; nothing here is stored."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import islice
from zoneinfo import ZoneInfo

from apps.domain.tapping import season_of
from apps.leaks import queries as leaks
from apps.leaks.models import Leak
from apps.leaks.standing import LineStanding
from apps.leaks.walk import RankingTerms, ranking_terms
from apps.operation.models import Operation
from apps.operation.queries import constants
from apps.outlook.runs import WoodlotRuns, most_tapped
from apps.outlook.start import start_answer
from apps.outlook.verdict import Verdict
from apps.sugarhouse.queries.tanks import TankNow, tanks_now
from apps.tapping.queries import progress, season_to_tap
from apps.weather.queries import Strip, weather_strip

# A morning's work for a pair, and what fits beside the weather on one screen.
LINES_TO_WALK = 3
LEAKS_SHOWN = 3


@dataclass(frozen=True)
class TapsLeft:
    """The taps of one season over all woodlots; None where nothing is planned."""

    season: int
    planned: int | None
    taps_set: int
    left: int | None
    lines: int
    lines_unplanned: int


@dataclass(frozen=True)
class Board:
    """What a crew wants to know over the first coffee."""

    season: int
    strip: Strip
    runs: WoodlotRuns | None
    start: Verdict | None
    terms: RankingTerms
    lines: int
    next_lines: Sequence[LineStanding]
    open_leaks: Sequence[Leak]
    open_leaks_total: int
    obstructions: int
    met: Sequence[leaks.SameDay]
    taps: TapsLeft
    tanks: Sequence[TankNow]


def board(*, operation: Operation, now: datetime) -> Board:
    """Everything on the page in a fixed number of queries."""
    zone = ZoneInfo(operation.time_zone)
    today = now.astimezone(zone).date()
    season = season_of(today)
    in_use = constants()
    # All lines are ranked for the first three: no fewer would tell which those are.
    standings = leaks.ranked_lines(season=season, now=now, constants=in_use)
    open_leaks = leaks.open_leaks()
    return Board(
        season=season,
        strip=weather_strip(in_use, zone, now),
        runs=most_tapped(in_use, zone, now),
        start=start_answer(constants=in_use, zone=zone, now=now),
        terms=ranking_terms(in_use),
        lines=len(standings),
        next_lines=leaks.next_lines(standings, LINES_TO_WALK),
        # Counted over all, fetched only as far as shown.
        open_leaks=list(islice(open_leaks, LEAKS_SHOWN)),
        open_leaks_total=open_leaks.count(),
        obstructions=sum(row.across for row in standings),
        met=leaks.same_day_differences(today),
        # From June on tapping is for the season to come, while leaks are still of the one past.
        taps=_taps_left(season_to_tap(today)),
        tanks=sorted(tanks_now(now, in_use.number("sugarhouse.usable_share")), key=_urgency),
    )


def _taps_left(season: int) -> TapsLeft:
    woodlots = progress(season)
    planned = [row.planned_taps for row in woodlots if row.planned_taps is not None]
    left = [row.taps_left for row in woodlots if row.taps_left is not None]
    return TapsLeft(
        season=season,
        # Nothing planned anywhere is unknown; a nought would read as all done.
        planned=sum(planned) if planned else None,
        taps_set=sum(row.taps_set for row in woodlots),
        left=sum(left) if left else None,
        lines=sum(row.lines for row in woodlots),
        lines_unplanned=sum(row.lines_unplanned for row in woodlots),
    )


def _urgency(tank: TankNow) -> tuple[float, str]:
    """The first to be full first; a tank that cannot be told comes after those that can."""
    # The name decides between equals, so that the order is the same at every look.
    unknown = float("inf")
    return (unknown if tank.hours_left is None else tank.hours_left, tank.tank.name)

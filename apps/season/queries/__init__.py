"""What a season gave, woodlot by woodlot, in the unit the operation reads."""

from apps.season.queries.rows import SourceYield
from apps.season.queries.taps import Taps, taps_by_woodlot
from apps.season.queries.timeline import Timeline, cumulative_sap
from apps.season.queries.yields import SeasonYield, season_yield

__all__ = [
    "SeasonYield",
    "SourceYield",
    "Taps",
    "Timeline",
    "cumulative_sap",
    "season_yield",
    "taps_by_woodlot",
]

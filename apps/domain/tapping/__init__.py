"""When to start tapping, which mornings to be ready by, when it is too cold, how many taps a tree.

Formula: see the parts: `back_plan` counts working days back from a ready morning, `reforecast`
forward from the taps actually made, `seasons` orders past first runs within their season,
`cold` gives wind chill and the days a crew stays home, `guideline` taps by diameter.
Units: snow in metres, temperatures in C, wind in km/h, diameters in cm, time in pair-hours (an
hour of a crew of two) and whole days.
Validity: a season runs from 1 December and is named by its spring. Nothing is smoothed or
interpolated, and nothing here says yes or no for the producer.
Source: paces, lost days and the two-in-ten default are common practice, no source; wind chill
and the tapping guidelines name theirs.
"""

from apps.domain.tapping.back_plan import (
    BackPlan,
    BackPlanInput,
    PlanDay,
    RunsBeforeReady,
    back_plan,
    runs_before_ready,
)
from apps.domain.tapping.cold import (
    ColdLimits,
    WorkHours,
    judge_work_hours,
    too_cold,
    wind_chill_c,
)
from apps.domain.tapping.guideline import (
    RULE_SETS,
    RuleSet,
    diameter_cm_from_circumference,
    taps_for_diameter,
)
from apps.domain.tapping.pace import SnowPaces, WoodlotLine, WoodlotWork, pace_taps_per_pair_hour
from apps.domain.tapping.reforecast import Reforecast, ReforecastInput, reforecast
from apps.domain.tapping.seasons import (
    ReadyDate,
    days_from_december,
    ready_morning_from_history,
    season_of,
    seasons_missed,
)

__all__ = [
    "RULE_SETS",
    "BackPlan",
    "BackPlanInput",
    "ColdLimits",
    "PlanDay",
    "ReadyDate",
    "Reforecast",
    "ReforecastInput",
    "RuleSet",
    "RunsBeforeReady",
    "SnowPaces",
    "WoodlotLine",
    "WoodlotWork",
    "WorkHours",
    "back_plan",
    "days_from_december",
    "diameter_cm_from_circumference",
    "judge_work_hours",
    "pace_taps_per_pair_hour",
    "ready_morning_from_history",
    "reforecast",
    "runs_before_ready",
    "season_of",
    "seasons_missed",
    "taps_for_diameter",
    "too_cold",
    "wind_chill_c",
]

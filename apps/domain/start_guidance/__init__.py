"""When to start tapping: every possible start weighed by members and past seasons, one window told.

Formula: the parts are in `starts` (the calendar of each start), `seen` (what the members say of the
days ahead), `first_run` (when the first run may come), `recommend` (the window, its reasons, the
runner-up), `at_risk` (run days missed by waiting, weeks a hole waits), `changes` (what
would change the answer) and `order` (which woodlot first).
Units: whole days, shares 0 to 1, C, degree-hours over 0 C.
Validity: the next three weeks, redone each evening. Unknown stays unknown.
Source: each part names its own.
"""

from apps.domain.start_guidance.at_risk import (
    AgeingShares,
    MissedRuns,
    runs_missed,
    weeks_waited,
)
from apps.domain.start_guidance.changes import Change, what_changes
from apps.domain.start_guidance.first_run import (
    FEWEST_RECORDED,
    Chance,
    FirstRunDates,
    Past,
    PastSource,
    first_run_dates,
    pooled,
)
from apps.domain.start_guidance.order import WoodlotRun, woodlot_order
from apps.domain.start_guidance.recommend import (
    Guidance,
    Question,
    Reason,
    Stage,
    StartRow,
    WarmDay,
    Window,
    recommend,
)
from apps.domain.start_guidance.seen import (
    USUAL_SIGNS,
    DaySeen,
    Seen,
    Signs,
    gathered_since_hard_freeze,
    look_ahead,
)
from apps.domain.start_guidance.starts import PossibleStart, possible_starts

__all__ = [
    "FEWEST_RECORDED",
    "USUAL_SIGNS",
    "AgeingShares",
    "Chance",
    "Change",
    "DaySeen",
    "FirstRunDates",
    "Guidance",
    "MissedRuns",
    "Past",
    "PastSource",
    "PossibleStart",
    "Question",
    "Reason",
    "Seen",
    "Signs",
    "Stage",
    "StartRow",
    "WarmDay",
    "Window",
    "WoodlotRun",
    "first_run_dates",
    "gathered_since_hard_freeze",
    "look_ahead",
    "pooled",
    "possible_starts",
    "recommend",
    "runs_missed",
    "weeks_waited",
    "what_changes",
    "woodlot_order",
]

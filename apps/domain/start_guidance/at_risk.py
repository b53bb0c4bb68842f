"""What waiting puts at risk, and how long a hole would wait for its first run.

Formula: run days missed by a start = over the forecast's run days, the sum of the share of taps not
in that morning, for each member; low, middle and high are the weighted 10th, 50th and 90th
percentile of the members. Weeks waited = days from the ready morning to the day by which half of
the first run's chance has come, over 7. Sap lost to ageing = weeks x the operation's own figure.
Units: run days of the whole woods, weeks, shares 0 to 1.
Validity: only days inside the forecast; run days beyond it are not counted, so what waiting risks
is at least this. A single forecast gives one value and no range. No published share of sap lost for
each week a hole waits was found: without the operation's own figure it is not known.
Source: counting; a hole ages by warmth and microbes more than by days, so weeks are a rough guide
(Wilmot, as quoted in Northern Woodlands).
"""

from dataclasses import dataclass

import numpy as np

from apps.domain.errors import DomainError, require_range
from apps.domain.start_guidance.first_run import FirstRunDates
from apps.domain.start_guidance.seen import Seen
from apps.domain.start_guidance.starts import PossibleStart

LOW, MIDDLE, HIGH = 0.1, 0.5, 0.9
DAYS_A_WEEK = 7


@dataclass(frozen=True, slots=True)
class MissedRuns:
    """Run days of the whole woods missed inside the forecast; `a_range` is False for one series."""

    low: float
    middle: float
    high: float
    a_range: bool


@dataclass(frozen=True, slots=True)
class AgeingShares:
    """The operation's own range of the share of a season's sap lost for each week a hole waits."""

    low: float
    high: float

    def __post_init__(self) -> None:
        require_range("low", self.low, 0, 1)
        require_range("high", self.high, 0, 1)
        if self.low > self.high:
            raise DomainError(f"low {self.low:g} must not be over high {self.high:g}")

    def lost(self, weeks: float) -> tuple[float, float]:
        """Share of a season's sap lost over this many weeks, at most all of it."""
        return min(1.0, self.low * weeks), min(1.0, self.high * weeks)


def runs_missed(seen: Seen, work: PossibleStart) -> MissedRuns:
    """Run days missed inside the forecast by starting then."""
    out = np.array([1 - work.share_set(day.date) for day in seen.days])
    missed = (seen.runs * out).sum(axis=1)
    order = np.argsort(missed)
    reached = np.cumsum(seen.weight[order])
    # Weights sum to 1 but for rounding; the last member must still be found.
    places = np.searchsorted(reached, np.array([LOW, MIDDLE, HIGH]) * reached[-1] * (1 - 1e-12))
    low, middle, high = missed[order][places].tolist()
    return MissedRuns(low, middle, high, a_range=seen.fit_for_percent)


def weeks_waited(first_run: FirstRunDates, work: PossibleStart) -> float | None:
    """Weeks from the ready morning to the likely first run, 0 when it is past, None if unknown."""
    likely = first_run.day_reached(MIDDLE)
    return None if likely is None else max(0, (likely - work.ready_morning).days) / DAYS_A_WEEK

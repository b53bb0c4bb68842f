"""Which line to walk to next: sap recovered per hour of walking and fixing.

Formula: deficit d = max(0, target - reading); loss a day = taps x q x share lost, with the loss
models of `vacuum`; rank by loss / ((walk + fix minutes) / 60), most first, ties in the order
given. A line's target is the one wanted, or 2 in under the line's own ceiling if that is lower.
Units: vacuum in kPa, sap in litres, k per inch of mercury, minutes.
Validity: the reading must stand for the line's taps. A frozen line, a missing reading and a
gauge fault (over 0.5 in above the ceiling) give no rank: they are kept apart with the reason.
Source: 5 % of sap per inch as in `vacuum`. That gain over time orders jobs so that least is lost
while they wait: Smith, Naval Research Logistics Quarterly 3 (1956), from memory. 30 minutes to
walk, 15 to fix and 0.9 gallons a tap and day are common practice, no source: use the operation's
own as soon as there are any.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import zip_longest
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from apps.domain.errors import DomainError, require_range
from apps.domain.units import LITRES_PER_US_GALLON
from apps.domain.vacuum import (
    FAULT_SLACK_KPA,
    GAIN_PER_INHG,
    LossModel,
    default_target_kpa,
    is_gauge_fault,
    share_lost,
)

LineStatus = Literal["tight", "fixed", "left", "frozen", "unchecked"]
NotRankedReason = Literal["frozen", "no reading", "gauge fault", "at target"]

SAP_LITRES_PER_TAP_DAY = 0.9 * LITRES_PER_US_GALLON
WALK_MINUTES, FIX_MINUTES = 30.0, 15.0
MINUTES_PER_HOUR = 60
# A line answers for all that runs into it: 20,000 taps on each of 5,000 lines at the very most.
MOST_TAPS = 100_000_000
# Far over any air: a gauge at fault is kept and shown, a figure in another unit is refused.
HIGHEST_READING_KPA = 200.0

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class LineState:
    """A line as last seen; minutes are from where the walk starts, readings gauge vacuum.

    `line_id` tells it from every other line; `name` is what people call it, where that differs.
    """

    line_id: str
    taps: int
    reading_kpa: float | None
    state: LineStatus = "unchecked"
    walk_minutes: float = WALK_MINUTES
    fix_minutes: float = FIX_MINUTES
    ceiling_kpa: float | None = None
    name: str = ""

    def __post_init__(self) -> None:
        require_range("taps", self.taps, 0, MOST_TAPS)
        require_range("walk_minutes", self.walk_minutes, 0, 24 * MINUTES_PER_HOUR)
        require_range("fix_minutes", self.fix_minutes, 0, 24 * MINUTES_PER_HOUR)
        if self.walk_minutes + self.fix_minutes == 0:
            raise DomainError("walk_minutes and fix_minutes must not both be 0")
        if self.reading_kpa is not None:
            require_range("reading_kpa", self.reading_kpa, 0, HIGHEST_READING_KPA)


@dataclass(frozen=True, slots=True)
class RankedLine:
    """A line with what it loses; `why` compares it with the line below it."""

    line_id: str
    name: str
    target_kpa: float
    deficit_kpa: float
    share_lost: float
    litres_per_day: float
    minutes: float
    litres_per_hour: float
    why: str


@dataclass(frozen=True, slots=True)
class NotRanked:
    """A line without a rank, and why."""

    line_id: str
    reason: NotRankedReason


@dataclass(frozen=True, slots=True)
class Ranking:
    """Lines in the order to walk to them, and the lines set aside, each once."""

    ranked: tuple[RankedLine, ...]
    not_ranked: tuple[NotRanked, ...]
    model: LossModel


@dataclass(frozen=True, slots=True)
class RankedArrays:
    """`order` indexes the lines worth a walk, best first; the figures are per line, (lines,).

    Lines without a usable reading have NaN litres.
    """

    order: npt.NDArray[np.intp]
    litres_per_day: Floats
    litres_per_hour: Floats


def rank(
    lines: Iterable[LineState],
    *,
    target_kpa: float,
    sap_litres_per_tap_day: float = SAP_LITRES_PER_TAP_DAY,
    k_per_inhg: float = GAIN_PER_INHG,
    model: LossModel = "linear",
    gauge_slack_kpa: float = FAULT_SLACK_KPA,
) -> Ranking:
    """Rank lines by litres recovered per hour spent.

    Raises OutOfRange for a target or sap per tap that cannot be, DomainError for another model.
    """
    require_range("sap_litres_per_tap_day", sap_litres_per_tap_day, 0, 100)
    found: list[RankedLine] = []
    aside: list[NotRanked] = []
    for line in lines:
        target = _target(line, target_kpa)
        reason = _reason_not_ranked(line, target, gauge_slack_kpa)
        if reason is not None or line.reading_kpa is None:
            aside.append(NotRanked(line.line_id, reason or "no reading"))
            continue
        deficit = target - line.reading_kpa
        # A low ceiling lowers the target, not the sap: the season's loads were gathered under it.
        share = share_lost(deficit, target, k_per_inhg, model)
        litres = line.taps * sap_litres_per_tap_day * share
        minutes = line.walk_minutes + line.fix_minutes
        per_hour = litres / (minutes / MINUTES_PER_HOUR)
        found.append(
            RankedLine(
                line_id=line.line_id,
                name=line.name or line.line_id,
                target_kpa=target,
                deficit_kpa=deficit,
                share_lost=share,
                litres_per_day=litres,
                minutes=minutes,
                litres_per_hour=per_hour,
                why="",
            )
        )
    return Ranking(_in_order(found), tuple(aside), model)


def rank_arrays(
    taps: npt.NDArray[Any],
    reading_kpa: Floats,
    minutes: Floats,
    *,
    target_kpa: float | Floats,
    sap_litres_per_tap_day: float = SAP_LITRES_PER_TAP_DAY,
    k_per_inhg: float = GAIN_PER_INHG,
    model: LossModel = "linear",
) -> RankedArrays:
    """The same ranking for (lines,) arrays; NaN for a reading that is missing or not usable.

    `minutes` is walk plus fix, `target_kpa` one number or one per line. Raises DomainError for
    unequal lengths, OutOfRange for a value that cannot be.
    """
    if not taps.shape == reading_kpa.shape == minutes.shape or taps.ndim != 1:
        raise DomainError("taps, reading_kpa and minutes must be equally long lists of lines")
    require_range("taps", taps, 0, MOST_TAPS)
    require_range("minutes", minutes, 1e-3, 48 * MINUTES_PER_HOUR)
    require_range("sap_litres_per_tap_day", sap_litres_per_tap_day, 0, 100)
    # The extremes alone, passing over NaN: looking at every reading would cost half a sort.
    extremes = [np.fmin.reduce(reading_kpa, initial=0.0), np.fmax.reduce(reading_kpa, initial=0.0)]
    require_range("reading_kpa", np.array(extremes), 0, HIGHEST_READING_KPA)
    # maximum keeps NaN, so a line without a reading has no deficit rather than none.
    deficit = np.maximum(target_kpa - reading_kpa, 0)
    known = deficit == deficit
    # Unknown readings pass through the formula as no deficit and are made unknown again after.
    share = share_lost(np.where(known, deficit, 0), np.asarray(target_kpa), k_per_inhg, model)
    litres = np.where(known, taps * share * sap_litres_per_tap_day, np.nan)
    per_hour = litres / (minutes / MINUTES_PER_HOUR)
    worth = np.flatnonzero(per_hour > 0)
    return RankedArrays(worth[_falling(per_hour[worth])], litres, per_hour)


def _target(line: LineState, target_kpa: float) -> float:
    require_range("target_kpa", target_kpa, 1, 110)
    if line.ceiling_kpa is None:
        return target_kpa
    return default_target_kpa(line.ceiling_kpa, target_kpa)


def _reason_not_ranked(
    line: LineState, target_kpa: float, slack_kpa: float
) -> NotRankedReason | None:
    # Frozen goes before the gauge, which may read well on a line that passes nothing.
    if line.state == "frozen":
        return "frozen"
    if line.reading_kpa is None:
        return "no reading"
    ceiling_kpa = line.ceiling_kpa
    if ceiling_kpa is not None and is_gauge_fault(line.reading_kpa, ceiling_kpa, slack_kpa):
        return "gauge fault"
    # Without taps there is nothing to lose, however bad the reading.
    if line.taps == 0 or line.reading_kpa >= target_kpa:
        return "at target"
    return None


def _in_order(found: list[RankedLine]) -> tuple[RankedLine, ...]:
    # Sorting is stable, so equal lines keep the order they were given in.
    ordered = sorted(found, key=lambda line: -line.litres_per_hour)
    return tuple(
        replace(line, why=_why(line, following))
        for line, following in zip_longest(ordered, ordered[1:])
    )


def _why(line: RankedLine, below: RankedLine | None) -> str:
    if below is None:
        return "least sap for the time it takes"
    if line.litres_per_hour == below.litres_per_hour:
        return f"level with {below.name}; kept in the order given"
    more_sap = line.litres_per_day > below.litres_per_day
    less_time = line.minutes < below.minutes
    if more_sap and less_time:
        reason = "more sap lost and less time to reach and fix"
    elif more_sap:
        longer = "a longer job" if line.minutes > below.minutes else "the same time"
        reason = f"more sap lost, for {longer}"
    elif line.litres_per_day == below.litres_per_day:
        reason = "the same sap lost, in less time"
    else:
        reason = "less sap lost, but so much sooner reached and fixed that it pays"
    return f"above {below.name}: {reason}"


def _falling(values: Floats) -> npt.NDArray[np.intp]:
    """Indices of values in falling order, equal values in the order given."""
    # A stable sort cannot use the processor's wide instructions. Sorting plainly, and then the
    # pairs (place, index) as single whole numbers, can, and keeps equal values in order.
    order = np.argsort(-values)
    places = np.cumsum(np.diff(values[order], prepend=np.inf) != 0)
    if values.size == 0 or places[-1] == values.size:
        return order
    keys = places * values.size + order
    keys.sort()
    return keys % values.size

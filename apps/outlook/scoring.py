"""Stated days held against the days that came: how far off, how often right, by lead day.

Formula: error = stated - came, so a mean error over 0 means forecast too warm; mean absolute error
beside it. A day counts as called when its stated chance is at least a half, or when the only
forecast there was says yes. Hits are called and came, false alarms called and did not come, misses
came uncalled. Brier score and reliability are those of `domain.sap_run.scoring`; beside the score
stands the one of always stating the share that came, o (1 - o).
Spans: the middle 95 % over whole weeks of days drawn anew (block bootstrap). Every woodlot of a
day goes with its day, so that woodlots side by side, which freeze on the same nights, do not make
a span narrower than the days they share allow. A share of all or none in n days reaches 3 / n in.
Units: C, days, probabilities 0 to 1.
Validity: one statement a woodlot, local day and lead. Nothing is said of under ten different days,
no span is given of under five weeks with a day in them, and one of few weeks is too narrow.
Source: Jolliffe and Stephenson, Forecast Verification (2nd ed. 2012), for hits and false alarms,
Brier (1950), Monthly Weather Review 78:1, Kunsch (1989), Annals of Statistics 17:1217, for blocks,
Hanley and Lippman-Hand (1983), JAMA 249:1743, for 3 / n (all from memory); ten days, a week and
five of them are common practice, no source.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from apps.domain.sap_run.scoring import block_totals, day_blocks, drawn_totals, middle_of

FEWEST_DAYS = 10
CALLED_FROM = 0.5
# Longer than most spells of weather: a warm spell should not be counted as many days of luck.
BLOCK_DAYS = 7
FEWEST_BLOCKS = 5

Sums = npt.NDArray[np.floating[Any]]


class Span(NamedTuple):
    """The ends of the middle 95 % of what weeks drawn anew give."""

    low: float
    high: float


@dataclass(frozen=True)
class Pair:
    """One woodlot's day as stated `lead_days` before and as it came; None where it is unknown."""

    woodlot_id: int
    date: date
    lead_days: int
    stated_minimum_c: float | None
    stated_maximum_c: float | None
    probability: float | None
    verdict: str
    minimum_c: float
    maximum_c: float
    came: bool | None
    source: str

    @property
    def called(self) -> bool | None:
        if self.probability is not None:
            return self.probability >= CALLED_FROM
        return None if self.verdict == "unknown" else self.verdict == "yes"

    @property
    def chance_known(self) -> bool:
        return self.probability is not None and self.came is not None


@dataclass(frozen=True)
class Miss:
    """Mean error and mean absolute error over `woodlot_days` of so many different `days`."""

    days: int
    woodlot_days: int
    bias_c: float | None = None
    absolute_c: float | None = None
    bias_span_c: Span | None = None
    absolute_span_c: Span | None = None


@dataclass(frozen=True)
class Calls:
    """How the calls of freeze-thaw days went, each woodlot's day counted.

    The shares are None where nothing was to be called; `days` are the different ones, and
    `enough` tells whether they suffice to go by.
    """

    hits: int
    misses: int
    false_alarms: int
    right_noes: int
    days: int
    hit_span: Span | None = None
    false_span: Span | None = None

    @property
    def woodlot_days(self) -> int:
        return self.hits + self.misses + self.false_alarms + self.right_noes

    @property
    def enough(self) -> bool:
        return self.days >= FEWEST_DAYS

    @property
    def hit_share(self) -> float | None:
        """Of the days that came, those called."""
        return _share(self.hits, self.hits + self.misses)

    @property
    def false_share(self) -> float | None:
        """Of the days called, those that did not come."""
        return _share(self.false_alarms, self.hits + self.false_alarms)


@dataclass(frozen=True)
class Chances:
    """The Brier score of stated chances beside that of always stating `base_rate`, what came.

    `gain_span` is that of the score less the other: under nought the chances were the better.
    """

    days: int
    woodlot_days: int
    brier: float | None = None
    brier_span: Span | None = None
    base_rate: float | None = None
    average_brier: float | None = None
    gain_span: Span | None = None

    @property
    def verdict(self) -> str:
        """ "better" or "worse" only where the whole span says so."""
        if self.gain_span is None:
            return "too few weeks to tell"
        if self.gain_span.high < 0:
            return "better"
        return "worse" if self.gain_span.low > 0 else "cannot tell"


@dataclass(frozen=True)
class LeadScore:
    """Everything stated so many days ahead."""

    lead_days: int
    days: int
    woodlot_days: int
    low: Miss
    high: Miss
    calls: Calls
    chances: Chances


def by_lead(pairs: Iterable[Pair]) -> list[LeadScore]:
    """One score for each lead there is a pair of, the shortest first."""
    grouped: dict[int, list[Pair]] = {}
    for pair in pairs:
        grouped.setdefault(pair.lead_days, []).append(pair)
    return [_score(lead, grouped[lead]) for lead in sorted(grouped)]


def distinct_days(pairs: Iterable[Pair]) -> int:
    return len({pair.date for pair in pairs})


def woodlot_days(pairs: Iterable[Pair]) -> int:
    """Each woodlot's day once, whatever the number of leads that spoke of it."""
    return len({(pair.woodlot_id, pair.date) for pair in pairs})


class _Weeks:
    """Pairs as columns, summed by week: what the whole gives, and what weeks drawn anew give."""

    def __init__(self, pairs: Sequence[Pair], columns: Sequence[Sequence[float]]) -> None:
        days = [pair.date.toordinal() for pair in pairs]
        self.totals = block_totals(np.column_stack(columns), day_blocks(days, BLOCK_DAYS))
        # Of three weeks the same few draws come up again and again: no span is better than that.
        self.drawn = drawn_totals(self.totals) if len(self.totals) >= FEWEST_BLOCKS else None

    def value(self, score: Callable[[Sums], Sums]) -> float:
        return float(score(self.totals.sum(axis=0, keepdims=True))[0])

    def span(self, score: Callable[[Sums], Sums]) -> Span | None:
        """The very score of `value`, over the draws; None with too few weeks to draw from."""
        middle = None if self.drawn is None else middle_of(score(self.drawn))
        return None if middle is None else Span(*middle)


def share_span(pairs: Sequence[Pair], part: Sequence[bool], whole: Sequence[bool]) -> Span | None:
    """The span of the share of the pairs in `whole` that are in `part`."""
    span = _Weeks(pairs, [part, whole]).span(_mean(0)) if pairs else None
    if span is None or span.low < span.high:
        return span
    # All or none: no draw shows what never happened, and yet it may (the rule of three).
    days = distinct_days(pair for pair, counted in zip(pairs, whole, strict=True) if counted)
    unseen = min(1.0, 3 / days)
    return Span(1 - unseen, 1.0) if span.low else Span(0.0, unseen)


def _mean(place: int) -> Callable[[Sums], Sums]:
    """The column at `place` over the last one, which counts; NaN where a draw counts none."""
    return lambda sums: _over(sums[:, place], sums[:, -1])


def _over(part: Sums, whole: Sums) -> Sums:
    # A draw may hold no day that came; it has no share, and is left out of the span.
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(whole > 0, part / whole, np.nan)


def _score(lead: int, pairs: Sequence[Pair]) -> LeadScore:
    # Each part counts its own days: a day may have a low and no chance, or a chance and no low.
    return LeadScore(
        lead_days=lead,
        days=distinct_days(pairs),
        woodlot_days=woodlot_days(pairs),
        low=miss(pairs, "minimum_c"),
        high=miss(pairs, "maximum_c"),
        calls=_calls(pairs),
        chances=_chances([pair for pair in pairs if pair.chance_known]),
    )


def miss(pairs: Iterable[Pair], field: str) -> Miss:
    """How far the stated `field`, minimum_c or maximum_c, was from what came."""
    known = [pair for pair in pairs if getattr(pair, f"stated_{field}") is not None]
    days = distinct_days(known)
    # Ten woodlots on one night are one night: different days are what is counted here.
    if days < FEWEST_DAYS:
        return Miss(days, len(known))
    errors = [getattr(pair, f"stated_{field}") - getattr(pair, field) for pair in known]
    weeks = _Weeks(known, [errors, np.abs(errors).tolist(), [1.0] * len(known)])
    bias, absolute = _mean(0), _mean(1)
    return Miss(
        days=days,
        woodlot_days=len(known),
        bias_c=weeks.value(bias),
        absolute_c=weeks.value(absolute),
        bias_span_c=weeks.span(bias),
        absolute_span_c=weeks.span(absolute),
    )


def _calls(pairs: Iterable[Pair]) -> Calls:
    # Judged and told apart only where both are known: an unknown is neither a yes nor a no.
    known = [pair for pair in pairs if None not in (pair.called, pair.came)]
    came = [bool(pair.came) for pair in known]
    called = [bool(pair.called) for pair in known]
    hits = [one and other for one, other in zip(called, came, strict=True)]
    false = [one and not other for one, other in zip(called, came, strict=True)]
    return Calls(
        hits=sum(hits),
        misses=sum(came) - sum(hits),
        false_alarms=sum(false),
        right_noes=len(known) - sum(came) - sum(false),
        days=distinct_days(known),
        hit_span=share_span(known, hits, came),
        false_span=share_span(known, false, called),
    )


def _chances(known: Sequence[Pair]) -> Chances:
    days = distinct_days(known)
    if days < FEWEST_DAYS:
        return Chances(days, len(known))
    came = np.array([bool(pair.came) for pair in known], dtype=np.float64)
    stated = np.array([pair.probability for pair in known], dtype=np.float64)
    squares = ((stated - came) ** 2).tolist()
    # Score and base rate go through the draws together: what is asked is their difference, and a
    # cold week drawn twice moves both.
    weeks = _Weeks(known, [squares, came.tolist(), [1.0] * len(known)])
    score, rate = _mean(0), _mean(1)
    return Chances(
        days=days,
        woodlot_days=len(known),
        brier=weeks.value(score),
        brier_span=weeks.span(score),
        base_rate=weeks.value(rate),
        average_brier=weeks.value(lambda sums: rate(sums) * (1 - rate(sums))),
        gain_span=weeks.span(lambda sums: score(sums) - rate(sums) * (1 - rate(sums))),
    )


def _share(part: int, whole: int) -> float | None:
    return part / whole if whole else None

"""Stated days held against the days that came: how far off, how often right, by lead day.

Formula: error = stated - came, so a mean error over 0 means forecast too warm; mean absolute error
beside it. A day counts as called when its stated chance is at least a half, or when the only
forecast there was says yes. Hits are called and came, false alarms called and did not come, misses
came uncalled. Brier score and reliability are those of `domain.sap_run.scoring`; beside the score
stands the one of always stating the share that came, o (1 - o).
Units: C, days, probabilities 0 to 1.
Validity: one statement a woodlot, local day and lead. Nothing is said of under ten days. Days in a
row are alike, so a hundred of them are worth fewer than a hundred throws of a coin.
Source: Jolliffe and Stephenson, Forecast Verification (2nd ed. 2012), for hits and false alarms,
and Brier (1950), Monthly Weather Review 78:1 (both from memory); the ten days are common practice,
no source.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from apps.domain.sap_run.scoring import Tenth, brier, reliability

FEWEST_DAYS = 10
# A picture of tenths needs more days than a single figure does.
FEWEST_CHANCES = 50
CALLED_FROM = 0.5


@dataclass(frozen=True)
class Pair:
    """One day as stated `lead_days` before and as it came; None where either is unknown."""

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


@dataclass(frozen=True)
class Miss:
    """Mean error and mean absolute error over `days`; both None under ten of them."""

    days: int
    bias_c: float | None
    absolute_c: float | None


@dataclass(frozen=True)
class Calls:
    """How the calls of freeze-thaw days went; the shares are None where nothing was to be called.

    `enough` tells whether the days suffice to go by.
    """

    hits: int
    misses: int
    false_alarms: int
    right_noes: int

    @property
    def days(self) -> int:
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
    """The Brier score of stated chances beside that of always stating the share that came."""

    days: int
    brier: float | None
    average_brier: float | None

    @property
    def better(self) -> bool | None:
        if self.brier is None or self.average_brier is None:
            return None
        return self.brier < self.average_brier


@dataclass(frozen=True)
class LeadScore:
    """Everything stated so many days ahead."""

    lead_days: int
    low: Miss
    high: Miss
    calls: Calls
    chances: Chances

    @property
    def days(self) -> int:
        return max(self.low.days, self.high.days, self.calls.days)


def by_lead(pairs: Iterable[Pair]) -> list[LeadScore]:
    """One score for each lead there is a pair of, the shortest first."""
    grouped: dict[int, list[Pair]] = {}
    for pair in pairs:
        grouped.setdefault(pair.lead_days, []).append(pair)
    return [_score(lead, grouped[lead]) for lead in sorted(grouped)]


def tenths(pairs: Sequence[Pair]) -> list[Tenth] | None:
    """The reliability of all stated chances together; None while there are under fifty."""
    known = chances_known(pairs)
    if len(known) < FEWEST_CHANCES:
        return None
    return reliability([stated for stated, _ in known], [came for _, came in known])


def chances_known(pairs: Iterable[Pair]) -> list[tuple[float, bool]]:
    """The stated chance and whether it came, of the pairs in which both are known."""
    return [
        (pair.probability, pair.came)
        for pair in pairs
        if pair.probability is not None and pair.came is not None
    ]


def days_by_source(pairs: Iterable[Pair]) -> dict[str, int]:
    """How many days, each counted once, were judged by which source."""
    return dict(Counter({pair.date: pair.source for pair in pairs}.values()))


def _score(lead: int, pairs: Sequence[Pair]) -> LeadScore:
    lows = [(p.stated_minimum_c, p.minimum_c) for p in pairs]
    highs = [(p.stated_maximum_c, p.maximum_c) for p in pairs]
    return LeadScore(lead, _miss(lows), _miss(highs), _calls(pairs), _chances(pairs))


def _miss(values: Iterable[tuple[float | None, float]]) -> Miss:
    errors = np.array([stated - came for stated, came in values if stated is not None])
    if errors.size < FEWEST_DAYS:
        return Miss(int(errors.size), None, None)
    return Miss(int(errors.size), float(errors.mean()), float(np.abs(errors).mean()))


def _calls(pairs: Iterable[Pair]) -> Calls:
    seen = Counter((pair.called, pair.came) for pair in pairs)
    return Calls(
        hits=seen[True, True],
        misses=seen[False, True],
        false_alarms=seen[True, False],
        right_noes=seen[False, False],
    )


def _chances(pairs: Iterable[Pair]) -> Chances:
    known = chances_known(pairs)
    if len(known) < FEWEST_DAYS:
        return Chances(len(known), None, None)
    came = [float(one) for _, one in known]
    average = sum(came) / len(came)
    score = brier([stated for stated, _ in known], came)
    return Chances(len(known), score, average * (1 - average))


def _share(part: int, whole: int) -> float | None:
    return part / whole if whole else None

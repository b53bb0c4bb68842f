"""Whether stated chances meant what they said, and who was asked about what came.

Formula: the tenths of `domain.sap_run.scoring.reliability`, their bands as wide as for the
different days in them, beside the span of the share that came over whole weeks drawn anew.
Units: probabilities 0 to 1, days.
Validity: fifty statements of different days and leads at least; woodlots side by side count once.
A tenth is called wrong only when luck alone does not explain it and its span leaves out what was
said: of ten tenths one would otherwise stray too often.
Source: Murphy (1973), J. Applied Meteorology 12:595, from memory; fifty is common practice, no
source.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from apps.domain.sap_run.scoring import Tenth, reliability, tenth_of
from apps.outlook.scoring import Miss, Pair, Span, distinct_days, miss, share_span, woodlot_days

# A picture of tenths needs more days than a single figure does.
FEWEST_CHANCES = 50
# The judges are compared where a forecast is still sharp, or their own leads would differ.
SHARP_LEADS = 3


@dataclass(frozen=True)
class SaidTenth(Tenth):
    """A tenth of what was said, with its different days and the span of what came."""

    days: int = 0
    span: Span | None = None

    @property
    def as_said(self) -> bool | None:
        """Whether luck or the span explains what came; None without a day."""
        if self.stated is None:
            return None
        spanned = self.span is not None and self.span.low <= self.stated <= self.span.high
        return spanned or self.within


@dataclass(frozen=True)
class Judged:
    """What one source told of what came, and how far the nearest forecasts were from it."""

    source: str
    woodlot_ids: frozenset[int]
    days: int
    woodlot_days: int
    low: Miss
    high: Miss


def chances_said(pairs: Iterable[Pair]) -> int:
    """Statements with a chance, woodlots of one day and lead counted once."""
    return len({(pair.date, pair.lead_days) for pair in pairs if pair.chance_known})


def tenths(pairs: Sequence[Pair]) -> list[SaidTenth] | None:
    """The reliability of all stated chances together; None while there are under fifty."""
    known = [pair for pair in pairs if pair.chance_known]
    if chances_said(known) < FEWEST_CHANCES:
        return None
    stated = np.array([pair.probability for pair in known], dtype=np.float64)
    came = np.array([pair.came for pair in known], dtype=np.float64)
    found = reliability(stated, came, [pair.date.toordinal() for pair in known])
    grouped: list[list[Pair]] = [[] for _ in found]
    for place, pair in zip(tenth_of(stated), known, strict=True):
        grouped[place].append(pair)
    return [_said(tenth, group) for tenth, group in zip(found, grouped, strict=True)]


def judged_by(pairs: Iterable[Pair]) -> list[Judged]:
    """One row for each source, the one that told of most days first."""
    grouped: dict[str, list[Pair]] = {}
    for pair in pairs:
        grouped.setdefault(pair.source, []).append(pair)
    rows = [_judged(source, group) for source, group in grouped.items()]
    return sorted(rows, key=lambda row: (-row.woodlot_days, row.source))


def _said(tenth: Tenth, pairs: Sequence[Pair]) -> SaidTenth:
    came = [bool(pair.came) for pair in pairs]
    span = share_span(pairs, came, [True] * len(pairs))
    return SaidTenth(**vars(tenth), days=distinct_days(pairs), span=span)


def _judged(source: str, pairs: Sequence[Pair]) -> Judged:
    near = [pair for pair in pairs if pair.lead_days <= SHARP_LEADS]
    return Judged(
        source=source,
        woodlot_ids=frozenset(pair.woodlot_id for pair in pairs),
        days=distinct_days(pairs),
        woodlot_days=woodlot_days(pairs),
        low=miss(near, "minimum_c"),
        high=miss(near, "maximum_c"),
    )

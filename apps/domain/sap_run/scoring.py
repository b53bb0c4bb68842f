"""How good stated probabilities were: Brier score, AUC, reliability by tenths, block bootstrap.

Formula: Brier = mean of (p - o)^2. AUC = share of all pairs of a day with the event and a day
without where the first had the higher p, ties counted half. Reliability: in each tenth of stated
probability the mean stated, the share that came, and the band the share should fall in, found
from the variance sum p (1 - p) of the days in it. Block bootstrap: whole blocks of days in a row
are drawn with replacement, the score taken anew each time, its percentiles the interval. A score
that is made of sums alone is taken from the sums of the blocks drawn, which comes to the same.
Units: none; probabilities 0 to 1, outcomes 0 or 1.
Validity: days with an unknown probability or outcome are left out. AUC is NaN without both
outcomes. The band of a tenth holds for independent days; days in a row are not, so score one day
of each winter, or read the band as too narrow. Where several places or leads speak of one day the
band can be told to count that day once. A bootstrap of few blocks is too narrow as well.
Source: Brier (1950), Monthly Weather Review 78:1; Hanley and McNeil (1982), Radiology 143:29;
Murphy (1973), J. Applied Meteorology 12:595; Kunsch (1989), Annals of Statistics 17:1217 (all from
memory).
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from apps.domain.errors import DomainError, require_range

Floats = npt.NDArray[np.floating[Any]]
Indices = npt.NDArray[np.intp]

TENTHS = 10
# 99.9 % of a tenth's chance misses lie inside; over ten tenths one in a hundred pictures strays.
BAND_SPREADS = 3.3


@dataclass(frozen=True)
class Tenth:
    """Stated probabilities from `low` up to `high`: how many, their mean, and the share that came.

    `band_low` and `band_high` are where the share should lie if what was stated is right; all
    are None without a day.
    """

    low: float
    high: float
    count: int
    stated: float | None = None
    came: float | None = None
    band_low: float | None = None
    band_high: float | None = None

    @property
    def within(self) -> bool | None:
        """Whether the share lies in the band, limits included; None without a day."""
        if self.came is None or self.band_low is None or self.band_high is None:
            return None
        return self.band_low <= self.came <= self.band_high


@dataclass(frozen=True)
class Interval:
    """A score with the percentiles of its bootstrap; draws without a score are not counted."""

    value: float
    low: float
    high: float
    draws: int


def known_pairs(probabilities: npt.ArrayLike, outcomes: npt.ArrayLike) -> tuple[Floats, Floats]:
    """Both as flat arrays without the days on which either is unknown.

    Raises DomainError for unequal lengths or an outcome not 0 or 1, OutOfRange for a probability
    outside 0 to 1.
    """
    stated = np.asarray(probabilities, dtype=np.float64).ravel()
    came = np.asarray(outcomes, dtype=np.float64).ravel()
    if stated.size != came.size:
        raise DomainError(f"outcomes must have {stated.size} days, not {came.size}")
    known = _known(stated, came)
    require_range("probabilities", stated[known], 0, 1)
    if not np.isin(came[known], (0, 1)).all():
        raise DomainError("outcomes must be 0, 1 or unknown")
    return stated[known], came[known]


def brier(probabilities: npt.ArrayLike, outcomes: npt.ArrayLike) -> float:
    """Mean squared error of the probabilities, 0 at best; NaN without a known day."""
    stated, came = known_pairs(probabilities, outcomes)
    return float(((stated - came) ** 2).mean()) if stated.size else float("nan")


def auc(scores: npt.ArrayLike, outcomes: npt.ArrayLike) -> float:
    """Area under the ROC curve of any score, higher meaning likelier; NaN without both outcomes.

    Raises DomainError for unequal lengths.
    """
    ranked = np.asarray(scores, dtype=np.float64).ravel()
    came = np.asarray(outcomes, dtype=np.float64).ravel()
    if ranked.size != came.size:
        raise DomainError(f"outcomes must have {ranked.size} days, not {came.size}")
    known = ~np.isnan(ranked) & ~np.isnan(came)
    hits, misses = ranked[known & (came == 1)], ranked[known & (came == 0)]
    if not hits.size or not misses.size:
        return float("nan")
    over = (hits[:, None] > misses).mean() + 0.5 * (hits[:, None] == misses).mean()
    return float(over)


def reliability(
    probabilities: npt.ArrayLike, outcomes: npt.ArrayLike, day_numbers: npt.ArrayLike | None = None
) -> list[Tenth]:
    """Ten tenths of stated probability; 1.0 belongs to the last.

    Given the number of each one's day, the bands are as wide as for that many days, however often
    each was spoken of. Raises DomainError for unequal lengths, as `known_pairs` does.
    """
    stated, came = known_pairs(probabilities, outcomes)
    size = np.size(probabilities)
    days = np.arange(size) if day_numbers is None else np.asarray(day_numbers).ravel()
    if days.size != size:
        raise DomainError(f"day_numbers must have {size} days, not {days.size}")
    days = days[_known(probabilities, outcomes)]
    places = [tenth_of(stated) == at for at in range(TENTHS)]
    return [_tenth(at, stated[own], came[own], days[own]) for at, own in enumerate(places)]


def tenth_of(probabilities: npt.ArrayLike) -> Indices:
    """The tenth, 0 to 9, that each stated probability belongs to."""
    # Rounded first: 0.3 in binary lies a hair under three tenths.
    tenths = np.floor(np.round(np.asarray(probabilities, dtype=np.float64) * TENTHS, 9))
    return np.minimum(tenths, TENTHS - 1).astype(np.intp)


def day_blocks(day_numbers: npt.ArrayLike, days: int) -> list[Indices]:
    """Places of the days cut into blocks of `days` calendar days, for numbered days.

    Number the days so that seasons lie more than a block apart, and no block spans two. Raises
    OutOfRange for a block outside 1 to 366 days.
    """
    require_range("days", days, 1, 366)
    block = np.asarray(day_numbers) // days
    return [np.flatnonzero(block == one) for one in np.unique(block)]


def block_bootstrap(
    score: Callable[[Indices], float],
    blocks: Sequence[Indices],
    *,
    draws: int = 2000,
    share: float = 0.95,
    seed: int = 0,
) -> Interval:
    """The score over all days and the percentiles over draws of as many blocks.

    `score` takes the places of the days drawn, repeats included. Raises DomainError without a
    block or when no draw gives a score.
    """
    require_range("share", share, 0.5, 0.999)
    if not blocks:
        raise DomainError("blocks must hold at least one block of days")
    rng = np.random.default_rng(seed)
    drawn = rng.integers(0, len(blocks), (draws, len(blocks)))
    values = np.array([score(np.concatenate([blocks[at] for at in row])) for row in drawn])
    middle = middle_of(values, share)
    if middle is None:
        raise DomainError("no draw of blocks gives a score")
    whole = score(np.concatenate(list(blocks)))
    return Interval(whole, *middle, int((~np.isnan(values)).sum()))


def block_totals(columns: npt.ArrayLike, blocks: Sequence[Indices]) -> Floats:
    """(blocks, columns): the sum of each column of (days, columns) over each block of days."""
    table = np.asarray(columns, dtype=np.float64)
    return np.array([table[block].sum(axis=0) for block in blocks]).reshape(-1, table.shape[1])


def drawn_totals(totals: npt.ArrayLike, *, draws: int = 2000, seed: int = 0) -> Floats:
    """(draws, columns): the column sums of as many blocks as there are, drawn with replacement.

    The same draws as `block_bootstrap` makes, without a call for each. Raises DomainError without
    a block.
    """
    table = np.asarray(totals, dtype=np.float64)
    blocks = len(table)
    if not blocks:
        raise DomainError("totals must hold at least one block of days")
    drawn = np.random.default_rng(seed).integers(0, blocks, (draws, blocks))
    # How often each block was drawn, counted for all draws at once; one product then adds them up.
    places = drawn + blocks * np.arange(draws)[:, None]
    times = np.bincount(places.ravel(), minlength=draws * blocks).reshape(draws, blocks)
    sums: Floats = times @ table
    return sums


def middle_of(values: npt.ArrayLike, share: float = 0.95) -> tuple[float, float] | None:
    """The ends of the middle share of what the draws gave; None when none of them gave a score.

    Raises OutOfRange for a share outside 0.5 to 0.999.
    """
    require_range("share", share, 0.5, 0.999)
    given = np.asarray(values, dtype=np.float64)
    given = given[~np.isnan(given)]
    if not given.size:
        return None
    low, high = np.quantile(given, [(1 - share) / 2, (1 + share) / 2])
    return float(low), float(high)


def _known(probabilities: npt.ArrayLike, outcomes: npt.ArrayLike) -> npt.NDArray[np.bool_]:
    stated = np.asarray(probabilities, dtype=np.float64).ravel()
    came = np.asarray(outcomes, dtype=np.float64).ravel()
    known: npt.NDArray[np.bool_] = ~np.isnan(stated) & ~np.isnan(came)
    return known


def _tenth(at: int, stated: Floats, came: Floats, days: npt.NDArray[Any]) -> Tenth:
    low, high = at / TENTHS, (at + 1) / TENTHS
    if not stated.size:
        return Tenth(low, high, 0)
    mean = float(stated.mean())
    # Half a day either way: with few days the share moves in steps that wide.
    count = np.unique(days).size
    spread = float(np.sqrt((stated * (1 - stated)).mean() * count))
    slack = (BAND_SPREADS * spread + 0.5) / count
    return Tenth(
        low,
        high,
        int(stated.size),
        mean,
        float(came.mean()),
        max(0.0, mean - slack),
        min(1.0, mean + slack),
    )

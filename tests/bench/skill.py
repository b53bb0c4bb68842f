"""How well the likelihood of a run does on the open sap record, leave one year out.

No speed here and no limit: the bounds are asserted in tests/unit/domain/test_sap_run_skill.py.
"""

from collections.abc import Callable, Iterator

import numpy as np

from apps.domain.sap_run import scoring
from tests.unit.domain import open_sap

HEAD = (
    f"{'run days of Whately 2013 and 2014, each by the other year':<58} "
    f"{'AUC':>6} {'95 %':>13} {'Brier':>6} {'95 %':>13}"
)
SHIFTS_C = (-1.0, 1.0)

Drawn = Callable[[np.ndarray], float]


def lines() -> Iterator[str]:
    scored = open_sap.leave_one_year_out()
    yield f"{HEAD}  ({scored.came.size} days, blocks of {open_sap.BLOCK_DAYS})"
    yield _line("likelihood", scored, scored.ours)
    for shift_c in SHIFTS_C:
        shifted = open_sap.leave_one_year_out(shift_c)
        yield _line(f"likelihood, every temperature {shift_c:+g} C", shifted, shifted.ours)
    yield _line("minimum < 0 < maximum, same day", scored, scored.same_day)
    for shift_c in SHIFTS_C:
        shifted = open_sap.leave_one_year_out(shift_c)
        yield _line(f"the same, every temperature {shift_c:+g} C", shifted, shifted.same_day)
    yield _line("minimum < 0 < maximum, the day before", scored, scored.day_before)
    yield _line("base rate of the other year", scored, scored.base_rate, ranks=False)
    yield _line("base rate of both years, in hindsight", scored, scored.pooled_rate, ranks=False)
    yield _line("daily maximum alone (no chance stated)", scored, scored.maximum_c, chance=False)


def _line(
    name: str,
    scored: open_sap.Scored,
    stated: np.ndarray,
    *,
    chance: bool = True,
    ranks: bool = True,
) -> str:
    came = scored.came
    blocks = scoring.day_blocks(scored.day, open_sap.BLOCK_DAYS)
    area = _cell(lambda at: scoring.auc(stated[at], came[at]), blocks) if ranks else " " * 20
    brier = _cell(lambda at: scoring.brier(stated[at], came[at]), blocks) if chance else ""
    return f"{name:<58} {area} {brier}".rstrip()


def _cell(score: Drawn, blocks: list[np.ndarray]) -> str:
    found = scoring.block_bootstrap(score, blocks)
    return f"{found.value:>6.2f} {f'{found.low:.2f} to {found.high:.2f}':>13}"

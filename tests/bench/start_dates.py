"""Start dates replayed at daily steps: ours beside three simple rules, all of it simulated.

Forecasts, crews, holes and past first runs are simulated on all winters, the temperatures on all
but the three open ones; the parameters stand in tests/unit/domain/start_date_worlds.py, which was
written before the rule.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

import numpy as np

from tests.unit.domain.start_date_replay import RULES, Regret, replay
from tests.unit.domain.start_date_worlds import MILD, OPEN, Winter, open_winter, simulated

SIMULATED, DRAWS = 200, 20
# Longer than any winter: what a start costs besides holes that dry.
NEVER_DRY_DAYS = 1000.0
BOOTSTRAPS = 2000


def lines(winters: int = SIMULATED, draws: int = DRAWS) -> Iterator[str]:
    yield (
        "start dates (SIMULATED forecasts): regret against the best start in hindsight, mean "
        "[middle 80 %]; difference to ours with its 95 % bootstrap interval"
    )
    made = _replayed(simulated(seed) for seed in range(winters))
    yield from _table(f"{winters} simulated winters", made)
    together: list[Regret] = []
    for site, season in OPEN:
        told = _replayed(open_winter(site, season, seed) for seed in range(draws))
        together += told
        yield from _table(f"{site}, {draws} draws of all but its temperatures", told)
    yield from _table("the three open winters together", together)
    lasting = [
        replace(open_winter(site, season, seed), hole_days=NEVER_DRY_DAYS)
        for site, season in MILD
        for seed in range(draws)
    ]
    yield from _table("New York City's two, with holes that never dry", _replayed(lasting))


def _replayed(winters: Iterable[Winter]) -> list[Regret]:
    return [one for winter in winters for one in replay(winter)]


def _table(title: str, regrets: Sequence[Regret]) -> Iterator[str]:
    yield title
    ours = _of("ours", regrets)
    for rule in RULES:
        mine = _of(rule, regrets)
        days, missed = (
            f"{column.mean():5.1f} [{np.quantile(column, 0.1):4.1f} to "
            f"{np.quantile(column, 0.9):5.1f}]{_difference(column - own)}"
            for column, own in zip(mine, ours, strict=True)
        )
        yield f"  {rule:<18} days {days}   run days missed {missed}"


def _of(rule: str, regrets: Sequence[Regret]) -> np.ndarray:
    """(days either way, run days missed), winter by winter."""
    mine = [one for one in regrets if one.rule == rule]
    return np.array([[abs(one.days) for one in mine], [one.run_days for one in mine]])


def _difference(values: np.ndarray) -> str:
    if not values.any():
        return ""
    rng = np.random.default_rng(0)
    means = rng.choice(values, (BOOTSTRAPS, values.size)).mean(axis=1)
    low, high = np.quantile(means, [0.025, 0.975])
    return f" ours {-values.mean():+.1f} ({-high:+.1f} to {-low:+.1f})"

"""How `make bench` measures: the best of several rounds, ours beside the bare limit of this run."""

import time
from collections.abc import Callable
from dataclasses import dataclass

ROUNDS = 5


@dataclass(frozen=True)
class Row:
    """One line of the table: what was done, both times, the ratio it should stay under."""

    name: str
    ours_ms: float
    bare_name: str
    bare_ms: float
    wanted_ratio: float | None

    @property
    def ratio(self) -> float:
        return self.ours_ms / self.bare_ms

    def text(self) -> str:
        wanted = f"<= {self.wanted_ratio:g}" if self.wanted_ratio else ""
        return (
            f"{self.name:<58} {self.ours_ms:>9.2f} {self.bare_ms:>9.2f} "
            f"{self.ratio:>7.2f} {wanted:>7}  {self.bare_name}"
        )


HEAD = f"{'what':<58} {'ours ms':>9} {'bare ms':>9} {'ratio':>7} {'wanted':>7}  bare limit"


def best_ms(
    work: Callable[[], object], rounds: int = ROUNDS, clock: Callable[[], float] = time.perf_counter
) -> float:
    """The least disturbed of a few rounds, after one to warm up."""
    work()
    times = []
    for _ in range(rounds):
        start = clock()
        work()
        times.append(clock() - start)
    return min(times) * 1000


def compare(
    name: str,
    ours: Callable[[], object],
    bare_name: str,
    bare: Callable[[], object],
    wanted_ratio: float | None = None,
    clock: Callable[[], float] = time.perf_counter,
) -> Row:
    """Rounds of both, one after the other, so that a busy machine slows both alike.

    What only computes can be timed by `time.process_time`, which stands still while others run.
    """
    ours_ms, bare_ms = float("inf"), float("inf")
    for _ in range(3):
        ours_ms = min(ours_ms, best_ms(ours, 2, clock))
        bare_ms = min(bare_ms, best_ms(bare, 2, clock))
    return Row(name, ours_ms, bare_name, bare_ms, wanted_ratio)

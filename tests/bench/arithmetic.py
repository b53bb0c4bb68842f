"""The arithmetic against bare numpy over the same arrays."""

from collections.abc import Iterator
from datetime import UTC, datetime
from time import process_time
from zoneinfo import ZoneInfo

import numpy as np

from apps.domain import freeze_thaw, leak_ranking
from tests.bench.measure import Row, compare

MEMBERS, HOURS, SITES, LINES = 51, 384, 200, 20_000
START = datetime(2026, 3, 1, 6, tzinfo=UTC)
ZONE = ZoneInfo("America/New_York")


def rows() -> Iterator[Row]:
    yield from _freeze_thaw()
    yield _ranking()


def _temperatures() -> np.ndarray:
    rng = np.random.default_rng(2026)
    hours = np.arange(HOURS)
    swing = -1 + 6 * np.cos(2 * np.pi * (hours - 19) / 24)
    temps = (
        swing + rng.normal(0, 3, (SITES, MEMBERS, 1)) + rng.normal(0, 1, (SITES, MEMBERS, HOURS))
    )
    temps[rng.random(temps.shape) < 0.001] = np.nan
    return temps


def _freeze_thaw() -> Iterator[Row]:
    temps = _temperatures()
    days = freeze_thaw.local_day_edges(START, HOURS, ZONE)
    size = f"{MEMBERS} members x {HOURS} h x {SITES} sites"

    def bare() -> object:
        return (temps <= 0).sum(), temps.sum()

    def daily() -> object:
        return freeze_thaw.judge_summary(freeze_thaw.summarise_days(temps, days))

    def everything() -> object:
        return daily(), freeze_thaw.find_cycles(temps), freeze_thaw.longest_thaw_hours(temps)

    one_pass = "one comparison and one sum over the array"
    yield compare(f"freeze-thaw days, {size}", daily, one_pass, bare, 15, process_time)
    yield compare(
        "the same with cycles and longest thaws", everything, one_pass, bare, 40, process_time
    )


def _ranking() -> Row:
    rng = np.random.default_rng(2026)
    taps = rng.integers(5, 120, LINES)
    reading = rng.uniform(40, 88, LINES)
    minutes = rng.uniform(15, 90, LINES)

    def ours() -> object:
        return leak_ranking.rank_arrays(taps, reading, minutes, target_kpa=88.0)

    return compare(
        f"leak ranking of {LINES:,} lines",
        ours,
        "np.sort of as many",
        lambda: np.sort(reading),
        5,
        process_time,
    )

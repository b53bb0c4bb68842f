"""Winters made by chance, each with one forecast of members and the weather that came.

Stated before any rule was scored on them: a winter's day is 1 to 10 days ahead; its mean lies
N(-1, 5) C with a daily swing of 3 to 9 C either way, the two days before within N(0, 2.5) of it.
Members and truth alike depart from that by an error N(0, 0.5 + 0.3 x days ahead) shared by the
three days, and N(0, 1) of each day's own. Three models of 31, 51 and 40 members. All simulated.
"""

from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np

from apps.domain import freeze_thaw as ft
from apps.domain import sap_run as sr

MODELS = (31, 51, 40)
DAYS, HOURS = 3, 72
EDGES = ft.local_day_edges(datetime(2026, 3, 1, tzinfo=UTC), HOURS, UTC)
SHAPE = -np.cos(2 * np.pi * (np.arange(24) - 2) / 24)


@dataclass(frozen=True)
class World:
    """How the truth departs from being one more member."""

    warmer_c: float = 0.0
    wider: float = 1.0


@dataclass(frozen=True)
class Winter:
    """What the members state of the last day, and what came of it."""

    run_stated: float
    ran: bool
    freeze_thaw_stated: float
    froze_and_thawed: bool


def winters(count, seed, world=World()):
    rng = np.random.default_rng(seed)
    return [_winter(rng, world) for _ in range(count)]


def _winter(rng, world):
    spread = 0.5 + 0.3 * rng.integers(1, 11)
    middle = rng.normal(-1, 5) + np.array([*rng.normal(0, 2.5, DAYS - 1), 0.0])
    swing = rng.uniform(3, 9)
    models = [_draw(rng, size, middle, swing, spread) for size in MODELS]
    (came,) = _draw(rng, 1, middle, swing, spread * world.wider) + world.warmer_c
    chances = [sr.run_probability(sr.days_from_hours(model, EDGES)) for model in models]
    ran = rng.random() < sr.run_probability(sr.days_from_hours(came, EDGES))[-1]
    shares = [ft.member_shares(ft.summarise_days(model, EDGES))[-1].share for model in models]
    verdict = ft.judge_summary(ft.summarise_days(came, EDGES))[-1]
    return Winter(sr.over_members(chances)[-1].probability, ran, np.mean(shares), verdict == 1)


def _draw(rng, size, middle, swing, spread):
    """(size, hours) of days whose errors are part shared, part their own."""
    daily = middle + rng.normal(0, spread, (size, 1)) + rng.normal(0, 1, (size, DAYS))
    return (daily[:, :, None] + swing * SHAPE).reshape(size, HOURS)

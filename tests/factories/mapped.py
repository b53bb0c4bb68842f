"""A whole invented operation of mapped lines, for round trips and for the bench."""

import random

from apps.woods.models import Line, TapCount
from tests.factories import woods

LOTS = ("North", "South, “old”", "=Üphill & <down>", "Érablière", "West 🍁")
# Each once in its woodlot: what a spreadsheet, a mark-up reader or a sorter may trip over.
ODD = ("-W", "'=1", "a;b", 'c"d', "<&>", "L 1", "ß", "e\u0301", "l9", "007", "+1e3", "名")


def _path(rng, points, high):
    x, y = -75.3 + rng.uniform(-0.02, 0.02), 43.9 + rng.uniform(-0.02, 0.02)
    path = []
    for _ in range(points):
        x, y = x + rng.uniform(-2e-4, 2e-4), y + rng.uniform(-2e-4, 2e-4)
        at = [round(x, 7), round(y, 7)]
        path.append([*at, round(rng.uniform(300, 600), 2)] if high else at)
    return path


def _line(rng, lot, house, label, kind):
    known = rng.random
    return Line(
        woodlot=lot,
        label=label,
        kind=kind,
        pump_house=house,
        length_m=rng.uniform(5, 900) if known() < 0.8 else None,
        fall_m=rng.uniform(-3, 40) if known() < 0.5 else None,
        diameter_mm=rng.choice([7.9375, 19.05, 25.4, 100 / 3]),
        walk_minutes=rng.uniform(1, 90) if known() < 0.3 else None,
        installed_season=rng.choice([None, 2004, 2019]),
        drops_installed_season=rng.choice([None, 2021, 2025]),
        geometry=_path(rng, rng.randint(2, 12), known() < 0.5) if known() < 0.8 else None,
    )


def operation(lines, *, seed=1, season=2026):
    """Five woodlots of `lines` lines together: mainlines, and laterals on them."""
    rng = random.Random(seed)
    for at, name in enumerate(LOTS):
        lot = woods.woodlot(name, latitude=43.9 + at / 1000, elevation_m=rng.uniform(280, 580))
        houses = [woods.pump_house(lot, f"House {letter}") for letter in "AB"]
        count = lines // len(LOTS) + (at < lines % len(LOTS))
        labels = [*ODD, *(f"L{n}" for n in range(count))][:count]
        mains = Line.objects.bulk_create(
            _line(rng, lot, rng.choice(houses), label, rng.choice(["main", "wet", "dry"]))
            for label in labels[: count // 10]
        )
        laterals = [_line(rng, lot, None, label, "lateral") for label in labels[count // 10 :]]
        for lateral in laterals:
            lateral.parent = rng.choice(mains) if mains else None
        rows = [*mains, *Line.objects.bulk_create(laterals)]
        TapCount.objects.bulk_create(
            TapCount(line=row, season=season, planned_taps=rng.randint(0, 12))
            for row in rows
            if rng.random() < 0.9
        )


def clear():
    """Take the whole operation away: what a new one starts from."""
    TapCount.objects.all().delete()
    Line.objects.update(parent=None)
    Line.objects.all().delete()
    for model in (woods.PumpHouse, woods.Woodlot):
        model.objects.all().delete()

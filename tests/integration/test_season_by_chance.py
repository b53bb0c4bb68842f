"""Whole seasons made by chance, through the actions, reckoned again in plain gallons.

The second reckoning is written out here from the rules alone (revised Jones rule 87.1 / x - 0.32
at 66.0 Brix; sugar as volume x density x Brix; largest remainder) and shares no code with the app.
"""

import math
import random
from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

import numpy as np
import pytest

from apps.season.queries import season_yield
from apps.sugarhouse import actions
from apps.sugarhouse.actions import Measurement
from apps.sugarhouse.queries import stock
from tests.factories import sugarhouse, woods

pytestmark = pytest.mark.django_db

GALLON = 3.785411784
SEEDS = range(8)
# Sucrose solutions at 20 C, kg/m3; Asadi, Beet-Sugar Handbook, table A.1 (p. 779), agrees within
# 0.06 in a thousand.
BRIX = [1.0, 2.0, 3.0, 4.0]
DENSITY = [1002.07, 1005.96, 1009.88, 1013.83]


class ByHand:
    """The same season kept as plain lists of gallons."""

    def __init__(self):
        self.loads = []
        self.batches = []

    def kept(self, source):
        rows = [load for load in self.loads if load["source"] == source]
        return sum((load["in"] - load["dumped"]) / ratio(load["brix"]) for load in rows)

    def predicted(self):
        return sum(
            volume / ratio(load["brix"]) for batch in self.batches for load, volume in batch["sap"]
        )

    def allocated(self):
        found = {}
        for batch in self.batches:
            for source, part in shared(batch).items():
                found[source] = found.get(source, 0) + part
        return found


def ratio(brix):
    return 87.1 / brix - 0.32


def shared(batch):
    """Hundredths of a gallon by source: whole parts first, then the largest remainders."""
    sugar = {}
    for load, volume in batch["sap"]:
        weight = volume * np.interp(load["brix"], BRIX, DENSITY) * load["brix"]
        sugar[load["source"]] = sugar.get(load["source"], 0.0) + float(weight)
    whole = round(batch["syrup"] * 100)
    quotas = {source: whole * weight / sum(sugar.values()) for source, weight in sugar.items()}
    parts = {source: math.floor(quota) for source, quota in quotas.items()}
    by_rest = sorted(quotas, key=lambda source: parts[source] - quotas[source])
    for source in by_rest[: whole - sum(parts.values())]:
        parts[source] += 1
    return parts


@pytest.fixture(params=SEEDS)
def season(request):
    """Forty loads from three woodlots and one seller; every fifth night most of it is boiled."""
    chance, by_hand = random.Random(request.param), ByHand()
    lots = {name: woods.woodlot(name) for name in ("East", "North", "South")}
    for day in range(40):
        at = sugarhouse.AT - timedelta(days=45 - day)
        receive(by_hand, lots, chance, at)
        if day % 5 == 4:
            boil(by_hand, chance, at + timedelta(hours=3))
    return by_hand


def receive(by_hand, lots, chance, at):
    name = chance.choice([*lots, "Bought sap"])
    volume, brix = chance.randint(50, 2000), chance.randint(11, 35) / 10
    row = actions.record_sap_in(
        uuid=uuid4(),
        season=2026,
        at=at,
        measured=Measurement("load", volume_litres=volume * GALLON),
        brix=brix,
        crew=None,
        woodlot=lots.get(name),
        seller="" if name in lots else "Neighbours",
    )
    load = {"row": row, "source": name, "in": volume, "brix": brix, "left": volume, "dumped": 0}
    by_hand.loads.append(load)
    if chance.random() < 0.3:
        let_go(load, chance, at)


def let_go(load, chance, at):
    kind, volume = chance.choice(["sold", "dumped"]), chance.randint(1, load["left"] // 2)
    actions.record_sap_out(
        uuid=uuid4(),
        sap_in=load["row"],
        kind=kind,
        at=at,
        volume_litres=volume * GALLON,
        reason="Chance",
    )
    load["left"] -= volume
    load["dumped"] += volume if kind == "dumped" else 0


def boil(by_hand, chance, at):
    """Boil three quarters of the stock, oldest first."""
    wanted = round(sum(load["left"] for load in by_hand.loads) * 0.75)
    syrup = chance.randint(100, 9000) / 100
    actions.record_batch(
        uuid=uuid4(),
        season=2026,
        boiled_at=at,
        syrup_litres=syrup * GALLON,
        syrup_brix=66.0,
        crew=None,
        sap_litres=wanted * GALLON,
    )
    sap = []
    for load in by_hand.loads:
        taken = min(load["left"], wanted)
        if taken:
            sap.append((load, taken))
            load["left"] -= taken
            wanted -= taken
    by_hand.batches.append({"syrup": syrup, "sap": sap})


def rows(review):
    found = [*review.woodlots, review.bought]
    return {row.name: row for row in found if row is not None}


def test_stock_is_what_the_hand_kept_books_say(season):
    assert stock(2026).litres == pytest.approx(sum(load["left"] for load in season.loads) * GALLON)


def test_equivalents_agree_with_the_hand_kept_books(season):
    for name, row in rows(season_yield(2026, "us", 66.0)).items():
        assert float(row.equivalent) == pytest.approx(season.kept(name), abs=0.0051)


def test_recovery_agrees_with_the_hand_kept_books(season):
    drawn = sum(batch["syrup"] for batch in season.batches)
    share = season_yield(2026, "us", 66.0).recovery.share
    assert share == pytest.approx(drawn / season.predicted())


def test_shares_agree_with_the_hand_kept_books(season):
    # The density table is read in straight lines here: a batch may differ by one hundredth.
    by_hand = season.allocated()
    for name, row in rows(season_yield(2026, "us", 66.0)).items():
        difference = int(row.allocated * 100) - by_hand.get(name, 0)
        assert abs(difference) <= len(season.batches)


@pytest.mark.parametrize("unit_system", ["us", "metric"])
def test_every_column_adds_up_exactly_as_shown(season, unit_system):
    review = season_yield(2026, unit_system, 66.0)
    sources = rows(review).values()
    whole = review.operation
    for column in ("sap", "equivalent", "equivalent_sold", "equivalent_dumped", "allocated"):
        assert sum(getattr(row, column) for row in sources) == getattr(whole, column)
    for row in (*sources, whole):
        assert sum(row.fates.values()) == row.sap
    assert whole.allocated == review.drawn
    assert sum(row.share_percent for row in sources) == 100


def test_drawn_is_the_sum_of_the_batches_as_read(season):
    drawn = sum(Decimal(str(batch["syrup"])) for batch in season.batches)
    assert season_yield(2026, "us", 66.0).drawn == drawn


def test_no_sap_goes_astray(season):
    assert season_yield(2026, "us", 66.0).astray_litres == pytest.approx(0.0, abs=1e-6)

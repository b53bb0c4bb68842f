"""Seasons made by chance and reckoned again in pandas, from the rows alone.

Nothing of the app's arithmetic is used here. Syrup promised: the revised Jones rule, 87.1 / x -
0.32 at 66.0 Brix (Perkins and Isselhardt, UVM Proctor). Density of sap: Asadi, Beet-Sugar
Handbook, table A.1 (p. 779), in straight lines. Weight of a gallon of syrup: 11.027 lb at 66.0 and
11.073 lb at 66.9 Brix (UVM Extension, Sap Pricing). Thirty seasons in a normal run, three hundred
with THAWLINE_SOAK=1.
"""

import os
import random
from datetime import UTC, date, datetime, timedelta
from decimal import ROUND_HALF_UP, Decimal
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
from django.db import transaction

from apps.season.queries import cumulative_sap, season_yield
from tests.factories import operation as people
from tests.factories import sugarhouse, tapping, woods

pytestmark = pytest.mark.django_db

GALLON = 3.785411784
SEEDS = range(300 if os.environ.get("THAWLINE_SOAK") else 30)
ZONE = ZoneInfo("America/New_York")
FIRST = datetime(2026, 2, 10, 17, tzinfo=UTC)
BRIX, DENSITY = [1.0, 2.0, 3.0, 4.0], [1002.07, 1005.96, 1009.88, 1013.83]
POUNDS_A_GALLON = {66.0: 11.027, 66.9: 11.073}
LOTS = ("East", "North", "South", "West")


class Season:
    """Rows as they are written, kept beside as frames; sources by name, bought sap as one."""

    def __init__(self, seed):
        self.chance = random.Random(seed)
        people.operation()
        self.crew = people.crew(f"hand{seed}")
        self.woodlots = {name: woods.woodlot(name) for name in LOTS}
        self.taps = self.tap()
        self.rows, self.loads, self.outs = {}, [], []
        for number in range(self.chance.randint(12, 28)):
            self.receive(number)
        self.batches, self.parts = self.boil()
        self.loads = pd.DataFrame(self.loads).set_index("load")
        self.outs = pd.DataFrame(self.outs, columns=["load", "kind", "litres"])
        self.parts = pd.DataFrame(self.parts, columns=["batch", "load", "litres"])
        self.batches = pd.DataFrame(self.batches, columns=["batch", "syrup", "brix"])

    def tap(self):
        """A woodlot is counted, only planned, or neither; its taps as the review should take."""
        found = {}
        for name, woodlot in self.woodlots.items():
            planned = self.chance.choice([None, self.chance.randint(50, 900)])
            counted = self.chance.choice([None, self.chance.randint(50, 900)])
            line = woods.line(woodlot, planned_taps=planned)
            if counted:
                tapping.tally(line, self.crew, taps_set=counted)
            found[name] = counted or planned
        return found

    def receive(self, number):
        name = self.chance.choice([*LOTS, "Bought sap"])
        litres = self.chance.uniform(200.0, 6000.0)
        brix = self.chance.choice([None, *(step / 10 for step in range(11, 36))])
        at = FIRST + timedelta(hours=self.chance.randint(0, 24 * 45))
        left = self.part_with(number, litres)
        self.rows[number] = sugarhouse.sap_in(
            self.woodlots.get(name), volume_litres=litres, brix=brix, at=at, remaining_litres=left
        )
        self.loads.append(
            {"load": number, "source": name, "litres": litres, "brix": brix, "left": left, "at": at}
        )

    def part_with(self, number, litres):
        """How much is left to boil; what was sold or dumped is noted."""
        if self.chance.random() < 0.7:
            return litres
        gone = self.chance.uniform(0.1, 0.9) * litres
        self.outs.append((number, self.chance.choice(["sold", "dumped"]), gone))
        return litres - gone

    def boil(self):
        """A few batches, each of part of some loads; what is left of a load stays in stock."""
        for number, kind, litres in self.outs:
            sugarhouse.sap_out(self.rows[number], kind=kind, volume_litres=litres)
        batches, parts = [], []
        for batch in range(1, self.chance.randint(2, 7)):
            taken = self.draw()
            syrup, brix = self.chance.uniform(20, 400), self.chance.choice([66.0, 66.9])
            sap = [(self.rows[number], litres) for number, litres in taken]
            sugarhouse.batch(batch, syrup_litres=syrup, syrup_brix=brix, sap=sap)
            batches.append((batch, syrup, brix))
            parts += [(batch, number, litres) for number, litres in taken]
        return batches, parts

    def draw(self):
        taken = []
        for number in self.chance.sample(list(self.rows), self.chance.randint(0, 6)):
            row = self.rows[number]
            litres = row.remaining_litres * self.chance.uniform(0.3, 1.0)
            row.remaining_litres -= litres
            row.save(update_fields=["remaining_litres"])
            self.loads[number]["left"] = row.remaining_litres
            taken.append((number, litres))
        return taken


@pytest.fixture(scope="module", params=SEEDS)
def season(request, django_db_setup, django_db_blocker):
    """Each season is written once and read by all tests of this module."""
    with django_db_blocker.unblock(), transaction.atomic():
        yield Season(request.param)
        transaction.set_rollback(True)


@pytest.fixture(params=["us", "metric"])
def system(request):
    return request.param


def unit(system):
    return GALLON if system == "us" else 1.0


def rows(system):
    review = season_yield(2026, system, 66.0)
    sources = {row.name: row for row in review.woodlots}
    return sources | ({"Bought sap": review.bought} if review.bought else {})


def promised(frame):
    """Litres of syrup by row; nothing where the sugar is unknown."""
    return (frame["litres"] / (87.1 / frame["brix"] - 0.32)).fillna(0.0)


def density(brix):
    return np.interp(brix, BRIX, DENSITY)


def test_sap_of_each_source_is_its_groups_sum(season, system):
    sums = season.loads.groupby("source")["litres"].sum() / unit(system)
    for name, row in rows(system).items():
        assert row.sap == round(sums.get(name, 0.0))


def test_unread_sap_is_the_group_without_brix(season, system):
    unread = season.loads[season.loads["brix"].isna()].groupby("source")["litres"].sum()
    for name, row in rows(system).items():
        # Each of its four fates is shown rounded by itself.
        assert float(row.unread_sap) == pytest.approx(unread.get(name, 0) / unit(system), abs=2)


def test_mean_sugar_weighs_by_mass(season):
    read = season.loads.dropna(subset="brix")
    mass = read["litres"] * density(read["brix"])
    means = (mass * read["brix"]).groupby(read["source"]).sum() / mass.groupby(read["source"]).sum()
    for name, row in rows("us").items():
        expected = means.get(name)
        assert row.mean_brix == (None if expected is None else pytest.approx(expected, abs=3e-4))


def test_equivalent_is_what_came_less_what_was_dumped(season, system):
    dumped = season.outs[season.outs["kind"] == "dumped"].groupby("load")["litres"].sum()
    kept = season.loads.assign(litres=season.loads["litres"].sub(dumped, fill_value=0.0))
    sums = promised(kept).groupby(kept["source"]).sum() / unit(system)
    for name, row in rows(system).items():
        assert float(row.equivalent) == pytest.approx(sums.get(name, 0.0), abs=0.0051)


@pytest.mark.parametrize("kind", ["sold", "dumped"])
def test_sap_let_go_is_told_as_sap_and_as_syrup(season, kind):
    gone = season.outs[season.outs["kind"] == kind].join(
        season.loads[["source", "brix"]], on="load"
    )
    sap = gone.groupby("source")["litres"].sum() / GALLON
    syrup = promised(gone).groupby(gone["source"]).sum() / GALLON
    for name, row in rows("us").items():
        # Largest remainder may move a part by one from its own rounding.
        assert float(row.fates[kind]) == pytest.approx(sap.get(name, 0.0), abs=1.0)
        shown = row.equivalent_sold if kind == "sold" else row.equivalent_dumped
        assert float(shown) == pytest.approx(syrup.get(name, 0.0), abs=0.0051)


def test_every_source_balances_as_shown(season, system):
    for row in rows(system).values():
        assert sum(row.fates.values()) == row.sap
    assert season_yield(2026, system, 66.0).astray_litres == pytest.approx(0.0, abs=1e-6)


def test_taps_are_counted_ones_else_planned_else_unknown(season):
    review = season_yield(2026, "us", 66.0)
    assert {row.name: row.taps.count for row in review.woodlots} == season.taps


def test_per_tap_divides_the_figures_shown(season, system):
    for row in season_yield(2026, system, 66.0).woodlots:
        taps = season.taps[row.name]
        expected = taps and (row.sap / taps).quantize(Decimal("0.01"), ROUND_HALF_UP)
        assert row.sap_per_tap == expected


def traced(season):
    """The batches that have sap, all of it measured: their parts with source and sugar."""
    parts = season.parts.join(season.loads[["source", "brix"]], on="load")
    whole = parts.groupby("batch")["brix"].apply(lambda brix: brix.notna().all())
    return parts[parts["batch"].map(whole).astype(bool)]


def test_recovery_is_the_same_sugar_over_what_was_promised(season):
    parts, recovery = traced(season), season_yield(2026, "us", 66.0).recovery
    drawn = season.batches[season.batches["batch"].isin(parts["batch"])]
    pounds = drawn["syrup"] * drawn["brix"] * drawn["brix"].map(POUNDS_A_GALLON)
    at_66 = pounds.sum() / (66.0 * POUNDS_A_GALLON[66.0])
    assert recovery.drawn_litres == pytest.approx(at_66, rel=2e-4)
    assert recovery.predicted.litres == pytest.approx(promised(parts).sum(), rel=1e-9)


def test_batches_left_out_of_recovery_are_counted(season):
    recovery = season_yield(2026, "us", 66.0).recovery
    with_sap = season.parts["batch"].nunique()
    assert recovery.batches == len(season.batches)
    assert recovery.batches_without_sap == len(season.batches) - with_sap
    assert recovery.batches_unread == with_sap - traced(season)["batch"].nunique()


def shared_out(season):
    """Litres of syrup by source: by sugar where all is known, and all to an only source."""
    parts = season.parts.join(season.loads[["source", "brix"]], on="load")
    alone = parts.groupby("batch")["source"].transform("nunique") == 1
    known = parts["brix"].notna().groupby(parts["batch"]).transform("all")
    weight = (parts["litres"] * density(parts["brix"]) * parts["brix"]).where(known, 1.0)
    parts = parts.assign(weight=weight)[alone | known]
    share = parts["weight"] / parts.groupby("batch")["weight"].transform("sum")
    syrup = share * parts["batch"].map(season.batches.set_index("batch")["syrup"])
    return syrup.groupby(parts["source"]).sum()


def test_syrup_is_shared_out_by_sugar(season, system):
    expected = shared_out(season) / unit(system)
    for name, row in rows(system).items():
        # A hundredth a batch for the remainders, and the density table's straight lines.
        slack = 0.01 * len(season.batches) + 1e-4 * expected.get(name, 0.0)
        assert float(row.allocated) == pytest.approx(expected.get(name, 0.0), abs=slack)


def test_syrup_drawn_is_shared_unshared_or_untraced(season, system):
    review = season_yield(2026, system, 66.0)
    assert review.operation.allocated + review.unshared + review.untraced == review.drawn
    drawn = season.batches["syrup"] / unit(system)
    assert float(review.drawn) == pytest.approx(drawn.sum(), abs=0.005 * len(drawn) + 1e-9)


def test_sap_through_the_season_is_the_running_sum(season):
    timeline = cumulative_sap(
        2026, seasons=[2026], today=date(2026, 5, 20), zone=ZONE, unit_system="metric"
    )
    own = season.loads[season.loads["source"] != "Bought sap"]
    days = pd.to_datetime(own["at"]).dt.tz_convert(str(ZONE)).dt.date
    for day, (litres,) in timeline.rows:
        assert litres == round(own["litres"][days <= day].sum())
    assert timeline.rows[-1][1] == [round(own["litres"].sum())]

"""Whole books written and struck out in any order: nothing is made and nothing is lost.

A second set of books, plain dictionaries of litres, is kept beside the actions; after every step
the two must say the same. Thirty stories in a normal run, three hundred with THAWLINE_SOAK=1.
"""

import os
import random
from dataclasses import dataclass, field
from datetime import timedelta
from uuid import uuid4

import pytest
from django.db.models import F

from apps.sugarhouse import actions, queries
from apps.sugarhouse.actions import Measurement
from apps.sugarhouse.models import Batch, BatchSap, SapIn, SapOut
from tests.factories import sugarhouse, woods

pytestmark = pytest.mark.django_db

STORIES = range(300 if os.environ.get("THAWLINE_SOAK") else 30)
STEPS = 40
# Sums of a few dozen floats; every figure typed is a multiple of a quarter litre.
CLOSE = 1e-6


@dataclass
class Story:
    """Chance, the woodlots, and the books kept by hand: litres that came in, and each taking."""

    chance: random.Random
    woodlots: list
    came: dict = field(default_factory=dict)
    brix: dict = field(default_factory=dict)
    takings: dict = field(default_factory=dict)
    minutes: int = 0

    def left(self, load):
        taken = sum(parts.get(load, 0.0) for _, parts in self.takings.values())
        return self.came[load] - taken

    def now(self):
        self.minutes += 7
        return sugarhouse.AT + timedelta(minutes=self.minutes)


def log(story):
    woodlot = story.chance.choice([*story.woodlots, None])
    litres = story.chance.randint(40, 8000) / 4
    brix = story.chance.choice([None, 1.4, 2.0, 2.6])
    row = actions.record_sap_in(
        uuid=uuid4(),
        season=2026,
        at=story.now(),
        measured=Measurement("load", volume_litres=litres),
        brix=brix,
        crew=None,
        woodlot=woodlot,
        seller="" if woodlot else "Neighbours",
    )
    story.came[row.pk], story.brix[row.pk] = litres, brix


def remove(story):
    """Ask for any load's removal: granted while it is whole, refused otherwise."""
    if not story.came:
        return
    load = story.chance.choice(list(story.came))
    if story.left(load) == story.came[load]:
        actions.remove_sap_in(sap_in=SapIn.objects.get(pk=load))
        del story.came[load], story.brix[load]
    else:
        with pytest.raises(actions.SapAlreadyUsed):
            actions.remove_sap_in(sap_in=SapIn.objects.get(pk=load))


def let_go(story):
    held = [load for load in story.came if story.left(load) >= 1]
    if not held:
        return
    load = story.chance.choice(held)
    litres = story.chance.randint(1, int(4 * story.left(load))) / 4
    out = actions.record_sap_out(
        uuid=uuid4(),
        sap_in=SapIn.objects.get(pk=load),
        kind=story.chance.choice(SapOut.Kind.values),
        at=story.now(),
        volume_litres=litres,
        reason="Chance",
    )
    story.takings[out] = (out.kind, {load: litres})


def boil(story):
    """Some quarter litres of what is there, oldest first, as the rule has it."""
    quarters = int(4 * sum(map(story.left, story.came)))
    if not quarters:
        return
    wanted = left = story.chance.randint(1, quarters) / 4
    parts = {}
    for load in sorted(story.came):
        if taken := min(left, story.left(load)):
            parts[load] = taken
            left -= taken
    story.takings[record(story, sap_litres=wanted)] = ("boiled", parts)


def boil_named(story):
    held = [load for load in story.came if story.left(load) >= 1]
    if held:
        parts = {load: story.left(load) / 2 for load in story.chance.sample(held, len(held) // 2)}
        if parts:
            story.takings[record(story, draws=parts)] = ("boiled", parts)


def record(story, **sap):
    return actions.record_batch(
        uuid=uuid4(),
        season=2026,
        boiled_at=story.now(),
        syrup_litres=story.chance.randint(1, 400) / 4,
        syrup_brix=story.chance.choice([66.0, 66.9]),
        crew=None,
        **sap,
    )


def undo(story):
    if story.takings:
        row = story.chance.choice(list(story.takings))
        del story.takings[row]
        if isinstance(row, Batch):
            actions.undo_batch(batch=Batch.objects.get(pk=row.pk))
        else:
            actions.undo_sap_out(out=SapOut.objects.get(pk=row.pk))


def ask_too_much(story):
    there = sum(map(story.left, story.came))
    with pytest.raises(actions.NotEnoughSap):
        record(story, sap_litres=there + 0.25)


def sweeten(story):
    unread = [load for load, brix in story.brix.items() if brix is None]
    if unread:
        load = story.chance.choice(unread)
        actions.record_sugar(sap_in=SapIn.objects.get(pk=load), brix=2.2)
        story.brix[load] = 2.2


STEP_WEIGHTS = {log: 6, remove: 2, let_go: 4, boil: 4, boil_named: 2, undo: 4, ask_too_much: 1}
STEP_WEIGHTS |= {sweeten: 1}


def check(story):
    rows = SapIn.objects.in_bulk()
    assert {load: row.volume_litres for load, row in rows.items()} == story.came
    assert {load: row.brix for load, row in rows.items()} == story.brix
    for load, row in rows.items():
        assert row.remaining_litres == pytest.approx(story.left(load), abs=CLOSE)


@pytest.fixture(params=STORIES)
def story(request):
    """Forty steps by chance, the two sets of books compared after each."""
    story = Story(random.Random(request.param), [woods.woodlot(name) for name in ("A", "B")])
    steps, weights = zip(*STEP_WEIGHTS.items(), strict=True)
    for step in story.chance.choices(steps, weights, k=STEPS):
        step(story)
        check(story)
    return story


def fates(story, source):
    """By hand: litres boiled, sold and dumped of one source's sap, and what is left of it."""
    own = set(SapIn.objects.filter(woodlot=source).values_list("pk", flat=True))
    found = dict.fromkeys(("boiled", "sold", "dumped"), 0.0)
    for kind, parts in story.takings.values():
        found[kind] += sum(litres for load, litres in parts.items() if load in own)
    return found | {"stock": sum(story.left(load) for load in own)}


def test_every_litre_of_any_story_is_where_the_hand_kept_books_have_it(story):
    for source, ledger in queries.sap_by_source(2026, 66.0).items():
        assert ledger.litres == pytest.approx(fates(story, source), abs=1e-5)
        assert ledger.astray_litres == pytest.approx(0.0, abs=1e-5)
    assert Batch.objects.count() + SapOut.objects.count() == len(story.takings)


def test_stock_of_any_story_is_what_nobody_took(story):
    stock = queries.stock(2026)
    assert stock.litres == pytest.approx(sum(map(story.left, story.came)), abs=1e-5)
    unread = [load for load, brix in story.brix.items() if brix is None]
    assert stock.unread_litres == pytest.approx(sum(map(story.left, unread)), abs=1e-5)


def test_any_story_struck_out_in_any_order_leaves_every_load_whole(story):
    while story.takings:
        undo(story)
    assert not BatchSap.objects.exists()
    assert not SapIn.objects.exclude(remaining_litres=F("volume_litres")).exists()

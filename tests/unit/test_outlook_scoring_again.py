"""The scores by lead day reckoned a second time, by pandas, on pairs drawn by chance."""

from datetime import timedelta

import numpy as np
import pandas as pd
import pytest

from apps.outlook.scoring import FEWEST_DAYS, by_lead
from apps.outlook.scoring_tenths import judged_by
from tests.unit.test_outlook_scoring import FIRST, pair

SEEDS = range(5)


def draw(seed):
    """Three hundred pairs with gaps of every kind."""
    rng = np.random.default_rng(seed)
    return [_drawn(rng, number) for number in range(300)]


def _drawn(rng, number):
    def maybe(value, share=0.1):
        return None if rng.random() < share else value

    return pair(
        number,
        woodlot_id=int(rng.integers(1, 4)),
        source=str(rng.choice(["measured in the woods", "from the archive"])),
        date=FIRST + timedelta(days=int(rng.integers(0, 60))),
        lead_days=int(rng.integers(1, 7)),
        stated_minimum_c=maybe(float(rng.normal(-4, 3))),
        stated_maximum_c=maybe(float(rng.normal(4, 3))),
        minimum_c=float(rng.normal(-4, 3)),
        maximum_c=float(rng.normal(4, 3)),
        probability=maybe(float(rng.random()), 0.3),
        verdict=str(rng.choice(["yes", "no", "unknown"])),
        came=maybe(bool(rng.random() < 0.5)),
    )


def frame(pairs):
    names = (
        "woodlot_id", "date", "source",
        "lead_days", "stated_minimum_c", "minimum_c", "probability", "verdict", "came",
    )  # fmt: skip
    rows = pd.DataFrame([{name: getattr(one, name) for name in names} for one in pairs])
    numbers = ["stated_minimum_c", "probability"]
    rows[numbers] = rows[numbers].astype(float)
    return rows


@pytest.fixture(params=SEEDS)
def drawn(request):
    pairs = draw(request.param)
    return by_lead(pairs), frame(pairs).groupby("lead_days")


def test_misses_agree_with_pandas(drawn):
    ours, theirs = drawn
    for row in ours:
        group = theirs.get_group(row.lead_days)
        errors = (group.stated_minimum_c - group.minimum_c).dropna()
        assert row.low.woodlot_days == len(errors)
        assert row.low.days == group.date[errors.index].nunique() >= FEWEST_DAYS
        assert row.low.bias_c == pytest.approx(errors.mean())
        assert row.low.absolute_c == pytest.approx(errors.abs().mean())


def test_calls_agree_with_pandas(drawn):
    ours, theirs = drawn
    for row in ours:
        group = theirs.get_group(row.lead_days)
        single = group.verdict.map({"yes": 1.0, "no": 0.0})
        stated = group.probability.where(group.probability.isna(), group.probability >= 0.5)
        called = stated.astype(float).fillna(single)
        table = pd.crosstab(called, group.came.astype(object))
        assert row.calls.hits == table.loc[1.0, True]
        assert row.calls.misses == table.loc[0.0, True]
        assert row.calls.false_alarms == table.loc[1.0, False]
        assert row.calls.right_noes == table.loc[0.0, False]


def test_brier_scores_agree_with_pandas(drawn):
    ours, theirs = drawn
    for row in ours:
        known = theirs.get_group(row.lead_days)[["probability", "came"]].dropna().astype(float)
        share = known.came.mean()
        assert row.chances.woodlot_days == len(known)
        assert row.chances.base_rate == pytest.approx(share)
        assert row.chances.brier == pytest.approx(((known.probability - known.came) ** 2).mean())
        # Always the average, scored the long way: the mean square about the share.
        assert row.chances.average_brier == pytest.approx(((share - known.came) ** 2).mean())


@pytest.mark.parametrize("seed", SEEDS)
def test_the_order_of_the_pairs_changes_nothing(seed):
    pairs = draw(seed)
    shuffled = list(np.random.default_rng(seed + 100).permutation(np.array(pairs, dtype=object)))
    for ours, again in zip(by_lead(pairs), by_lead(shuffled), strict=True):
        assert (ours.lead_days, ours.calls) == (again.lead_days, again.calls)
        assert ours.low.bias_c == pytest.approx(again.low.bias_c)
        assert ours.chances.brier == pytest.approx(again.chances.brier)


@pytest.mark.parametrize("seed", SEEDS)
def test_days_by_source_agree_with_pandas(seed):
    pairs = draw(seed)
    rows = frame(pairs)
    for judged in judged_by(pairs):
        own = rows[rows.source == judged.source]
        assert judged.days == own.date.nunique()
        assert judged.woodlot_days == len(own.drop_duplicates(["woodlot_id", "date"]))
        assert judged.woodlot_ids == set(own.woodlot_id)

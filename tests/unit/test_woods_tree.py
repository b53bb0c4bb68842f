"""Roll-ups over random trees of lines agree with a sum by brute force, at every level."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.woods.queries import label_order
from apps.woods.tree import Stem, TapsTotal, grow, own_total, totals_by_house

counts = st.none() | st.integers(0, 20_000)


@st.composite
def forests(draw):
    """Lines in any order; each runs into an earlier-numbered line or into none."""
    size = draw(st.integers(0, 30))
    stems = [
        Stem(
            line_id=number,
            parent_id=draw(st.none() | st.integers(1, number - 1)) if number > 1 else None,
            pump_house_id=draw(st.none() | st.integers(1, 3)),
            planned_taps=draw(counts),
        )
        for number in range(1, size + 1)
    ]
    return draw(st.permutations(stems))


def ancestry(stem, by_id):
    """The line and every line it runs into, nearest first."""
    chain = [stem]
    while chain[-1].parent_id:
        chain.append(by_id[chain[-1].parent_id])
    return chain


def by_house(branches):
    return totals_by_house((branch.pump_house_id, branch.own) for branch in branches)


def brute(stems):
    known = [stem.planned_taps for stem in stems if stem.planned_taps is not None]
    return TapsTotal(sum(known), len(known), len(stems) - len(known))


@given(forests())
def test_each_line_totals_itself_and_everything_that_runs_into_it(stems):
    by_id = {stem.line_id: stem for stem in stems}
    for branch in grow(stems):
        beneath = [s for s in stems if by_id[branch.line_id] in ancestry(s, by_id)]
        assert branch.total == brute(beneath)


@given(forests())
def test_every_line_stands_once_and_above_its_branches(stems):
    place = {branch.line_id: at for at, branch in enumerate(grow(stems))}
    assert sorted(place) == sorted(stem.line_id for stem in stems)
    assert len(place) == len(stems)
    for stem in stems:
        assert not stem.parent_id or place[stem.parent_id] < place[stem.line_id]


@given(forests())
def test_depth_counts_the_lines_on_the_way_to_the_pump(stems):
    by_id = {stem.line_id: stem for stem in stems}
    for branch in grow(stems):
        assert branch.depth == len(ancestry(by_id[branch.line_id], by_id)) - 1


@given(forests())
def test_pump_houses_total_the_lines_that_drain_to_them(stems):
    by_id = {stem.line_id: stem for stem in stems}
    drained = {}
    for stem in stems:
        houses = [s.pump_house_id for s in ancestry(stem, by_id) if s.pump_house_id]
        drained.setdefault(houses[0] if houses else None, []).append(stem)
    assert by_house(grow(stems)) == {h: brute(rows) for h, rows in drained.items()}


@given(forests())
def test_the_levels_agree_with_each_other(stems):
    branches = grow(stems)
    everything = brute(stems)
    roots = sum((b.total for b in branches if b.depth == 0), TapsTotal())
    houses = sum(by_house(branches).values(), TapsTotal())
    assert roots == everything
    assert houses == everything


@given(st.lists(st.tuples(st.integers(1, 12), st.none() | st.integers(1, 12), counts)))
def test_even_a_tangle_shows_every_line_once_and_loses_no_tap(rows):
    stems = [Stem(i, p, None, taps) for i, p, taps in {r[0]: r for r in rows}.values()]
    branches = grow(stems)
    assert sorted(b.line_id for b in branches) == sorted(s.line_id for s in stems)
    assert sum((b.own for b in branches), TapsTotal()) == brute(stems)
    assert sum((b.total for b in branches if b.depth == 0), TapsTotal()) == brute(stems)


def test_a_chain_longer_than_the_call_stack_is_no_trouble():
    stems = [Stem(n, n - 1 or None, None, 1) for n in range(1, 5001)]
    assert grow(stems)[0].total == TapsTotal(5000, 5000, 0)


@pytest.mark.parametrize(
    ("total", "known", "complete"),
    [
        (TapsTotal(), False, False),
        (TapsTotal(0, 0, 3), False, False),
        (TapsTotal(0, 1, 0), True, True),
        (TapsTotal(40, 1, 1), True, False),
        (TapsTotal(40, 2, 0), True, True),
    ],
)
def test_a_total_says_whether_it_is_known_and_whether_it_is_whole(total, known, complete):
    assert (total.known, total.complete) == (known, complete)


@pytest.mark.parametrize(
    ("taps", "total"), [(None, TapsTotal(0, 0, 1)), (0, TapsTotal(0, 1, 0)), (7, TapsTotal(7, 1))]
)
def test_not_counted_is_not_nought(taps, total):
    assert own_total(taps) == total


def test_labels_count_up_as_people_count():
    labels = ["L10", "M1", "L2", "l3", "", "12", "L2b", "L2-1", "2"]
    assert sorted(labels, key=label_order) == [
        "",
        "2",
        "12",
        "L2",
        "L2-1",
        "L2b",
        "l3",
        "L10",
        "M1",
    ]

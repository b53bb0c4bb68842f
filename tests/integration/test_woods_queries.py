"""Planned taps add up the same at every level, from the database, and cost few questions."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from apps.woods import queries
from apps.woods.models import Line, TapCount
from apps.woods.tree import TapsTotal
from tests.factories import woods

counts = st.none() | st.integers(0, 20_000)
# Per line: which earlier line of its woodlot it runs into (0: none), whether it has the pump
# house itself, its taps this season and those of the season before, which must not leak in.
a_line = st.tuples(st.integers(0, 12), st.booleans(), counts, counts)
a_farm = st.lists(st.lists(a_line, max_size=12), min_size=1, max_size=3)


def plant(number, plan):
    """One woodlot with its lines; returns it and its (line, taps this season) pairs."""
    lot = woods.woodlot(f"Woodlot {number}")
    house = woods.pump_house(lot)
    rows = []
    for at, (parent, has_house, taps, before) in enumerate(plan):
        line = woods.line(
            lot,
            f"L{at}",
            parent=rows[parent - 1][0] if 0 < parent <= at else None,
            pump_house=house if has_house else None,
            planned_taps=taps,
        )
        if before is not None:
            TapCount.objects.create(line=line, season=2025, planned_taps=before)
        rows.append((line, taps))
    return lot, rows


def brute(taps):
    known = [each for each in taps if each is not None]
    return TapsTotal(sum(known), len(known), len(taps) - len(known))


def runs_into(line, root):
    while line is not None:
        if line == root:
            return True
        line = line.parent
    return False


def nearest_house(line):
    while line is not None and line.pump_house is None:
        line = line.parent
    return line and line.pump_house


class RollUps(TestCase):
    """Random farms, each in a transaction of its own."""

    @settings(max_examples=40, deadline=None)
    @given(a_farm)
    def test_woodlots_total_their_lines(self, farm):
        planted = [plant(number, plan) for number, plan in enumerate(farm)]
        expected = {lot.pk: brute([taps for _, taps in rows]) for lot, rows in planted}
        assert queries.planned_taps_by_woodlot(2026) == expected

    @settings(max_examples=40, deadline=None)
    @given(st.lists(a_line, max_size=12))
    def test_lines_total_their_branches(self, plan):
        lot, rows = plant(1, plan)
        tree = queries.line_tree(lot, 2026)
        assert len(tree) == len(rows)
        for row in tree:
            beneath = [taps for line, taps in rows if runs_into(line, row.line)]
            assert row.total == brute(beneath)

    @settings(max_examples=40, deadline=None)
    @given(st.lists(a_line, max_size=12))
    def test_pump_houses_total_what_drains_to_them(self, plan):
        lot, rows = plant(1, plan)
        by_house = {}
        for line, taps in rows:
            by_house.setdefault(nearest_house(line), []).append(taps)
        tree = queries.line_tree(lot, 2026)
        assert queries.planned_taps_by_pump_house(tree) == {
            house: brute(taps) for house, taps in by_house.items()
        }

    @settings(max_examples=40, deadline=None)
    @given(a_farm)
    def test_lines_give_their_own_count_or_are_left_out(self, farm):
        planted = [plant(number, plan) for number, plan in enumerate(farm)]
        counted = {line.pk: taps for _, rows in planted for line, taps in rows if taps is not None}
        assert queries.planned_taps_by_line(2026) == counted


@pytest.fixture
def lot(db):
    return woods.woodlot("North")


def labels(rows):
    return [f"{row.indent}{row.line.label}" for row in rows]


def test_a_woodlot_without_lines_has_no_total_rather_than_nought(lot):
    assert queries.planned_taps_by_woodlot(2026) == {lot.pk: TapsTotal(0, 0, 0)}
    assert not queries.planned_taps_by_woodlot(2026)[lot.pk].known


def test_a_farm_that_knows_only_mainlines_adds_them_up(lot):
    for number in (1, 2):
        woods.line(lot, f"M{number}", planned_taps=300 * number)
    assert queries.planned_taps_by_woodlot(2026)[lot.pk] == TapsTotal(900, 2, 0)


def test_the_tree_shows_each_line_above_its_branches_in_counting_order(lot):
    main = woods.line(lot, "M1")
    for label in ["L10", "L2"]:
        woods.line(lot, label, kind="lateral", parent=main)
    wet = woods.line(lot, "A", kind="wet")
    woods.line(lot, "M2", parent=wet)
    woods.line(lot, "L1", parent=Line.objects.get(label="M2"))
    nbsp = "\u00a0\u00a0"
    assert labels(queries.line_tree(lot, 2026)) == [
        "A",
        "↳ M2",
        f"{nbsp}↳ L1",
        "M1",
        "↳ L2",
        "↳ L10",
    ]


def test_lines_caught_in_a_ring_still_show_and_still_count(lot):
    first = woods.line(lot, "A", planned_taps=3)
    second = woods.line(lot, "B", parent=first, planned_taps=4)
    Line.objects.filter(pk=first.pk).update(parent=second)
    rows = queries.line_tree(lot, 2026)
    assert sorted(row.line.label for row in rows) == ["A", "B"]
    assert rows[0].total == queries.planned_taps_by_woodlot(2026)[lot.pk] == TapsTotal(7, 2, 0)


@pytest.mark.parametrize(
    ("fall_m", "length_m", "slope"),
    [(3.0, 100.0, 0.03), (-1.0, 50.0, -0.02), (None, 100.0, None), (3.0, None, None)],
)
def test_slope_is_fall_over_length_and_unknown_without_either(lot, fall_m, length_m, slope):
    woods.line(lot, fall_m=fall_m, length_m=length_m)
    assert queries.line_tree(lot, 2026)[0].slope == (slope and pytest.approx(slope))


@pytest.mark.parametrize(
    ("sought", "found"),
    [("", 3), ("m1", 2), ("L1", 1), ("M2", 1), ("zzz", 0)],
)
def test_a_line_is_found_by_its_label_or_that_of_the_line_it_runs_into(lot, sought, found):
    woods.line(lot, "L1", parent=woods.line(lot, "M1", planned_taps=9))
    woods.line(lot, "M2")
    listed = queries.line_list(lot, 2026, sought)
    assert len(listed.rows) == found
    assert listed.total == TapsTotal(9, 1, 2), "the total is over all lines, found or not"


def test_counts_that_could_be_carried_are_those_of_lines_not_counted_yet(lot):
    woods.line(lot, "M1", planned_taps=5, season=2025)
    both = woods.line(lot, "M2", planned_taps=5, season=2025)
    TapCount.objects.create(line=both, season=2026, planned_taps=6)
    woods.line(lot, "M3", planned_taps=5, season=2024)
    assert queries.line_list(lot, 2026).could_carry == 1


@pytest.mark.parametrize("size", [10, 1000])
def test_the_tree_asks_four_questions_however_many_lines(lot, size, django_assert_num_queries):
    woods.many_lines(lot, size)
    with django_assert_num_queries(4):
        rows = queries.line_tree(lot, 2026)
        assert rows[0].total == TapsTotal(5 * size, size, 1)
        assert rows[-1].line.parent == rows[0].line


@pytest.mark.parametrize("size", [10, 1000])
def test_woodlot_totals_ask_one_question_however_many_lines(lot, size, django_assert_num_queries):
    woods.many_lines(lot, size)
    with django_assert_num_queries(1):
        totals = queries.planned_taps_by_woodlot(2026)
    assert totals[lot.pk] == TapsTotal(5 * size, size, 1)

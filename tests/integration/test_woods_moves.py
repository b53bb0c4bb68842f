"""Lines moved about at random never close a ring, and a refused move moves nothing."""

from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connection
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from apps.woods import actions, queries
from apps.woods.models import Line, TapCount
from apps.woods.tree import TapsTotal
from tests.factories import woods

quick = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
moves = st.lists(st.tuples(st.integers(0, 5), st.none() | st.integers(0, 5)), max_size=12)


def move(line, parent):
    """Whether the line may run into the parent, and does now."""
    try:
        actions.save_line(
            line=line,
            woodlot=line.woodlot,
            season=2026,
            planned_taps=1,
            label=line.label,
            parent=parent,
        )
    except actions.LinesInARing:
        line.refresh_from_db()
        return False
    return True


def makes_a_ring(flow, line, parent):
    """By following the flow, step by step, for as many steps as there are lines."""
    here = parent
    for _ in range(len(flow) + 1):
        if here == line:
            return True
        here = flow.get(here)
    return False


def plant(count):
    lot = woods.woodlot()
    return lot, [woods.line(lot, f"L{n}", planned_taps=1) for n in range(count)]


class Moves(TestCase):
    """Six lines in one woodlot, each story in a transaction of its own."""

    @quick
    @given(moves)
    def test_a_move_is_refused_exactly_where_it_would_close_a_ring(self, story):
        _, lines = plant(6)
        flow = dict.fromkeys(range(6))
        for line, parent in story:
            moved = move(lines[line], None if parent is None else lines[parent])
            assert moved is not makes_a_ring(flow, line, parent)
            flow |= {line: parent} if moved else {}
        stored = dict(Line.objects.values_list("pk", "parent_id"))
        keys = {None: None, **{n: line.pk for n, line in enumerate(lines)}}
        assert stored == {keys[line]: keys[parent] for line, parent in flow.items()}

    @quick
    @given(moves)
    def test_no_tap_is_lost_or_doubled_however_lines_are_moved(self, story):
        lot, lines = plant(6)
        for line, parent in story:
            move(lines[line], None if parent is None else lines[parent])
        tree = queries.line_tree(lot, 2026)
        assert sorted(row.line.pk for row in tree) == [line.pk for line in lines]
        roots = sum((row.total for row in tree if row.depth == 0), TapsTotal())
        assert roots == queries.planned_taps_by_woodlot(2026)[lot.pk] == TapsTotal(6, 6, 0)


def in_thread(work):
    try:
        return work()
    finally:
        connection.close()


@pytest.mark.django_db(transaction=True)
def test_two_people_closing_a_ring_from_both_ends_at_once_cannot():
    _, (first, second) = plant(2)
    with ThreadPoolExecutor(2) as hands:
        tries = [(first, second), (second, first)]
        moved = list(hands.map(lambda pair: in_thread(lambda: move(*pair)), tries))
    assert sorted(moved) == [False, True]
    assert Line.objects.filter(parent__isnull=True).count() == 1


@pytest.mark.django_db(transaction=True)
def test_last_seasons_counts_carried_by_two_at_once_are_carried_once():
    lot, lines = plant(5)
    with ThreadPoolExecutor(2) as hands:

        def carry():
            return actions.plan_as_season_before(woodlot=lot, season=2027)

        list(hands.map(lambda work: in_thread(work), [carry, carry]))
    assert TapCount.objects.filter(season=2027).count() == len(lines)


@pytest.mark.django_db
def test_a_refused_move_leaves_the_taps_and_every_other_field_as_they_were():
    _, (main, branch) = plant(2)
    move(branch, main)
    with pytest.raises(actions.LinesInARing):
        actions.save_line(
            line=main,
            woodlot=main.woodlot,
            season=2026,
            planned_taps=99,
            label="new name",
            parent=branch,
        )
    main.refresh_from_db()
    assert (main.label, main.parent) == ("L0", None)
    assert queries.planned_taps(main, 2026) == 1


@pytest.mark.django_db
def test_a_taken_label_leaves_the_taps_as_they_were():
    _, (first, second) = plant(2)
    with pytest.raises(actions.Taken):
        actions.save_line(
            line=second, woodlot=second.woodlot, season=2026, planned_taps=99, label=first.label
        )
    assert queries.planned_taps(second, 2026) == 1


@pytest.mark.django_db
@pytest.mark.parametrize(("season", "goes"), [(2025, False), (2026, True), (2027, True)])
def test_only_counts_of_past_seasons_hold_a_line_fast(season, goes):
    line = woods.line(woods.woodlot(), "M1", planned_taps=5, season=season)
    if goes:
        actions.remove_line(line=line, season=2026)
    else:
        with pytest.raises(actions.StillInUse, match="M1 was counted in past seasons"):
            actions.remove_line(line=line, season=2026)
    assert Line.objects.exists() is not goes
    assert TapCount.objects.exists() is not goes

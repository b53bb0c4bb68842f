"""However tallies come in and are taken back, every sum is that of the tallies that stand."""

from collections import Counter
from datetime import date, timedelta
from uuid import uuid4

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from apps.tapping import actions, queries
from tests.factories import operation as people
from tests.factories import tapping, woods
from tests.factories.operation import FIXED_NOW

DAY = date(2026, 2, 20)
# Line, taps, drops, hours, finishes it, days later, sent how often, taken back in the end.
tallies = st.lists(
    st.tuples(
        st.integers(0, 2),
        st.integers(0, 60),
        st.integers(1, 9),
        st.none() | st.sampled_from([0.5, 1.0, 2.5]),
        st.booleans(),
        st.integers(0, 3),
        st.integers(1, 2),
        st.booleans(),
    ),
    max_size=10,
)


def plant():
    north, south = woods.woodlot("North"), woods.woodlot("South")
    return [
        woods.line(north, "A", planned_taps=50),
        woods.line(north, "B"),
        woods.line(south, "C", planned_taps=0),
    ]


def tell(lines, story):
    """Record the story through the actions; what stands of it, as told."""
    stands, sol = [], people.crew()
    for at, taps, drops, hours, finishes, later, times, taken_back in story:
        given = {
            "uuid": uuid4(),
            "line": lines[at],
            "tallied_on": DAY + timedelta(days=later),
            "taps_set": taps,
            "drops_renewed": drops,
            "pair_hours": hours,
            "finishes_line": finishes,
        }
        for _ in range(times):
            row = actions.record_tally(crew=sol, now=FIXED_NOW, **given)
        if taken_back:
            actions.void_tally(tally=row, by=sol, now=FIXED_NOW)
        else:
            stands.append(given)
    return stands


def summed(stands, key, value):
    totals = Counter()
    for told in stands:
        totals[key(told)] += told[value]
    return dict(totals)


class Story(TestCase):
    """Any story at all, each in a transaction of its own, in two woodlots."""

    @settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
    @given(tallies)
    def test_taps_are_those_of_the_standing_tallies(self, story):
        stands = tell(plant(), story)
        counting = [told for told in stands if told["taps_set"] or told["finishes_line"]]
        by_line = summed(counting, lambda told: told["line"].pk, "taps_set")
        assert queries.taps_set_by_line(2026) == by_line
        by_woodlot = summed(stands, lambda told: told["line"].woodlot_id, "taps_set")
        assert queries.taps_set_by_woodlot(2026) == {k: n for k, n in by_woodlot.items() if n}

    @settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
    @given(tallies)
    def test_one_line_the_list_and_the_woodlots_agree(self, story):
        lines = plant()
        tell(lines, story)
        listed = queries.line_progress(2026)
        assert listed == [queries.one_line_progress(2026, line) for line in lines]
        rows = queries.progress(2026)
        assert sum(row.taps_set for row in rows) == sum(row.taps_set for row in listed)
        assert sum(row.lines_done for row in rows) == sum(row.state == "done" for row in listed)
        assert queries.progress(2026, listed) == rows

    @settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
    @given(tallies)
    def test_the_pace_and_the_day_rest_on_tallies_with_hours(self, story):
        timed = [told for told in tell(plant(), story) if told["pair_hours"]]
        hours = sum(told["pair_hours"] for told in timed)
        days = {told["tallied_on"] for told in timed}
        assert queries.observed_pair_hours_per_day(2026) == (hours / len(days) if days else None)
        taps = summed(timed, lambda told: told["line"].woodlot_id, "taps_set")
        spent = summed(timed, lambda told: told["line"].woodlot_id, "pair_hours")
        assert queries.observed_pace_by_woodlot(2026) == {
            lot: pytest.approx(taps[lot] / spent[lot]) for lot in taps if taps[lot]
        }

    @settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.too_slow])
    @given(tallies)
    def test_the_history_holds_every_tally_once_standing_or_not(self, story):
        stands = tell(plant(), story)
        rows = list(queries.tallies(2026))
        assert len(rows) == len(story)
        assert sum(row.voided_at is None for row in rows) == len(stands)
        assert [row.pk for row in rows] == sorted((row.pk for row in rows), reverse=True)


@pytest.fixture
def line(db):
    return woods.line(woods.woodlot(), "L7", planned_taps=50)


@pytest.fixture
def sol(db):
    return people.crew()


def test_a_day_whose_only_tally_was_taken_back_is_a_day_without(line, sol):
    row = tapping.tally(line, sol, 10, tallied_on=DAY)
    assert queries.tallied_on(DAY)
    assert not queries.tallied_on(DAY + timedelta(days=1))
    actions.void_tally(tally=row, by=sol, now=FIXED_NOW)
    assert not queries.tallied_on(DAY)


def test_a_plan_of_another_season_is_no_plan_for_this_one(sol):
    line = woods.line(woods.woodlot(), planned_taps=50, season=2025)
    assert queries.one_line_progress(2026, line).planned_taps is None
    assert queries.one_line_progress(2025, line).planned_taps == 50


def test_a_line_finished_by_a_tally_taken_back_is_unfinished_again(line, sol):
    row = tapping.tally(line, sol, 30, finishes_line=True)
    assert queries.one_line_progress(2026, line).taps_left == 0
    actions.void_tally(tally=row, by=sol, now=FIXED_NOW)
    assert queries.one_line_progress(2026, line).taps_left == 50


def test_the_newest_tally_comes_first_and_of_two_at_once_the_later_record(line, sol):
    early = tapping.tally(line, sol, 1, received_at=FIXED_NOW - timedelta(hours=1))
    first, second = tapping.tally(line, sol, 2), tapping.tally(line, sol, 3)
    assert list(queries.tallies(2026)) == [second, first, early]
    assert list(queries.tallies(2025)) == []

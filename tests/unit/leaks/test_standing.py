"""What is said of a line as it stands, and the taps it answers for."""

from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.leaks.models import LeakCheck
from apps.leaks.standing import GROUPS, LineStanding, LineTaps, rolled_taps
from apps.woods.models import Line
from tests.factories.operation import FIXED_NOW


def standing(**fields):
    given = dict.fromkeys(LineStanding.__dataclass_fields__)
    return LineStanding(**given | {"walk_minutes": 20.0, "fix_minutes": 10.0} | fields)


def seen(state):
    return LeakCheck(state=state, observed_at=FIXED_NOW - timedelta(hours=1))


def test_the_time_for_a_line_is_to_walk_there_and_to_fix():
    assert standing().minutes == 30.0


@pytest.mark.parametrize(
    ("state", "days", "words"),
    [
        (None, None, "never walked"),
        ("tight", 0, "tight today"),
        ("leak_left", 1, "leak left yesterday"),
        ("leak_fixed", 12, "leak fixed 12 days ago"),
        ("frozen", None, "frozen · never walked"),
        ("frozen", 0, "frozen · walked today"),
        ("frozen", 12, "frozen · walked 12 days ago"),
    ],
)
def test_the_last_look_names_its_state_and_a_frozen_one_the_walk_before(state, days, words):
    latest = seen(state) if state else None
    assert standing(latest=latest, days_since_walked=days).last_look == words


@pytest.mark.parametrize(("days", "words"), [(None, "never walked"), (3, "walked 3 days ago")])
def test_a_walk_is_said_in_days(days, words):
    assert standing(days_since_walked=days).walked == words


@pytest.mark.parametrize("group", list(GROUPS))
def test_every_group_has_a_title(group):
    assert standing(group=group).group_title == GROUPS[group]
    assert GROUPS[group]


counts = st.none() | st.integers(0, 500)
# Which earlier line each runs into (0: none), its pump house, taps set, taps planned.
trees = st.lists(st.tuples(st.integers(0, 9), st.none() | st.integers(1, 2), counts, counts))


def planted(told):
    return [
        Line(
            pk=number,
            parent_id=parent if 0 < parent < number else None,
            pump_house_id=house,
            label=f"L{number}",
        )
        for number, (parent, house, _, _) in enumerate(told, start=1)
    ]


def above(line, by_id):
    """The line and each it runs into, nearest first."""
    chain = [line]
    while chain[-1].parent_id:
        chain.append(by_id[chain[-1].parent_id])
    return chain


def by_hand(line, lines, by_id, told):
    """Set taps go before planned ones, line by line over the whole branch."""
    branch = [told[other.pk - 1] for other in lines if line in above(other, by_id)]
    counted = [taps for *_, taps, _ in branch if taps is not None]
    planned = [plan for *_, taps, plan in branch if taps is None and plan is not None]
    unknown = len(branch) - len(counted) - len(planned)
    return LineTaps(sum(counted) + sum(planned), len(counted), len(planned), unknown)


@given(trees)
def test_a_line_answers_for_its_branch_set_before_planned(told):
    lines = planted(told)
    by_id = {line.pk: line for line in lines}
    counted = {n: taps for n, (*_, taps, _) in enumerate(told, 1) if taps is not None}
    planned = {n: plan for n, (*_, plan) in enumerate(told, 1) if plan is not None}
    rolled = rolled_taps(lines, counted, planned)
    for line in lines:
        houses = [each.pump_house_id for each in above(line, by_id) if each.pump_house_id]
        assert rolled[line.pk] == (by_hand(line, lines, by_id, told), (houses or [None])[0])


@given(trees)
def test_taps_are_known_as_soon_as_one_line_is_and_the_source_says_how_many(told):
    lines = planted(told)
    counted = {n: taps for n, (*_, taps, _) in enumerate(told, 1) if taps is not None}
    for taps, _ in rolled_taps(lines, counted, {}).values():
        assert taps.known is (taps.lines_counted > 0)
        assert ("unknown" in taps.source) is (taps.lines_unknown > 0)
        assert ("planned" in taps.source) is (taps.known and taps.lines_planned > 0)

"""Which fix closes which leak, from the checks of a line alone."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.leaks.closing import Seen, closers


def story(*steps):
    """('leak_left', 12) and so on, numbered from 1 in the order they were seen."""
    return closers(Seen(n, state, place) for n, (state, place) in enumerate(steps, start=1))


@pytest.mark.parametrize(
    ("steps", "closed_by"),
    [
        ([], {}),
        ([("tight", None)], {}),
        ([("frozen", None)], {}),
        ([("leak_fixed", None)], {}),
        ([("leak_left", None)], {1: None}),
        ([("leak_left", None), ("leak_fixed", None)], {1: 2}),
        ([("leak_left", None), ("tight", None)], {1: None}),
        ([("leak_left", None), ("frozen", None)], {1: None}),
        # A fix closes nothing that is found after it.
        ([("leak_fixed", None), ("leak_left", None)], {2: None}),
        # Several open: a fix without a place closes all, with one only those it may have been.
        ([("leak_left", 3), ("leak_left", 9), ("leak_fixed", None)], {1: 3, 2: 3}),
        ([("leak_left", 3), ("leak_left", 9), ("leak_fixed", 9)], {1: None, 2: 3}),
        ([("leak_left", 3), ("leak_left", None), ("leak_fixed", 3)], {1: 3, 2: 3}),
        ([("leak_left", 3), ("leak_fixed", 4)], {1: None}),
        # Drop 0 is a place, not an unknown one.
        ([("leak_left", 3), ("leak_fixed", 0)], {1: None}),
        # A leak once closed stays with the fix that closed it.
        ([("leak_left", 3), ("leak_fixed", 3), ("leak_fixed", None)], {1: 2}),
        ([("leak_left", 3), ("leak_fixed", 3), ("leak_left", 3)], {1: 2, 3: None}),
    ],
)
def test_a_fix_closes_the_leaks_it_may_have_been(steps, closed_by):
    assert story(*steps) == closed_by


steps = st.lists(
    st.tuples(
        st.sampled_from(["tight", "leak_fixed", "leak_left", "frozen"]),
        st.none() | st.integers(0, 3),
    ),
    max_size=12,
)


@given(steps)
def test_every_leak_left_is_counted_once_and_closed_only_by_a_later_fix(steps):
    closed_by = story(*steps)
    assert sorted(closed_by) == [n for n, (s, _) in enumerate(steps, 1) if s == "leak_left"]
    for opener, closer in closed_by.items():
        assert closer is None or (closer > opener and steps[closer - 1][0] == "leak_fixed")


@given(steps)
def test_a_last_fix_without_a_place_leaves_no_leak_open(steps):
    assert None not in story(*steps, ("leak_fixed", None)).values()

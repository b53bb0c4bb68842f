"""Simulated phones by the thousand: drift, sleeps, reboots, clocks set, 47 minutes of skew.

What is called certain must be true to within the drift and the server's delay; what cannot be
known must be called uncertain; the order of saving must stand whatever happens.
"""

import os
from itertools import pairwise

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from apps.domain.phone_clock import AGREED_MS, Anchor, Clocks, correct
from tests.unit.domain.phone_simulation import HOUR, MINUTE, SECOND, START_MS, SimulatedPhone

EXAMPLES = 5_000 if os.environ.get("THAWLINE_SOAK") else 150
SLACK_MS = 20 * SECOND

# Whole seven minutes of sleep against settings that are none: a sleep never hides a setting.
AWAKE = st.tuples(st.just("awake"), st.integers(1, 90 * 60).map(lambda s: s * SECOND))
SLEEP = st.tuples(st.just("sleep"), st.integers(1, 40).map(lambda n: n * 7 * MINUTE))
SAVE = st.tuples(st.just("save"), st.just(0))
REBOOT = st.tuples(st.just("reboot"), st.just(0))
ANCHOR = st.tuples(st.just("anchor"), st.integers(0, 4 * SECOND))
BY_MS = st.integers(-40, 40).map(lambda n: n * 7 * MINUTE + 3 * MINUTE + 17 * SECOND)
SET = st.tuples(st.just("set_clock"), BY_MS)
OFF_MS = st.sampled_from([0, 47 * MINUTE, -47 * MINUTE, 26 * HOUR, -9000 * HOUR])
DRIFT = st.floats(-50, 50)


def lived(events, off_ms, drift):
    phone = SimulatedPhone(off_ms=off_ms, drift_per_million=drift)
    for name, argument in events:
        getattr(phone, name)(*([argument] if name not in ("save", "reboot") else []))
    return phone


def found_for(phone):
    # A page that had been open for a while: its timer says something of the last gap.
    phone.awake(MINUTE)
    return correct(phone.saved, phone.anchors, phone.sync(late_ms=2 * SECOND))


def assert_in_order(phone, found):
    sent_ms = phone.true_ms + 2 * SECOND
    assert all(one.at_ms < two.at_ms for one, two in pairwise(found))
    assert found[-1].at_ms <= sent_ms


def assert_certain_is_true(phone, found):
    for one, true_ms, clocks in zip(found, phone.truth, phone.saved, strict=True):
        assert one.offset_ms == one.at_ms - clocks.wall_ms
        if one.is_certain:
            assert abs(one.at_ms - true_ms) <= SLACK_MS


@given(st.lists(st.one_of(AWAKE, SLEEP, SAVE, SAVE, REBOOT, ANCHOR), max_size=25), OFF_MS, DRIFT)
@settings(max_examples=EXAMPLES, deadline=None)
def test_a_clock_that_nobody_set_is_right_however_wrong_it_is(events, off_ms, drift):
    phone = lived([("anchor", 0), *events], off_ms, drift)
    assume(phone.saved)
    found = found_for(phone)
    assert_in_order(phone, found)
    assert all(one.is_certain for one in found)
    assert_certain_is_true(phone, found)


QUIET = st.lists(st.one_of(AWAKE, SLEEP, SAVE, SAVE, REBOOT), max_size=12)


@given(QUIET, SET, QUIET, OFF_MS, DRIFT)
@settings(max_examples=EXAMPLES, deadline=None)
def test_a_clock_set_once_is_right_where_it_is_called_certain(a, setting, b, off_ms, drift):
    phone = lived([("anchor", 1_000), *a, setting, *b], off_ms, drift)
    assume(phone.saved)
    found = found_for(phone)
    assert_in_order(phone, found)
    assert_certain_is_true(phone, found)


AWAKE_ONLY = st.lists(st.one_of(AWAKE, SAVE, SET), max_size=20)


@given(AWAKE_ONLY, OFF_MS, DRIFT)
@settings(max_examples=EXAMPLES, deadline=None)
def test_a_phone_kept_awake_is_right_however_often_its_clock_is_set(events, off_ms, drift):
    phone = lived([("anchor", 0), *events], off_ms, drift)
    assume(phone.saved)
    found = found_for(phone)
    assert_in_order(phone, found)
    assert all(one.is_certain for one in found)
    assert_certain_is_true(phone, found)


@given(QUIET, SET, QUIET, SET, QUIET, OFF_MS)
@settings(max_examples=EXAMPLES, deadline=None)
def test_a_clock_set_between_other_anchors_leaves_the_rest_certain(a, one, b, two, c, off_ms):
    events = [("anchor", 0), *a, one, ("anchor", 0), *b, two, ("anchor", 0), *c]
    phone = lived(events, off_ms, 0.0)
    assume(phone.saved)
    found = found_for(phone)
    assert_in_order(phone, found)
    assert_certain_is_true(phone, found)
    quiet = len([name for name, _ in c if name == "save"])
    assert all(row.is_certain for row in found[len(found) - quiet :])


@given(
    st.lists(st.one_of(AWAKE, SLEEP, SAVE, SAVE, REBOOT, SET, ANCHOR), max_size=30),
    OFF_MS,
    DRIFT,
)
@settings(max_examples=EXAMPLES, deadline=None)
def test_whatever_happens_to_the_clock_the_order_of_saving_stands(events, off_ms, drift):
    phone = lived(events, off_ms, drift)
    assume(phone.saved)
    assert_in_order(phone, found_for(phone))


ANY_CLOCK = st.builds(
    Clocks,
    st.integers(0, 2 * START_MS),
    st.one_of(st.none(), st.integers(0, HOUR)),
    st.one_of(st.none(), st.sampled_from("ab")),
)


@given(st.data())
@settings(max_examples=EXAMPLES, deadline=None)
def test_not_even_clocks_that_make_no_sense_break_the_order(data):
    saved = data.draw(st.lists(ANY_CLOCK, min_size=1, max_size=8))
    moments = st.builds(Anchor, ANY_CLOCK, st.integers(0, 2 * START_MS), st.integers(0, 9))
    anchors = data.draw(st.lists(moments, max_size=5))
    sync = Anchor(data.draw(ANY_CLOCK), data.draw(st.integers(HOUR, 2 * START_MS)), len(saved))
    found = correct(saved, anchors, sync)
    assert all(0 <= one.at_ms < two.at_ms for one, two in pairwise(found))
    assert found[-1].at_ms <= sync.server_ms


@given(st.lists(st.one_of(AWAKE, SLEEP, SAVE, SAVE), max_size=20), st.integers(-14, 14))
@settings(max_examples=EXAMPLES, deadline=None)
def test_a_journey_through_time_zones_moves_nothing(events, hours):
    # A zone is how a moment is written, and clocks here are moments: nothing but the offset of a
    # phone set by hand to "the local hour" is left, and that is the same on every record.
    at_home = lived([("anchor", 0), *events], 0, 0.0)
    by_hand = lived([("anchor", 0), *events], hours * HOUR, 0.0)
    assume(at_home.saved)
    times = [[one.at_ms for one in found_for(phone)] for phone in (at_home, by_hand)]
    assert times[0] == times[1]


def test_the_night_of_summer_time_has_no_hour_too_few():
    # In New York the wall goes from 01:59 to 03:00 on 8 March 2026; moments know nothing of it.
    phone = SimulatedPhone()
    phone.anchor()
    for _ in range(12):
        phone.sleep(30 * MINUTE)
        phone.save()
    found = found_for(phone)
    steps = {two.at_ms - one.at_ms for one, two in pairwise(found)}
    assert max(steps) - min(steps) <= AGREED_MS // 60
    assert min(steps) >= 30 * MINUTE - SECOND

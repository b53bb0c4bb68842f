"""Tracing against hand-drawn boils and a brute-force walk over every state of every vessel.

Nothing is published to check against, so the independent computation is the walk: each change
of a vessel makes a new state, states are joined by arrows, and all arrows are followed. Sets of
names must be equal; there is no tolerance.
"""

import time
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.domain.trace import (
    Boiled,
    Drained,
    Emptied,
    ImpossibleMovement,
    Kind,
    Moved,
    NaiveTime,
    Place,
    trace_back,
    trace_forward,
)

START = datetime(2026, 3, 10, 12, tzinfo=UTC)


def sap(key):
    return Place(Kind.SAP, key)


def tank(key):
    return Place(Kind.TANK, key)


def lot(key):
    return Place(Kind.RO_LOT, key)


def batch(key):
    return Place(Kind.BATCH, key)


def drum(key):
    return Place(Kind.CONTAINER, key)


def _hour(number):
    return START + timedelta(hours=number)


def _moves(*pairs):
    return [Moved(_hour(hour), *pair) for hour, pair in enumerate(pairs)]


TWO_DAYS = [
    Moved(_hour(0), sap("upper"), tank("1")),
    Moved(_hour(1), tank("1"), lot("mon")),
    Moved(_hour(2), lot("mon"), tank("conc")),
    Emptied(_hour(3), tank("1")),
    Boiled(_hour(4), batch("A"), "front"),
    Moved(_hour(4), tank("conc"), batch("A")),
    Emptied(_hour(5), tank("conc")),
    Moved(_hour(6), batch("A"), drum("D1")),
    Moved(_hour(24), sap("lower"), tank("1")),
    Moved(_hour(25), tank("1"), lot("tue")),
    Moved(_hour(26), lot("tue"), tank("conc")),
    Boiled(_hour(27), batch("B"), "front"),
    Moved(_hour(27), tank("conc"), batch("B")),
    Moved(_hour(28), batch("B"), drum("D2")),
]


def _with_pans_drained(into=None):
    return [*TWO_DAYS, Drained(_hour(10), "front", into)]


@pytest.mark.parametrize(
    ("events", "container", "loads"),
    [
        (TWO_DAYS, "D1", {"upper"}),
        (TWO_DAYS, "D2", {"upper", "lower"}),
        (_with_pans_drained(), "D2", {"lower"}),
        (_with_pans_drained(tank("sweet")), "D2", {"lower"}),
        (_with_pans_drained(tank("1")), "D2", {"upper", "lower"}),
    ],
)
def test_pans_carry_sap_into_the_next_batch_until_drained(events, container, loads):
    found = trace_back(events, drum(container)).of_kind(Kind.SAP)
    assert {place.key for place in found} == loads


def test_later_sap_in_the_same_tank_is_not_in_an_earlier_drum():
    assert sap("lower") not in trace_back(TWO_DAYS, drum("D1")).reached


def test_forward_from_a_load_finds_every_drum_it_may_be_in():
    assert trace_forward(TWO_DAYS, sap("upper")).of_kind(Kind.CONTAINER) == (
        drum("D1"),
        drum("D2"),
    )
    assert trace_forward(TWO_DAYS, sap("lower")).of_kind(Kind.CONTAINER) == (drum("D2"),)


def test_a_tank_stands_for_all_that_passed_through_it():
    both = trace_forward(TWO_DAYS, tank("1"))
    assert set(both.of_kind(Kind.CONTAINER)) == {drum("D1"), drum("D2")}
    assert set(trace_back(TWO_DAYS, tank("1")).of_kind(Kind.SAP)) == {sap("upper"), sap("lower")}


def test_steps_tell_the_story_in_order_and_mark_what_pans_kept():
    steps = trace_back(TWO_DAYS, drum("D2")).steps
    assert [step.at for step in steps] == sorted(step.at for step in steps)
    assert [(step.source, step.target) for step in steps if step.carried] == [
        (batch("A"), batch("B"))
    ]


def test_events_may_come_in_any_order():
    shuffled = [*TWO_DAYS[7:], *TWO_DAYS[:7]]
    assert trace_back(shuffled, drum("D2")).reached == trace_back(TWO_DAYS, drum("D2")).reached


def test_mixed_drums_and_reboiled_drums_are_followed():
    events = _moves(
        (sap("s"), batch("A")),
        (batch("A"), drum("D1")),
        (drum("D1"), drum("D2")),
        (drum("D2"), batch("B")),
        (batch("B"), drum("jugs")),
    )
    assert trace_forward(events, sap("s")).of_kind(Kind.CONTAINER) == (
        drum("D1"),
        drum("D2"),
        drum("jugs"),
    )


def test_sweet_sent_back_to_a_tank_makes_no_endless_round():
    events = _moves(
        (sap("s"), tank("1")),
        (tank("1"), batch("A")),
        (batch("A"), tank("1")),
        (tank("1"), batch("B")),
    )
    assert trace_back(events, batch("B")).reached == {sap("s"), tank("1"), batch("A")}
    assert trace_back(events, tank("1")).reached == {sap("s"), batch("A")}


def test_a_batch_boiled_on_after_a_pause_does_not_carry_itself():
    events = [Boiled(_hour(0), batch("A"), "front"), Boiled(_hour(5), batch("A"), "front")]
    assert trace_back(events, batch("A")).steps == ()


def test_draining_clean_pans_joins_nothing():
    assert trace_back([Drained(_hour(0), "front", tank("1"))], tank("1")).reached == frozenset()


def test_two_sets_of_pans_keep_apart():
    events = [
        Boiled(_hour(0), batch("A"), "front"),
        Boiled(_hour(1), batch("B"), "back"),
        Boiled(_hour(2), batch("C"), "front"),
    ]
    assert trace_back(events, batch("C")).reached == {batch("A")}


def test_a_place_nobody_moved_reaches_nothing():
    assert trace_back(TWO_DAYS, drum("none")).reached == frozenset()
    assert trace_forward(TWO_DAYS, drum("none")).steps == ()


@pytest.mark.parametrize(
    ("source", "target"),
    [
        (tank("1"), tank("1")),
        (tank("1"), sap("s")),
        (sap("s"), drum("D1")),
        (tank("1"), drum("D1")),
        (lot("L"), drum("D1")),
        (drum("D1"), tank("1")),
        (batch("A"), lot("L")),
    ],
)
def test_movement_no_sugarhouse_can_make_is_refused(source, target):
    with pytest.raises(ImpossibleMovement, match="target must be a place"):
        Moved(_hour(0), source, target)


def test_boiling_something_that_is_no_batch_is_refused():
    with pytest.raises(ImpossibleMovement, match="batch must be a batch, not tank 1"):
        trace_back([Boiled(_hour(0), tank("1"), "front")], tank("1"))


def test_event_without_a_time_zone_is_refused():
    naive = Emptied(datetime(2026, 3, 10, 12), tank("1"))  # noqa: DTZ001 - what is refused
    with pytest.raises(NaiveTime, match="time zone"):
        trace_forward([naive], tank("1"))


class States:
    """Every state of every vessel, joined by arrows from what went into it."""

    def __init__(self, events):
        self.now, self.into, self.out_of, self.on_pans = {}, {}, {}, {}
        for event in events:
            getattr(self, f"_{type(event).__name__.lower()}")(event)

    def _state(self, place):
        return self.now.setdefault(place, (place, 0))

    def _change(self, place, *sources):
        old = self._state(place)
        new = self.now[place] = (place, old[1] + 1)
        for source in sources:
            self.into.setdefault(new, set()).add(source)
            self.out_of.setdefault(source, set()).add(new)

    def _moved(self, event):
        self._change(event.target, self._state(event.target), self._state(event.source))

    def _emptied(self, event):
        self._change(event.place)

    def _boiled(self, event):
        before = self.on_pans.get(event.pans)
        self.on_pans[event.pans] = event.batch
        if before not in (None, event.batch):
            self._change(event.batch, self._state(event.batch), self._state(before))

    def _drained(self, event):
        before = self.on_pans.pop(event.pans, None)
        if before is not None and event.into is not None:
            self._change(event.into, self._state(event.into), self._state(before))

    def walk(self, arrows, place):
        seen = [(place, number) for number in range(self._state(place)[1] + 1)]
        for state in seen:
            seen.extend(arrows.get(state, set()) - set(seen))
        return {name for name, _ in seen} - {place}


PLACES = {
    Kind.SAP: [sap(key) for key in "abc"],
    Kind.TANK: [tank(key) for key in "123"],
    Kind.RO_LOT: [lot(key) for key in "xy"],
    Kind.BATCH: [batch(key) for key in "ABCD"],
    Kind.CONTAINER: [drum(key) for key in "PQRS"],
}
EVERYWHERE = [place for places in PLACES.values() for place in places]


def _may_move(pair):
    try:
        Moved(START, *pair)
    except ImpossibleMovement:
        return False
    return True


PAIRS = [(one, two) for one in EVERYWHERE for two in EVERYWHERE if _may_move((one, two))]
STEPS = st.one_of(
    st.sampled_from(PAIRS).map(lambda pair: lambda at: Moved(at, *pair)),
    st.sampled_from(PLACES[Kind.TANK]).map(lambda place: lambda at: Emptied(at, place)),
    st.tuples(st.sampled_from(PLACES[Kind.BATCH]), st.sampled_from(["front", "back"])).map(
        lambda pair: lambda at: Boiled(at, *pair)
    ),
    st.tuples(st.sampled_from(["front", "back"]), st.sampled_from([None, *PLACES[Kind.TANK]])).map(
        lambda pair: lambda at: Drained(at, *pair)
    ),
)
# Half as many hours as steps, so that some fall on the same moment.
SEASONS = st.lists(STEPS, max_size=40).map(
    lambda steps: [make(_hour(number // 2)) for number, make in enumerate(steps)]
)


@given(SEASONS, st.sampled_from(EVERYWHERE))
def test_both_ways_agree_with_the_walk(events, place):
    states = States(events)
    assert trace_back(events, place).reached == states.walk(states.into, place)
    assert trace_forward(events, place).reached == states.walk(states.out_of, place)


@given(SEASONS, st.sampled_from(EVERYWHERE), st.sampled_from(EVERYWHERE))
def test_back_and_forward_are_two_sides_of_one_thing(events, one, other):
    assert (one in trace_back(events, other).reached) == (
        other in trace_forward(events, one).reached
    )


@given(SEASONS, st.sampled_from(EVERYWHERE), st.sampled_from(PLACES[Kind.TANK]))
def test_forgetting_to_record_an_emptying_only_adds_suspects(events, place, vessel):
    unrecorded = [e for e in events if not (isinstance(e, Emptied) and e.place == vessel)]
    assert trace_back(events, place).reached <= trace_back(unrecorded, place).reached


def test_a_long_season_is_traced_in_under_two_seconds():
    # A mock recall is timed in minutes; 30,000 movements are many seasons of a large operation.
    events = []
    for number in range(10_000):
        at, name = START + timedelta(minutes=number), str(number)
        events += [
            Moved(at, sap(name), tank("1")),
            Moved(at, tank("1"), batch(name)),
            Moved(at, batch(name), drum(name)),
        ]
    began = time.perf_counter()
    assert len(trace_back(events, drum("9999")).of_kind(Kind.SAP)) == 10_000
    assert time.perf_counter() - began < 2.0

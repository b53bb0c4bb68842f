"""Valve tests against hand arithmetic and simulated mainlines with one leak."""

from math import ceil, log2

import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.domain import valve_test
from apps.domain.errors import DomainError, OutOfRange
from apps.domain.units import inhg_from_kpa, kpa_from_inhg
from apps.domain.valve_test import LineReading, LineVerdict, ManifoldTest


def reading(line_id, inches, sap_moves=True):
    return LineReading(line_id, None if inches is None else kpa_from_inhg(inches), sap_moves)


def judged(*lines, all_shut=26.0, all_open=20.0, leaking_shut=None, blanked=None):
    kpa = [
        None if n is None else kpa_from_inhg(n) for n in (all_shut, all_open, leaking_shut, blanked)
    ]
    return valve_test.judge_manifold(ManifoldTest(kpa[0], kpa[1], lines, kpa[2], kpa[3]))


class TestManifold:
    @pytest.mark.parametrize(
        ("line", "verdict"),
        [
            (reading("a", 20.5), "leaks"),
            (reading("a", 20.49), "tight"),
            (reading("a", 20.0), "tight"),
            (reading("a", 19.8), "tight"),
            (reading("a", 25.0), "leaks"),
            (reading("a", 20.0, sap_moves=False), "no verdict"),
            (reading("a", 25.0, sap_moves=False), "no verdict"),
            (reading("a", None), "no verdict"),
        ],
    )
    def test_half_an_inch_of_rise_is_a_leak_and_a_still_line_has_no_verdict(self, line, verdict):
        (found,) = judged(line).lines
        assert found.verdict == verdict

    @pytest.mark.parametrize("open_in", [n / 10 for n in range(180, 262, 7)])
    def test_the_limit_holds_for_every_pair_of_typed_readings(self, open_in):
        recovers = [
            valve_test.gauge_recovers(
                kpa_from_inhg(open_in), kpa_from_inhg(round(open_in + rise, 1))
            )
            for rise in (0.4, 0.5, 0.6)
        ]
        assert recovers == [False, True, True]

    def test_leaking_lines_come_first_largest_first(self):
        found = judged(
            reading("tight", 20.1),
            reading("small", 21.0),
            reading("still", 20.0, sap_moves=False),
            reading("large", 23.0),
        )
        assert [line.line_id for line in found.lines] == ["large", "small", "still", "tight"]
        assert found.lines[0].rise_kpa == pytest.approx(kpa_from_inhg(3.0))

    # By hand: 26.0 all shut, 25.2 with every leaking line shut leaves 0.8 in small leaks; a
    # blanked port at 27.4 leaves 1.4 in between pump and manifold.
    @pytest.mark.parametrize(
        ("leaking_shut", "blanked", "small", "pump_side"),
        [(25.2, 27.4, 0.8, 1.4), (26.0, 26.0, 0.0, 0.0)],
    )
    def test_what_is_lost_elsewhere_is_told_apart(self, leaking_shut, blanked, small, pump_side):
        found = judged(leaking_shut=leaking_shut, blanked=blanked)
        assert inhg_from_kpa(found.small_leaks_kpa) == pytest.approx(small)
        assert inhg_from_kpa(found.pump_side_kpa) == pytest.approx(pump_side)

    def test_readings_not_taken_leave_the_rest_unknown(self):
        found = judged(reading("a", None))
        assert (found.small_leaks_kpa, found.pump_side_kpa) == (None, None)
        assert found.lines == (LineVerdict("a", "no verdict", None),)

    def test_it_ends_with_opening_every_valve(self):
        assert judged().next_prompt == "Open every valve."

    @given(st.lists(st.integers(0, 1000).map(lambda n: n / 100), min_size=1, max_size=8))
    def test_with_rises_that_add_up_the_parts_explain_the_whole(self, rises):
        lines = [reading(str(n), 15 + rise) for n, rise in enumerate(rises)]
        found = judged(*lines, all_open=15.0)
        leaking = [line for line in found.lines if line.verdict == "leaks"]
        assert {line.line_id for line in leaking} == {
            str(n) for n, rise in enumerate(rises) if rise >= 0.5
        }
        assert [line.rise_kpa for line in leaking] == sorted(
            (line.rise_kpa for line in leaking), reverse=True
        )

    @pytest.mark.parametrize(
        ("make", "match"),
        [
            (lambda: judged(reading("a", 20), reading("a", 21)), "line a must appear once"),
            (lambda: judged(all_shut=-1.0), "all_shut_kpa"),
            (lambda: judged(all_open=40.0), "all_open_kpa"),
            (lambda: judged(blanked=40.0), "blanked_port_kpa"),
            (lambda: judged(reading("a", -1.0)), "only_shut_kpa"),
            (lambda: ManifoldTest(80, 70, (), leak_rise_kpa=0), "leak_rise_kpa"),
            (lambda: valve_test.gauge_recovers(-1, 80), "open_kpa"),
            (lambda: valve_test.gauge_recovers(80, 111), "shut_kpa"),
        ],
    )
    def test_impossible_readings_are_named(self, make, match):
        with pytest.raises(DomainError, match=match):
            make()


def search(valves, leak_at):
    """Walk the search on a mainline that leaks in stretch `leak_at`."""
    state = valve_test.start_bisection(valves)
    while state.valve is not None:
        state = state.record(recovers=leak_at >= state.valve)
    return state


class TestBisection:
    @pytest.mark.parametrize("valves", [1, 2, 3, 4, 7, 8, 15, 16, 31, 33])
    def test_every_stretch_is_found_within_the_promised_closings(self, valves):
        for leak_at in range(valves + 1):
            found = search(valves, leak_at)
            assert found.stretch == leak_at
            assert found.closings <= ceil(log2(valves + 1))

    @given(st.integers(1, 10_000), st.data())
    def test_long_mainlines_keep_the_promise(self, valves, data):
        leak_at = data.draw(st.integers(0, valves))
        found = search(valves, leak_at)
        assert (found.stretch, found.step) == (leak_at, "done")
        assert found.closings <= ceil(log2(valves + 1))

    # Seven valves by hand: shut the middle one first.
    @pytest.mark.parametrize(
        ("answers", "valve", "stretch"),
        [
            ([], 4, None),
            ([True], 6, None),
            ([False], 2, None),
            ([True, True], 7, None),
            ([True, True, True], None, 7),
            ([False, False, False], None, 0),
        ],
    )
    def test_the_middle_valve_is_shut_next(self, answers, valve, stretch):
        state = valve_test.start_bisection(7)
        for recovers in answers:
            state = state.record(recovers)
        assert (state.valve, state.stretch) == (valve, stretch)

    def test_it_asks_for_a_valve_and_ends_with_opening_every_one(self):
        state = valve_test.start_bisection(1)
        assert state.prompt == "Shut valve 1 and wait for the gauge to settle."
        assert state.record(True).prompt == "Open every valve."

    def test_a_frozen_line_ends_the_search_without_a_verdict(self):
        state = valve_test.start_bisection(7).record(True).record(None)
        assert (state.step, state.stretch, state.closings) == ("done", None, 2)
        assert state.prompt == "Open every valve."

    def test_a_finished_search_takes_no_further_reading(self):
        with pytest.raises(DomainError, match="done"):
            search(3, 2).record(True)

    @pytest.mark.parametrize("valves", [0, -1, 10_001, 2.5])
    def test_an_impossible_number_of_valves_is_refused(self, valves):
        with pytest.raises(OutOfRange, match="valves"):
            valve_test.start_bisection(valves)

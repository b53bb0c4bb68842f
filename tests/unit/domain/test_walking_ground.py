"""Walks on plain ground: two arms, a row, a hill; and changes that must not matter."""

from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from apps.domain import walking
from apps.domain.walking import Stop, WalkLimits

EXACT_AND_GOOD = (9, 0)
ALL_DAY = WalkLimits(hours=24)


def woods(seed, count):
    draw = np.random.default_rng(seed)
    places = [(0.0, 0.0), *map(tuple, draw.uniform(-600, 600, (count, 2)).tolist())]
    stops = [
        Stop(f"L{n}", float(draw.integers(5, 300)), float(draw.integers(5, 40)))
        for n in range(count)
    ]
    return stops, walking.walk_minutes(places)


ground = st.builds(woods, st.integers(0, 2**32 - 1), st.integers(1, 6))


def reordered(stops, walk, order):
    """The same woods with the lines listed in another order."""
    places = [0, *(stop + 1 for stop in order)]
    return [stops[stop] for stop in order], walk[np.ix_(places, places)]


class TestPlainGround:
    @pytest.mark.parametrize("exact_up_to", EXACT_AND_GOOD)
    @pytest.mark.parametrize("count", range(1, 9))
    def test_a_row_of_lines_is_walked_from_end_to_end(self, exact_up_to, count):
        # 100 m apart in a row from the start: out and back is the shortest way through all.
        walk = walking.walk_minutes([(100.0 * n, 0.0) for n in range(count + 1)], 6, 1)
        stops = [Stop(str(n), 10, 1) for n in range(count)]
        found = walking.best_walk(stops, walk, ALL_DAY, exact_up_to)
        assert found.hours * 60 == pytest.approx(count * (2 + 1))
        assert len(found.line_ids) == count

    @pytest.mark.parametrize("exact_up_to", EXACT_AND_GOOD)
    def test_two_arms_are_walked_one_after_the_other(self, exact_up_to):
        arms = [(100.0 * n, 0.0) for n in (1, 2, 3)] + [(-100.0 * n, 0.0) for n in (1, 2, 3)]
        walk = walking.walk_minutes([(0.0, 0.0), *arms], 6, 1)
        stops = [Stop(name, 10, 0) for name in ("e1", "e2", "e3", "w1", "w2", "w3")]
        found = walking.best_walk(stops, walk, ALL_DAY, exact_up_to)
        arms_walked = "".join(line_id[0] for line_id in found.line_ids)
        assert "ewe" not in arms_walked
        assert "wew" not in arms_walked
        # Each arm out and back: 6 x 100 m twice at 100 m a minute.
        assert found.hours * 60 == pytest.approx(12)

    @pytest.mark.parametrize("exact_up_to", EXACT_AND_GOOD)
    def test_an_open_walk_ends_at_the_far_end_of_the_longer_arm(self, exact_up_to):
        arms = [(100.0, 0.0), (-100.0, 0.0), (-200.0, 0.0), (-300.0, 0.0)]
        walk = walking.walk_minutes([(0.0, 0.0), *arms], 6, 1)
        stops = [Stop(name, 10, 0) for name in ("e1", "w1", "w2", "w3")]
        limits = WalkLimits(back_to_start=False, hours=24)
        found = walking.best_walk(stops, walk, limits, exact_up_to)
        assert found.line_ids == ("e1", "w1", "w2", "w3")
        assert found.hours * 60 == pytest.approx(5)

    @pytest.mark.parametrize("exact_up_to", EXACT_AND_GOOD)
    def test_a_hill_is_gone_round_the_easy_way(self, exact_up_to):
        # Up takes 20 minutes, down 5; a road on the far side goes up in 8 by way of "road".
        walk = np.array([[0, 20, 2], [5, 0, 5], [2, 6, 0]], dtype=float)
        stops = [Stop("top", 50, 10), Stop("road", 5, 0)]
        found = walking.best_walk(stops, walk, ALL_DAY, exact_up_to)
        assert found.line_ids == ("road", "top")
        assert found.hours * 60 == pytest.approx(2 + 6 + 10 + 5)

    # Gains 40, 30, 20, 10 litres a day in a row 5, 10, 15, 20 minutes out, 10 minutes each to
    # fix; walking out to line n and back is 10 n minutes. By hand.
    @pytest.mark.parametrize(
        ("hours", "litres", "minutes"),
        [
            (0.3, 0, 0),
            (1 / 3, 40, 20),
            (40 / 60, 70, 40),
            (1, 90, 60),
            (80 / 60, 100, 80),
            (5, 100, 80),
        ],
    )
    @pytest.mark.parametrize("exact_up_to", EXACT_AND_GOOD)
    def test_each_hour_reaches_one_line_more(self, hours, litres, minutes, exact_up_to):
        places = np.arange(5) * 5.0
        walk = np.abs(places[:, None] - places[None, :])
        stops = [Stop(str(n), 40 - 10 * n, 10) for n in range(4)]
        found = walking.best_walk(stops, walk, WalkLimits(hours=hours), exact_up_to)
        assert found.litres_per_day == litres
        assert found.hours * 60 == pytest.approx(minutes)


class TestWhatMustNotMatter:
    @given(ground, st.randoms())
    def test_the_order_lines_are_listed_in(self, woods_now, shuffler):
        stops, walk = woods_now
        order = list(range(len(stops)))
        shuffler.shuffle(order)
        plain = walking.best_walk(stops, walk)
        other = walking.best_walk(*reordered(stops, walk, order))
        assert other.litres_per_hour == pytest.approx(plain.litres_per_hour, rel=1e-9)

    @given(ground, st.sampled_from([0.5, 2.0, 4.0]))
    def test_twice_the_minutes_are_half_the_litres_an_hour(self, woods_now, times):
        stops, walk = woods_now
        slower = [Stop(s.line_id, s.litres_per_day, s.fix_minutes * times) for s in stops]
        plain, slow = walking.best_walk(stops, walk), walking.best_walk(slower, walk * times)
        assert slow.line_ids == plain.line_ids
        assert slow.litres_per_hour * times == pytest.approx(plain.litres_per_hour, rel=1e-9)

    @given(ground)
    def test_a_line_with_nothing_to_gain_is_left_out(self, woods_now):
        stops, walk = woods_now
        idle = [*stops[:-1], Stop("idle", 0, 5)]
        for limits in (None, WalkLimits(hours=2)):
            assert "idle" not in walking.best_walk(idle, walk, limits).line_ids

    @given(ground, st.integers(1, 100))
    def test_more_to_gain_never_makes_a_worse_walk(self, woods_now, more):
        stops, walk = woods_now
        richer = [Stop(s.line_id, s.litres_per_day + more, s.fix_minutes) for s in stops]
        for limits in (None, WalkLimits(hours=2)):
            before, after = (walking.best_walk(each, walk, limits) for each in (stops, richer))
            assert after.litres_per_day >= before.litres_per_day or limits is None
            assert after.litres_per_hour >= before.litres_per_hour or limits is not None

    @given(ground)
    def test_not_coming_back_never_recovers_less_an_hour(self, woods_now):
        stops, walk = woods_now
        back = walking.best_walk(stops, walk)
        stay = walking.best_walk(stops, walk, WalkLimits(back_to_start=False))
        assert stay.litres_per_hour >= back.litres_per_hour * (1 - 1e-12)

    def test_the_minutes_given_are_left_as_they_were(self):
        stops, walk = woods(1, 5)
        before = walk.copy()
        walking.best_walk(stops, walk, WalkLimits(back_to_start=False))
        assert np.array_equal(walk, before)


class TestShortestWay:
    @settings(max_examples=25)
    @given(st.integers(0, 2**32 - 1))
    def test_with_all_day_the_way_through_seven_lines_is_the_shortest(self, seed):
        stops, walk = woods(seed, 7)
        tours = np.array(list(permutations(range(1, 8))))
        closed = np.column_stack((np.zeros(len(tours), int), tours, np.zeros(len(tours), int)))
        shortest = walk[closed[:, :-1], closed[:, 1:]].sum(axis=1).min()
        found = walking.best_walk(stops, walk, ALL_DAY)
        fixing = sum(stop.fix_minutes for stop in stops)
        assert found.hours * 60 == pytest.approx(shortest + fixing)

    # Twelve lines on a clock face around the start: along the rim and in and out again.
    @pytest.mark.parametrize("exact_up_to", [0, 9])
    def test_a_ring_of_twelve_is_walked_along_its_rim(self, exact_up_to):
        turns = np.arange(12) * np.pi / 6
        rim = [(500 * np.cos(t), 500 * np.sin(t)) for t in turns]
        walk = walking.walk_minutes([(0.0, 0.0), *rim], 6, 1)
        found = walking.best_walk(
            [Stop(str(n), 1, 0) for n in range(12)], walk, ALL_DAY, exact_up_to
        )
        # Radius twice, and eleven chords of 2 r sin 15 degrees; exact for a ring.
        shortest = (2 * 500 + 11 * 1000 * np.sin(np.pi / 12)) / 100
        assert found.hours * 60 == pytest.approx(shortest)

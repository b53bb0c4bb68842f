"""Paths of lines: what is refused, what is kept, and how far apart places are."""

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.domain import line_path
from apps.domain.errors import DomainError
from apps.domain.line_path import NotAPath, checked_path, distance_m, has_heights, length_m, thinned

HERE = (-75.3, 43.9)
THERE = (-75.301, 43.901)
REFUSED = [
    (None, "must be a list of points"),
    ("LINESTRING", "must be a list of points"),
    ({"type": "LineString"}, "must be a list of points"),
    ([], "2 to 2,000 points, not 0"),
    ([HERE], "2 to 2,000 points, not 1"),
    ([HERE, THERE] * 1001, "2 to 2,000 points, not 2,002"),
    ([HERE, -75.3], "point 2 must be a longitude and a latitude"),
    ([HERE, "ab"], "point 2 must be a longitude and a latitude"),
    ([HERE, (-75.3,)], "point 2 .* not 1 numbers"),
    ([HERE, (-75.3, 43.9, 400.0, 1.0)], "point 2 .* not 4 numbers"),
    ([HERE, ("-75.3", 43.9)], "longitude of point 2 must be a number"),
    ([HERE, (True, 43.9)], "longitude of point 2 must be a number"),
    ([HERE, (-75.3, None)], "latitude of point 2 must be a number"),
    ([(-180.5, 43.9), HERE], "longitude of point 1 must be between -180 and 180, not -180.5"),
    ([HERE, (43.9, -90.5)], "latitude of point 2 must be between -90 and 90, not -90.5"),
    ([HERE, (math.nan, 43.9)], "longitude of point 2 .* not nan"),
    ([HERE, (-75.3, math.inf)], "latitude of point 2 .* not inf"),
    ([HERE, (10**400, 43.9)], "longitude of point 2 .* not as far as that"),
    ([(*HERE, -9999), (*THERE, 400)], "elevation_m of point 1 must be between -100 and 5000"),
    ([(*HERE, 400), THERE], "either every point must have a height, or none"),
    ([HERE, HERE, HERE], "all its points are one place"),
    ([(*HERE, 1.0), (*HERE, 2.0)], "all its points are one place"),
    # Under the last decimal that is kept.
    ([HERE, (-75.300000001, 43.9)], "all its points are one place"),
]


@pytest.mark.parametrize(("points", "reason"), REFUSED)
def test_what_cannot_be_a_path_is_refused_naming_the_point(points, reason):
    with pytest.raises(NotAPath, match=reason) as refusal:
        checked_path(points)
    assert isinstance(refusal.value, DomainError)


KEPT = [
    ([[-75, 44], [-76, 44]], ((-75.0, 44.0), (-76.0, 44.0))),
    ([(-180, -90, -100), (180, 90, 5000)], ((-180.0, -90.0, -100.0), (180.0, 90.0, 5000.0))),
    ([(-75.12345678, 43.9), HERE], ((-75.1234568, 43.9), HERE)),
    ([(*HERE, 401.237), (*THERE, 9)], ((*HERE, 401.24), (*THERE, 9.0))),
]


@pytest.mark.parametrize(("points", "kept"), KEPT)
def test_a_path_is_kept_to_the_decimals_that_can_be_measured(points, kept):
    assert checked_path(points) == kept


def test_minus_nought_is_kept_as_nought():
    assert math.copysign(1, checked_path([(-0.0, 0.0), (1.0, -1e-9)])[0][0]) == 1
    assert math.copysign(1, checked_path([(-0.0, 0.0), (1.0, -1e-9)])[1][1]) == 1


def test_the_most_points_are_welcome_and_repeated_points_stay():
    points = [HERE, THERE] * 1000
    assert checked_path(points) == tuple(points)


degrees = st.floats(-90, 90)
heights = st.floats(-100, 5000)
flat = st.lists(st.tuples(degrees, degrees), min_size=2, max_size=40)
high = st.lists(st.tuples(degrees, degrees, heights), min_size=2, max_size=40)


@given(flat | high)
def test_checking_what_was_checked_changes_nothing(points):
    try:
        path = checked_path(points)
    except NotAPath:
        assert max(abs(a - b) for p in points for a, b in zip(p, points[0], strict=True)) < 5100
        return
    assert checked_path(path) == path
    assert checked_path([list(point) for point in path]) == path


@given(flat | high)
def test_what_is_kept_lies_where_it_was_measured(points):
    apart = {tuple(round(value, 7) + 0.0 for value in point[:2]) for point in points}
    if len(apart) > 1:
        path = checked_path(points)
        assert has_heights(path) == (len(points[0]) == 3)
        near = [5e-8, 5e-8, 5e-3]
        for kept, given_point in zip(path, points, strict=True):
            for a, b, most in zip(kept, given_point, near, strict=False):
                assert abs(a - b) <= most * 1.0001


# One degree on a sphere of 6,371,008.8 m is 2 pi r / 360; no published table is needed for it.
DEGREE_M = 2 * math.pi * line_path.EARTH_RADIUS_M / 360


@pytest.mark.parametrize(
    ("one", "other", "metres"),
    [
        ((0, 0), (0, 1), DEGREE_M),
        ((0, 0), (1, 0), DEGREE_M),
        ((0, 0), (180, 0), 180 * DEGREE_M),
        ((0, 90), (77, 90), 0),
        ((179.5, 0), (-179.5, 0), DEGREE_M),
        ((-75.3, 43.9, 100), (-75.3, 43.9, 500), 0),
    ],
)
def test_places_lie_as_far_apart_as_on_a_sphere(one, other, metres):
    assert distance_m(one, other) == pytest.approx(metres, rel=2e-5, abs=1e-6)


def by_cosines(one, other):
    """The spherical law of cosines, another formula for the same distance."""
    x, y, u, v = (math.radians(degree) for degree in (*one, *other))
    cosine = math.sin(y) * math.sin(v) + math.cos(y) * math.cos(v) * math.cos(u - x)
    return line_path.EARTH_RADIUS_M * math.acos(max(-1.0, min(1.0, cosine)))


@given(st.tuples(degrees, degrees), st.tuples(degrees, degrees))
def test_another_formula_gives_the_same_distance(one, other):
    # The cosine is blind under a few hundred metres; above them both must agree.
    assert distance_m(one, other) == pytest.approx(by_cosines(one, other), rel=1e-6, abs=300)


def test_known_cities_lie_as_far_apart_as_they_are_said_to():
    """Nashville to Los Angeles, 2,887.26 km at r = 6,372.8 km: the worked example that programmers
    check a haversine with (from memory)."""
    metres = distance_m((-86.67, 36.12), (-118.40, 33.94))
    assert metres * 6372.8 / 6371.0088 == pytest.approx(2_887_260, abs=10)


def test_a_path_is_as_long_as_its_stretches_together():
    path = checked_path([(0, 0), (0, 1), (1, 1)])
    assert length_m(path) == pytest.approx(DEGREE_M + distance_m((0, 1), (1, 1)))


def furthest_off_m(points, kept):
    """How far the furthest dropped point lies from the kept stretch around it, by brute force."""
    scale = math.cos(math.radians(points[0][1]))
    flat_m = [(math.radians(x) * scale, math.radians(y)) for x, y, *_ in points]
    off = 0.0
    for first, last in pairwise(kept):
        (ax, ay), (bx, by) = flat_m[first], flat_m[last]
        for px, py in flat_m[first + 1 : last]:
            square = (bx - ax) ** 2 + (by - ay) ** 2
            share = ((px - ax) * (bx - ax) + (py - ay) * (by - ay)) / square if square else 0
            share = min(1, max(0, share))
            off = max(off, math.hypot(px - ax - share * (bx - ax), py - ay - share * (by - ay)))
    return off * line_path.EARTH_RADIUS_M


near = st.tuples(st.floats(-75.31, -75.3), st.floats(43.9, 43.91))


@given(st.lists(near, min_size=2, max_size=40), st.integers(2, 40))
def test_thinning_keeps_the_ends_and_says_truly_how_far_off_the_rest_lies(points, most):
    kept, off_m = thinned(points, most)
    assert kept[0] == 0
    assert kept[-1] == len(points) - 1
    assert kept == sorted(set(kept))
    assert len(kept) <= most
    assert off_m == pytest.approx(furthest_off_m(points, kept), abs=1e-6)


def test_thinning_drops_nothing_that_matters_when_there_is_room():
    points = [(0.0, 0.0), (0.001, 0.0), (0.002, 0.001), (0.003, 0.001)]
    assert thinned(points, 4) == ([0, 1, 2, 3], 0)


def test_thinning_drops_what_lies_on_the_line_first():
    points = [(0.0, 0.0), (0.001, 0.0), (0.002, 0.0), (0.003, 0.001), (0.004, 0.0)]
    kept, off_m = thinned(points, 4)
    assert kept == [0, 2, 3, 4]
    assert off_m == pytest.approx(0, abs=1e-6)


def test_a_loop_that_ends_where_it_began_keeps_its_furthest_point():
    kept, off_m = thinned([(0, 0), (0, 1e-3), (0, 2e-3), (0, 1e-3), (0, 0)], 3)
    assert kept == [0, 2, 4]
    assert off_m == pytest.approx(0, abs=1e-6)


@pytest.mark.parametrize(("points", "most"), [([HERE], 2), ([HERE, THERE], 1)])
def test_thinning_needs_two_points_to_keep_two(points, most):
    with pytest.raises(NotAPath, match="thinning needs 2 points"):
        thinned(points, most)

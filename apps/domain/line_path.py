"""Where a line runs: its points from the pump end outwards, checked before anything is kept.

Formula: great-circle distance by the haversine, sin^2(d/2r) = sin^2(dlat/2) + cos lat1 cos lat2
sin^2(dlon/2); the length of a path is the sum over its points, on the map and not along the slope.
Units: degrees of longitude and latitude on WGS 84, in that order, then metres above the sea.
Validity: 2 to 2,000 points, at least two of them apart. Either every point has a height or none
has: a height between two known ones is a guess. Kept to 7 decimals of a degree (11 mm) and to a
centimetre of height, finer than any instrument that is carried through the woods.
Thinning a long track leaves the point that lies furthest from the path so far for last: points are
added by that distance until as many are kept as may be, on a plane true to scale at the track.
Source: order and datum of RFC 7946 (Butler et al., 2016), sections 3.1.1 and 4; haversine, Sinnott,
Sky and Telescope 68 (1984); mean earth radius 6,371,008.8 m, Moritz, Geodetic Reference System
1980, Journal of Geodesy 74 (2000); thinning, Douglas and Peucker, Cartographica 10 (1973), with
the furthest point first.
"""

import heapq
import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from apps.domain.errors import DomainError

Point = tuple[float, ...]
Path = tuple[Point, ...]

LEAST_POINTS = 2
MOST_POINTS = 2_000
DEGREE_DECIMALS = 7
HEIGHT_DECIMALS = 2
EARTH_RADIUS_M = 6_371_008.8
# The heights a woodlot may have; a track that lost its height often says -9999.
RANGES = (
    ("longitude", -180.0, 180.0, DEGREE_DECIMALS),
    ("latitude", -90.0, 90.0, DEGREE_DECIMALS),
    ("elevation_m", -100.0, 5000.0, HEIGHT_DECIMALS),
)


class NotAPath(DomainError):
    """These points cannot be where a line runs; the message names the point, counted from 1."""


def checked_path(points: object) -> Path:
    """The points of a line as they are kept, from anything that was read out of a file.

    `points` is a sequence of (longitude, latitude) or (longitude, latitude, elevation_m).
    Checking what was checked changes nothing. Raises NotAPath.
    """
    if not isinstance(points, Sequence) or isinstance(points, str | bytes):
        raise NotAPath("the path must be a list of points")
    if not LEAST_POINTS <= len(points) <= MOST_POINTS:
        raise NotAPath(
            f"the path must have {LEAST_POINTS} to {MOST_POINTS:,} points, not {len(points):,}"
        )
    path = checked_points(points)
    if len({len(point) for point in path}) > 1:
        raise NotAPath("either every point must have a height, or none")
    # A phone that lay still writes one place a hundred times: that is a place and not a line.
    if len({point[:2] for point in path}) < LEAST_POINTS:
        raise NotAPath("all its points are one place")
    return path


def checked_points(points: Sequence[object]) -> Path:
    """Each point as it is kept, however many they are. Raises NotAPath naming the wrong one."""
    return tuple(_point(number, point) for number, point in enumerate(points, start=1))


def has_heights(path: Path) -> bool:
    """Whether each point of a checked path has its elevation."""
    return len(path[0]) == len(RANGES)


def distance_m(one: Point, other: Point) -> float:
    """Metres along the ground of a smooth earth between two points; heights are not looked at."""
    longitude, latitude = (math.radians(degrees) for degrees in one[:2])
    to_longitude, to_latitude = (math.radians(degrees) for degrees in other[:2])
    half = (
        math.sin((to_latitude - latitude) / 2) ** 2
        + math.cos(latitude) * math.cos(to_latitude) * math.sin((to_longitude - longitude) / 2) ** 2
    )
    # Rounding may carry the half of two opposite places past 1, where no angle is.
    return 2 * EARTH_RADIUS_M * math.asin(math.sqrt(min(1.0, half)))


def length_m(path: Path) -> float:
    """Metres from the first point to the last along the path, as drawn on a map."""
    return math.fsum(distance_m(one, other) for one, other in pairwise(path))


def thinned(points: Sequence[Point], most_points: int = MOST_POINTS) -> tuple[list[int], float]:
    """The places in `points` to keep, ends included, and how far any dropped one lies off, metres.

    At most `most_points` (2 or more) are kept, each as it was measured. Raises NotAPath when there
    are fewer than two points.
    """
    if len(points) < LEAST_POINTS or most_points < LEAST_POINTS:
        raise NotAPath(f"thinning needs {LEAST_POINTS} points, not {len(points)}")
    plane_m = _plane(points)
    kept = [0, len(points) - 1]
    # The stretch whose middle strays most comes first: a heap is smallest first, hence the minus.
    waiting = [_straying(plane_m, 0, len(points) - 1)]
    while waiting and len(kept) < most_points and waiting[0][0] < 0:
        _, furthest, first, last = heapq.heappop(waiting)
        kept.append(furthest)
        heapq.heappush(waiting, _straying(plane_m, first, furthest))
        heapq.heappush(waiting, _straying(plane_m, furthest, last))
    return sorted(kept), -waiting[0][0]


def _plane(points: Sequence[Point]) -> npt.NDArray[np.float64]:
    """East and north in metres from the first point, shape (points, 2)."""
    degrees = np.array([point[:2] for point in points], dtype=np.float64)
    apart_m: npt.NDArray[np.float64] = np.radians(degrees - degrees[0]) * EARTH_RADIUS_M
    apart_m[:, 0] *= math.cos(math.radians(degrees[0, 1]))
    return apart_m


def _straying(
    plane_m: npt.NDArray[np.float64], first: int, last: int
) -> tuple[float, int, int, int]:
    """Minus how far the furthest point between lies from the stretch, that point, and its ends."""
    between = plane_m[first + 1 : last] - plane_m[first]
    if not len(between):
        return 0.0, first, first, last
    along = plane_m[last] - plane_m[first]
    square = float(along @ along)
    # Of a loop that ends where it began there is no stretch, only a point to be far from.
    share = np.clip(between @ along / square, 0, 1) if square else np.zeros(len(between))
    off_m = np.hypot(*(between - share[:, None] * along).T)
    furthest = int(np.argmax(off_m))
    return -float(off_m[furthest]), first + 1 + furthest, first, last


def _point(number: int, point: object) -> Point:
    if not isinstance(point, Sequence) or isinstance(point, str | bytes):
        raise NotAPath(f"point {number} must be a longitude and a latitude")
    if not 2 <= len(point) <= len(RANGES):
        raise NotAPath(
            f"point {number} must be a longitude, a latitude and at most a height, "
            f"not {len(point)} numbers"
        )
    return tuple(
        _coordinate(number, value, bounds) for value, bounds in zip(point, RANGES, strict=False)
    )


def _coordinate(number: int, value: object, bounds: tuple[str, float, float, int]) -> float:
    name, low, high, decimals = bounds
    # True is a number to Python, and to nobody else.
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise NotAPath(f"{name} of point {number} must be a number")
    # Comparisons with NaN are false, so this refuses it together with the infinities.
    if not low <= value <= high:
        raise NotAPath(
            f"{name} of point {number} must be between {low:g} and {high:g}, not {_shown(value)}"
        )
    # Plus nought: minus nought is another text in a file and the same place.
    return round(float(value), decimals) + 0.0


def _shown(value: int | float) -> str:
    # A whole number may be too long for a float, and then is too long to be read as well.
    return f"{value:.10g}" if isinstance(value, float) or abs(value) < 10**15 else "as far as that"

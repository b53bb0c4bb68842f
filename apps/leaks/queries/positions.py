"""Where each line is, for the line nearest to somebody in the woods.

A line drawn on the map is at the point halfway along its path. Of any other line the phones tell:
the median of the newest few positions that came with a check, latitude and longitude each by
itself, so that one phone that was wrong by a valley moves it less than it would a mean. How many
and how accurate: common practice, no source. A few hundred metres of tubing have no one place:
nearest means the line whose middle, or whose usual stop, is nearest.
"""

from collections.abc import Sequence
from itertools import pairwise
from statistics import median

from django.db.models import F, Window
from django.db.models.functions import RowNumber

from apps.domain.line_path import distance_m
from apps.leaks.models import LeakCheck
from apps.woods.models import Line

Place = tuple[float, float]

# Enough to outvote one bad fix, few enough that a line that was moved is found again.
NEWEST = 5
# Under bare maples a phone does better; what is worse may well be the neighbouring line.
ACCURATE_WITHIN_M = 50.0


def line_positions() -> dict[int, Place]:
    """Line id to (latitude, longitude) in degrees; a line neither mapped nor placed is absent."""
    mapped = Line.objects.filter(geometry__isnull=False).values_list("pk", "geometry")
    # What somebody drew or walked along goes before where somebody stopped.
    return _told_by_phones() | {pk: halfway(path) for pk, path in mapped if path}


def halfway(path: Sequence[Sequence[float]]) -> Place:
    """The (latitude, longitude) half of the length along a path of (longitude, latitude) points."""
    lengths_m = [distance_m(tuple(one), tuple(other)) for one, other in pairwise(path)]
    ahead_m = sum(lengths_m) / 2
    for (one, other), length_m in zip(pairwise(path), lengths_m, strict=True):
        if length_m and length_m >= ahead_m:
            share = ahead_m / length_m
            # Straight between the two in degrees: on a stretch of tubing no instrument can tell.
            return one[1] + share * (other[1] - one[1]), one[0] + share * (other[0] - one[0])
        ahead_m -= length_m
    # Rounding may leave a hair of it after the last stretch.
    return path[-1][1], path[-1][0]


def _told_by_phones() -> dict[int, Place]:
    newest_first = Window(
        RowNumber(),
        partition_by=F("line_id"),
        order_by=[F("observed_at").desc(), F("id").desc()],
    )
    fixes: dict[int, list[Place]] = {}
    checks = (
        LeakCheck.objects.standing()
        .filter(position_accuracy_m__lt=ACCURATE_WITHIN_M)
        .annotate(nth_fix=newest_first)
        .filter(nth_fix__lte=NEWEST)
    )
    for check in checks.only("line", "latitude", "longitude", "position_accuracy_m"):
        if place := check.position:
            fixes.setdefault(check.line_id, []).append((place.latitude, place.longitude))
    return {
        line_id: (median(lat for lat, _ in each), median(lon for _, lon in each))
        for line_id, each in fixes.items()
    }

"""Where each line is, as far as phones have told: for the line nearest to somebody in the woods.

A position is the median of the newest few that a phone gave with a check, latitude and longitude
each by itself: one phone that was wrong by a valley moves it less than it would a mean. A few
hundred metres of tubing have no one place; a line's is where people stop on it. How many and how
accurate: common practice, no source. Once lines are drawn on a map, the map goes first.
"""

from statistics import median

from django.db.models import F, Window
from django.db.models.functions import RowNumber

from apps.leaks.models import LeakCheck

# Enough to outvote one bad fix, few enough that a line that was moved is found again.
NEWEST = 5
# Under bare maples a phone does better; what is worse may well be the neighbouring line.
ACCURATE_WITHIN_M = 50.0


def line_positions() -> dict[int, tuple[float, float]]:
    """Line id to (latitude, longitude) in degrees; a line no phone has placed is absent."""
    newest_first = Window(
        RowNumber(),
        partition_by=F("line_id"),
        order_by=[F("observed_at").desc(), F("id").desc()],
    )
    fixes: dict[int, list[tuple[float, float]]] = {}
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

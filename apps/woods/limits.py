"""What can be believed of a line, in SI, for whatever hands it in: a form, a sheet or a map."""

import re

from apps.domain.line_path import Path, distance_m

# The database holds the same bounds or wider ones, so that a form can say in words what the
# database would only refuse.
ELEVATION_M = (-100.0, 5000.0)
# Never nought: the slope of a line is its fall over its length.
LENGTH_M = (0.01, 50_000.0)
# Below zero where a line climbs on its way to the pump, as over a ladder.
FALL_M = (-1000.0, 1000.0)
# Inches typed for millimetres come out under 1, and are caught here.
DIAMETER_MM = (1.0, 1000.0)
# The ranking divides by the time spent; beyond ten hours seconds were typed for minutes.
WALK_MINUTES = (0.1, 600.0)
SEASON = (1900, 2200)
# More than any one line bears: a nought too many is caught, a whole farm in one row is not
# refused.
PLANNED_TAPS = (0, 20_000)
# What fits a tag that can be read from the sled.
LABEL_LETTERS = 24
# Control characters, halves of letters and what XML 1.0 (section 2.2) cannot hold: no tag shows
# them, and a label must go into every file that lines are written to.
UNWRITABLE = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff\ufffe\uffff]")
# No line lies further from its woodlot; latitude put before longitude lands on another continent.
FROM_WOODLOT_M = 50_000.0


def too_far_away(path: Path, longitude: float, latitude: float) -> str | None:
    """Why a path cannot belong to a woodlot at this place; None when it can."""
    for number, point in enumerate(path, start=1):
        away_m = distance_m(point, (longitude, latitude))
        if away_m > FROM_WOODLOT_M:
            return (
                f"point {number} is {away_m / 1000:,.0f} km from the woodlot; "
                "longitude comes first, then latitude"
            )
    return None

"""The numbers page: where lines run, how long they are on the map, and walked tracks thinned."""

from apps.domain import line_path
from apps.operation.numbers import show
from apps.operation.numbers.entry import Area, Basis, Worked

AREA = Area("line_path", "Where lines run")
SIX_DEGREES = "6 decimals of a degree are 0.11 m, 7 are 0.011 m"
BEND = ((-75.3, 43.9), (-75.301, 43.9), (-75.301, 43.901))


@AREA.explain(
    "length_m distance_m",
    "Length of a line on the map",
    formula="sum over its points of 2 r asin √(sin²(Δlat/2) + cos lat1 cos lat2 sin²(Δlon/2))",
    units="degrees on WGS 84; metres with r = 6,371,008.8 m",
    validity="along a round earth, not along the slope; within 0.6 % of the ellipsoid",
    source="haversine: Sinnott, Sky and Telescope 68 (1984); radius: Moritz, Journal of Geodesy "
    "74 (2000)",
    basis=Basis.PUBLISHED,
)
def length() -> Worked:
    west = line_path.distance_m(BEND[0], BEND[1])
    return Worked(
        {"points": "-75.3 43.9, then -75.301 43.9, then -75.301 43.901"},
        {
            "first stretch": show.metres(west),
            "the line": show.metres(line_path.length_m(BEND)),
        },
    )


@AREA.explain(
    "checked_path checked_points has_heights",
    "A path as it is kept",
    formula="each point rounded to 7 decimals of a degree and 2 of a metre",
    units="degrees of longitude and latitude on WGS 84, in that order; metres above the sea",
    validity="2 to 2,000 points, two of them apart; a height at every point or at none",
    source=f"order and datum: RFC 7946 (2016), sections 3.1.1 and 4; {SIX_DEGREES}, computed",
    basis=Basis.PUBLISHED,
)
def kept() -> Worked:
    path = line_path.checked_path([(-75.30000004, 43.9, 401.237), (-75.301, 43.9, 400)])
    return Worked(
        {"first point": "-75.30000004 43.9, 401.237 m"},
        {
            "kept": " ".join(f"{number:.10g}" for number in path[0]),
            "heights": "at every point" if line_path.has_heights(path) else "none",
        },
    )


@AREA.explain(
    "thinned",
    "A walked track thinned",
    formula="keep both ends, then again and again the point furthest from the line kept so far",
    units="metres on a plane true to scale where the track begins",
    validity="only for tracks of more points than a line may have; how far off is said",
    source="Douglas and Peucker, Cartographica 10 (1973), the furthest point first",
    basis=Basis.PUBLISHED,
)
def fewer() -> Worked:
    track = ((-75.3, 43.9), (-75.3005, 43.90001), (-75.301, 43.9), (-75.301, 43.901))
    places, off_m = line_path.thinned(track, 3)
    return Worked(
        {"track": "4 points, of which 3 may be kept"},
        {
            "kept": ", ".join(f"point {place + 1}" for place in places),
            "the dropped one lies off by": show.metres(off_m),
        },
    )

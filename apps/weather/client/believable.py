"""Whether hours can be believed, whoever sent them: the rules every provider's reply must pass.

Units: C, metres, degrees, unix seconds; arrays are (members, hours), NaN where an hour is missing.
Validity: refused are values outside -60 to 60 C, heights outside -500 to 9,000 m, under 24 known
hours ahead, a place over a degree away, an ensemble of fewer than eight tenths of its members or
of members that are all alike.
Source: the limits are our own; an ensemble cut short, frozen or empty was reported of real
services (Open-Meteo issue threads 1428, 1670, 1844 and 982, 2023 to 2026).
"""

import json
import math
from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Any

import numpy as np
import numpy.typing as npt

from apps.weather.client.records import Finding, ProviderFailure, SitePoint, Temperatures

HOUR_S = 3600
COLDEST_C, WARMEST_C = -60.0, 60.0
FEWEST_HOURS_AHEAD = 24
FARTHEST_DEGREES = 1.0
NOTABLE_HEIGHT_M = 300.0
LOWEST_M, HIGHEST_M = -500.0, 9000.0
MOST_HOURS = 24 * 400
FEWEST_SHARE = 0.8


class RefusedError(Exception):
    """One site's part of a reply cannot be used."""

    def __init__(self, kind: str, detail: str) -> None:
        super().__init__(detail)
        self.kind = kind
        self.detail = detail

    def finding(self, site_id: int) -> Finding:
        return Finding(self.kind, self.detail, site_id)


def parse(body: bytes) -> Any:
    """The JSON of a good reply; raises ProviderFailure for anything that is not JSON.

    A web page and a fault in mid-stream both arrive with status 200.
    """
    # Bytes that are not UTF-8 must fail as bad JSON below, not as a crash here.
    text = body.decode("utf-8", errors="replace").strip()
    if not text:
        raise ProviderFailure("empty", "The answer was empty.")
    try:
        # Left alone, Python reads NaN and Infinity, which JSON does not have.
        return json.loads(text, parse_constant=_refuse_constant)
    except (ValueError, RecursionError) as error:
        raise _not_json(text, str(error)) from error


def _refuse_constant(token: str) -> float:
    raise ValueError(f"{token} is not a JSON number")


def _not_json(text: str, error: str) -> ProviderFailure:
    if text.startswith("<"):
        return ProviderFailure("not_json", "The answer was a web page, not data.")
    if "Unexpected error while streaming data" in text:
        return ProviderFailure("broken_off", "The service broke off in the middle of its data.")
    return ProviderFailure("not_json", f"The answer was not JSON: {error}"[:200])


def numbers(
    lists: Sequence[list[Any]], hours: int, what: str = "temperature"
) -> npt.NDArray[np.float64]:
    """(lists, hours) with NaN for null; every list as long as the hours, numbers and nulls only."""
    for values in lists:
        if len(values) != hours:
            raise RefusedError("wrong_length", f"{hours} hours came with {len(values)} {what}s.")
        # One pass of C over the types: numpy would take a word or a truth value for a number.
        if strange := set(map(type, values)) - {float, int, type(None)}:
            bad = next(value for value in values if type(value) in strange)
            raise RefusedError("wrong_value", f"{bad!r} is not a {what}."[:200])
    try:
        return np.array(lists, dtype=np.float64)
    except OverflowError as error:
        raise RefusedError("wrong_value", f"A number too large to be a {what}.") from error


def start_of(stamps: Sequence[Any]) -> datetime:
    """The first of whole unix hours one apart."""
    if not stamps or set(map(type, stamps)) != {int}:
        raise RefusedError("wrong_times", "The times are not whole unix seconds.")
    if len(stamps) > MOST_HOURS:
        raise RefusedError("wrong_times", f"{len(stamps)} hours are more than anybody asked for.")
    first, last = stamps[0], stamps[-1]
    if first % HOUR_S or list(stamps) != list(range(first, last + 1, HOUR_S)):
        raise RefusedError("wrong_times", "The times are not whole hours, one apart, in order.")
    try:
        return datetime.fromtimestamp(first, UTC)
    except (ValueError, OverflowError, OSError) as error:
        raise RefusedError("wrong_times", f"{first} is not a believable time.") from error


def refuse_implausible(temps_c: Temperatures) -> None:
    with np.errstate(invalid="ignore"):
        bad = ~np.isnan(temps_c) & ~((temps_c >= COLDEST_C) & (temps_c <= WARMEST_C))
    if bad.any():
        raise RefusedError("implausible", f"{temps_c[bad][0]:g} °C is not believable.")


def refuse_nothing_ahead(known: Temperatures, start: datetime, now: datetime) -> None:
    """`known` is (members, hours): the best member must reach far enough, whichever it is."""
    if not known.any():
        raise RefusedError("all_missing", "Every hour is missing.")
    ahead = int(known[:, hours_past(start, now) :].sum(axis=1).max())
    if ahead < FEWEST_HOURS_AHEAD:
        raise RefusedError(
            "too_short", f"Only {ahead} known hours lie ahead; {FEWEST_HOURS_AHEAD} are needed."
        )


def hours_past(start: datetime, now: datetime) -> int:
    # The hour under way counts as past: its stamp is its start.
    return max(0, math.ceil((now - start).total_seconds() / HOUR_S))


def refuse_thin_ensemble(
    temps_c: Temperatures, nominal: int | None, start: datetime, now: datetime
) -> None:
    """Most members must be there, and they must differ: copies of one run are no ensemble."""
    alive = (~np.isnan(temps_c[:, hours_past(start, now) :])).sum(axis=1) >= FEWEST_HOURS_AHEAD
    count = int(alive.sum())
    if nominal and count < FEWEST_SHARE * nominal:
        raise RefusedError("few_members", f"Only {count} of {nominal} members have hours ahead.")
    known = temps_c[alive]
    if count > 1 and np.array_equal(known[1:], known[:-1], equal_nan=True):
        raise RefusedError("members_alike", f"All {count} members are the same: a frozen run.")


def place(
    latitude_said: object, longitude_said: object, point: SitePoint
) -> tuple[float | None, float | None]:
    """The centre of the grid cell: near the site, or the parts are not in the order asked."""
    latitude, longitude = number(latitude_said), number(longitude_said)
    if latitude is not None and longitude is not None:
        north = abs(latitude - point.latitude)
        # The short way round, also across the date line; degrees east shrink towards the poles.
        east = abs((longitude - point.longitude + 180) % 360 - 180)
        apart = max(north, east * math.cos(math.radians(point.latitude)))
        if apart > FARTHEST_DEGREES or abs(latitude) > 90 or abs(longitude) > 180:
            raise RefusedError(
                "far_away", f"The answer is for {latitude:.2f}, {longitude:.2f}: another place."
            )
    return latitude, longitude


def height(said: object) -> float | None:
    metres = number(said)
    if metres is not None and not LOWEST_M <= metres <= HIGHEST_M:
        raise RefusedError("implausible", f"A height of {metres:g} m is not believable.")
    return metres


def number(value: object) -> float | None:
    # bool is an int to Python, and 1e999 reads as infinity.
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    return float(value) if abs(value) < 1e300 else None


def height_remarks(point: SitePoint, height_m: float | None) -> list[Finding]:
    if height_m is None:
        words = "The height the values stand for was not given: not corrected for height."
        return [Finding("height_unknown", words, point.site_id)]
    if abs(height_m - point.elevation_m) > NOTABLE_HEIGHT_M:
        words = (
            f"The values stand for {height_m:.0f} m, the woodlot lies at {point.elevation_m:.0f} m."
        )
        return [Finding("height_differs", words, point.site_id)]
    return []

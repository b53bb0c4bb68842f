"""Whether a reply can be believed: the JSON of an hourly forecast, checked into series.

Units: C, metres, degrees; times unix seconds in, aware UTC out.
Validity: refused are another unit, times that are not whole hours one apart, arrays of unlike
length, values outside -60 to 60 C, under 24 known hours ahead, a place over a degree away.
A null is a missing hour and is kept as one.
Source: Open-Meteo server source, JsonWriter.swift and ForecastApiResult.swift (2026): one site
gives an object, several an array in the order asked. The limits are our own.
"""

import itertools
import json
import math
from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Any

from apps.weather.client.records import Finding, HourlySeries, ProviderFailure, SitePoint

VARIABLE = "temperature_2m"
HOUR_S = 3600
COLDEST_C, WARMEST_C = -60.0, 60.0
FEWEST_HOURS_AHEAD = 24
FARTHEST_DEGREES = 1.0
NOTABLE_HEIGHT_M = 300.0
LOWEST_M, HIGHEST_M = -500.0, 9000.0
MOST_HOURS = 24 * 400


class _RefusedError(Exception):
    """One site's part of a reply cannot be used."""

    def __init__(self, kind: str, detail: str) -> None:
        super().__init__(detail)
        self.kind = kind
        self.detail = detail


def parse(body: bytes) -> Any:
    """The JSON of a 200 reply; raises ProviderFailure for anything that is not the JSON asked for.

    A web page, a fault in mid-stream and an error object all arrive with status 200.
    """
    # Bytes that are not UTF-8 must fail as bad JSON below, not as a crash here.
    text = body.decode("utf-8", errors="replace").strip()
    if not text:
        raise ProviderFailure("empty", "The answer was empty.")
    try:
        # Left alone, Python reads NaN and Infinity, which JSON does not have.
        reply = json.loads(text, parse_constant=_refuse_constant)
    except ValueError as error:
        raise _not_json(text, str(error)) from error
    # Seen with status 200 as well.
    if isinstance(reply, dict) and reply.get("error"):
        raise ProviderFailure("error_reply", f"The service said: {reason(reply)}")
    return reply


def reason(reply: object) -> str:
    """The service's own words from its error object, cut to a readable length."""
    words = reply.get("reason") if isinstance(reply, dict) else None
    return str(words)[:200] if words else "no reason given"


def _refuse_constant(token: str) -> float:
    raise ValueError(f"{token} is not a JSON number")


def _not_json(text: str, error: str) -> ProviderFailure:
    if text.startswith("<"):
        return ProviderFailure("not_json", "The answer was a web page, not data.")
    if "Unexpected error while streaming data" in text:
        return ProviderFailure("broken_off", "The service broke off in the middle of its data.")
    return ProviderFailure("not_json", f"The answer was not JSON: {error}"[:200])


def split(reply: Any, points: Sequence[SitePoint]) -> list[Any]:
    """One part per site in the order asked; places are never matched by coordinates.

    Raises ProviderFailure when the number of parts is another: then no part can be trusted.
    """
    parts = [reply] if len(points) == 1 else reply
    if len(points) == 1 and not isinstance(reply, dict):
        raise ProviderFailure("wrong_shape", "One site was asked for and a list came back.")
    if not isinstance(parts, list):
        raise ProviderFailure("wrong_shape", "Several sites were asked for and one came back.")
    if len(parts) != len(points):
        raise ProviderFailure(
            "wrong_count", f"{len(points)} sites were asked for and {len(parts)} came back."
        )
    return parts


def read_site(part: Any, point: SitePoint, now: datetime) -> HourlySeries | Finding:
    """One site's series with remarks, or the finding that refuses it."""
    try:
        hourly = _hourly(part)
        start = _start(hourly["time"])
        values = _values(hourly[VARIABLE], len(hourly["time"]))
        _refuse_nothing_ahead(values, start, now)
        latitude, longitude = _place(part, point)
        height = _height(part)
    except _RefusedError as refusal:
        return Finding(refusal.kind, refusal.detail, point.site_id)
    return HourlySeries(
        site_id=point.site_id,
        start_at=start,
        members={0: values},
        grid_latitude=latitude,
        grid_longitude=longitude,
        elevation_used_m=height,
        findings=tuple(_remarks(point, values, height)),
    )


def _hourly(part: Any) -> dict[str, Any]:
    if not isinstance(part, dict) or not isinstance(part.get("hourly"), dict):
        raise _RefusedError("wrong_shape", "The hourly values are missing from the answer.")
    units = part.get("hourly_units")
    units = units if isinstance(units, dict) else {}
    for name, wanted in (("time", "unixtime"), (VARIABLE, "°C")):
        # The service says "undefined" where a whole model is missing.
        if units.get(name) != wanted:
            raise _RefusedError(
                "wrong_unit", f"{name} came in {units.get(name)!r}, not in {wanted!r}."
            )
        if not isinstance(part["hourly"].get(name), list):
            raise _RefusedError("wrong_shape", f"The list of {name} is missing from the answer.")
    hourly: dict[str, Any] = part["hourly"]
    return hourly


def _start(times: list[Any]) -> datetime:
    # type(), not isinstance(): true and false are ints to Python.
    if not times or not all(type(stamp) is int for stamp in times):
        raise _RefusedError("wrong_times", "The times are not whole unix seconds.")
    if len(times) > MOST_HOURS:
        raise _RefusedError("wrong_times", f"{len(times)} hours are more than anybody asked for.")
    steps = {after - before for before, after in itertools.pairwise(times)}
    if times[0] % HOUR_S or steps - {HOUR_S}:
        raise _RefusedError("wrong_times", "The times are not whole hours, one apart, in order.")
    try:
        return datetime.fromtimestamp(times[0], UTC)
    except (ValueError, OverflowError, OSError) as error:
        raise _RefusedError("wrong_times", f"{times[0]} is not a believable time.") from error


def _values(values: list[Any], hours: int) -> tuple[float | None, ...]:
    if len(values) != hours:
        raise _RefusedError("wrong_length", f"{hours} hours came with {len(values)} temperatures.")
    for value in values:
        if value is not None and _number(value) is None:
            raise _RefusedError("wrong_value", f"{value!r} is not a temperature.")
        if value is not None and not COLDEST_C <= value <= WARMEST_C:
            raise _RefusedError("implausible", f"{value:g} °C is not believable.")
    return tuple(None if value is None else float(value) for value in values)


def _refuse_nothing_ahead(values: tuple[float | None, ...], start: datetime, now: datetime) -> None:
    if all(value is None for value in values):
        raise _RefusedError("all_missing", "Every hour is missing.")
    # The hour under way counts as past: its stamp is its start.
    past = max(0, math.ceil((now - start).total_seconds() / HOUR_S))
    ahead = sum(value is not None for value in values[past:])
    if ahead < FEWEST_HOURS_AHEAD:
        raise _RefusedError(
            "too_short", f"Only {ahead} known hours lie ahead; {FEWEST_HOURS_AHEAD} are needed."
        )


def _place(part: dict[str, Any], point: SitePoint) -> tuple[float | None, float | None]:
    """The centre of the grid cell: near the site, or the parts are not in the order asked."""
    latitude, longitude = _number(part.get("latitude")), _number(part.get("longitude"))
    if latitude is not None and longitude is not None:
        north = abs(latitude - point.latitude)
        # The short way round, also across the date line; degrees east shrink towards the poles.
        east = abs((longitude - point.longitude + 180) % 360 - 180)
        apart = max(north, east * math.cos(math.radians(point.latitude)))
        if apart > FARTHEST_DEGREES or abs(latitude) > 90 or abs(longitude) > 180:
            raise _RefusedError(
                "far_away", f"The answer is for {latitude:.2f}, {longitude:.2f}: another place."
            )
    return latitude, longitude


def _height(part: dict[str, Any]) -> float | None:
    height = _number(part.get("elevation"))
    if height is not None and not LOWEST_M <= height <= HIGHEST_M:
        raise _RefusedError("implausible", f"A height of {height:g} m is not believable.")
    return height


def _number(value: object) -> float | None:
    # bool is an int to Python, and 1e999 reads as infinity.
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        return None
    return float(value)


def _remarks(
    point: SitePoint, values: tuple[float | None, ...], height_m: float | None
) -> list[Finding]:
    found = []
    if missing := values.count(None):
        words = f"{missing} of {len(values)} hours are missing."
        found.append(Finding("missing_hours", words, point.site_id))
    if height_m is None:
        words = "The height the values stand for was not given: not corrected for height."
        found.append(Finding("height_unknown", words, point.site_id))
    elif abs(height_m - point.elevation_m) > NOTABLE_HEIGHT_M:
        words = (
            f"The values stand for {height_m:.0f} m, the woodlot lies at {point.elevation_m:.0f} m."
        )
        found.append(Finding("height_differs", words, point.site_id))
    return found

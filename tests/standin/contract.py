"""The question and the answer of /v1/forecast, /v1/ensemble and /v1/archive, as described.

Source: Open-Meteo server source (2026), ForecastapiController.swift, ForecastapiQuery.swift,
ForecastApiResult.swift, and its documentation pages. The temperatures and winds are invented.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import numpy as np
import numpy.typing as npt

from apps.demo.weather_story import temperature_c, wind_kmh
from tests.standin import ensemble

GRID_DEGREES = 0.125
LAPSE_C_PER_M = 0.0065
DAYS_BACK, DAYS_AHEAD, MOST_SITES = 93, 16, 1000
TEMPERATURE, WIND = "temperature_2m", "wind_speed_10m"
# By the word it is asked for with: what the answer calls it, and how many of it make 1 km/h.
WIND_UNITS = {"kmh": ("km/h", 1.0), "ms": ("m/s", 1 / 3.6), "mph": ("mp/h", 1 / 1.609344)}
EARLIEST = date(1940, 1, 1)
# The archive knows a day once it is five days old.
ARCHIVE_LAG_DAYS = 5
Query = Mapping[str, str]
Hours = npt.NDArray[Any]


@dataclass(frozen=True)
class Product:
    """What one address answers with: its models and its reach."""

    models: Mapping[str, int]
    days_ahead: int


PRODUCTS = {
    "/v1/forecast": Product({"best_match": 1}, DAYS_AHEAD),
    "/v1/ensemble": Product(ensemble.MEMBERS, 36),
    "/v1/archive": Product({"era5_seamless": 1, "era5_land": 1, "era5": 1}, 1),
}


class BadRequest(Exception):
    """A parameter fault: status 400 with this reason."""


@dataclass(frozen=True)
class Site:
    latitude: float
    longitude: float
    elevation_m: float | None


def answer(path: str, query: Query, moment: datetime) -> Any:
    """The JSON reply: an object for one site, an array in the order asked for several."""
    product = PRODUCTS[path]
    sites = _sites(query)
    _check_words(query, product)
    start, end = _dates(path, query, moment.date())
    replies = [_reply(path, site, start, end, query, moment) for site in sites]
    for number, reply in enumerate(replies[1:], start=1):
        reply["location_id"] = number
    return replies[0] if len(replies) == 1 else replies


def _sites(query: Query) -> list[Site]:
    latitudes, longitudes = _numbers(query, "latitude"), _numbers(query, "longitude")
    if len(latitudes) != len(longitudes):
        raise BadRequest("Parameter 'latitude' and 'longitude' must have the same number of items")
    if len(latitudes) > MOST_SITES:
        raise BadRequest(f"Only up to {MOST_SITES} locations can be requested at once")
    for name, values, limit in (("Latitude", latitudes, 90), ("Longitude", longitudes, 180)):
        for value in values:
            if not -limit <= value <= limit:
                words = f"{name} must be in range of -{limit} to {limit}°. Given: {value}."
                raise BadRequest(words)
    heights = _numbers(query, "elevation") if "elevation" in query else [None] * len(latitudes)
    if len(heights) != len(latitudes):
        raise BadRequest("Parameter 'elevation' must have the same number of items")
    return [Site(*parts) for parts in zip(latitudes, longitudes, heights, strict=True)]


def _numbers(query: Query, name: str) -> list[float]:
    try:
        return [float(word) for word in query[name].split(",")]
    except KeyError:
        raise BadRequest(f"Value of type 'Array<Float>' required for key '{name}'.") from None
    except ValueError:
        raise BadRequest(f"Value for '{name}' is not a number.") from None


def _check_words(query: Query, product: Product) -> None:
    """Known values for what we understand; a parameter nobody knows is ignored, as there."""
    for name in query.get("hourly", "").split(","):
        if name not in {TEMPERATURE, WIND}:
            raise BadRequest(
                f"Cannot initialize VariableOrDerived from invalid String value {name}."
            )
    if query.get("wind_speed_unit", "kmh") not in WIND_UNITS:
        word = query["wind_speed_unit"]
        raise BadRequest(f"Cannot initialize WindspeedUnit from invalid String value {word}.")
    if query.get("timeformat", "iso8601") not in {"iso8601", "unixtime"}:
        raise BadRequest("Invalid timeformat.")
    if query.get("models", next(iter(product.models))) not in product.models:
        raise BadRequest(
            f"Cannot initialize MultiDomains from invalid String value {query['models']}."
        )
    if "run" in query:
        raise BadRequest("Parameter 'run' is not allowed here.")


def _dates(path: str, query: Query, today: date) -> tuple[date, date]:
    if ("start_date" in query) != ("end_date" in query):
        raise BadRequest("Both 'start_date' and 'end_date' must be set")
    if "start_date" not in query:
        ahead = int(query.get("forecast_days", 7))
        back = int(query.get("past_days", 0))
        if not 0 <= ahead <= DAYS_AHEAD:
            raise BadRequest(f"Forecast days is invalid. Allowed range 0 to {DAYS_AHEAD}.")
        return today - timedelta(days=back), today + timedelta(days=ahead - 1)
    if {"past_days", "forecast_days"} & set(query):
        raise BadRequest("Parameter 'start_date' and 'forecast_days' are mutually exclusive")
    start, end = (_date(query[name]) for name in ("start_date", "end_date"))
    if start > end:
        raise BadRequest("'end_date' must be larger than 'start_date'")
    ahead = PRODUCTS[path].days_ahead
    earliest, latest = today - timedelta(days=DAYS_BACK), today + timedelta(days=ahead - 1)
    if path == "/v1/archive":
        earliest, latest = EARLIEST, today
    if start < earliest or end > latest:
        raise BadRequest(f"Parameter is out of allowed range from {earliest} to {latest}")
    return start, end


def _date(word: str) -> date:
    try:
        return date.fromisoformat(word)
    except ValueError:
        raise BadRequest(f"Invalid date format '{word}'. Make sure to use 'YYYY-MM-DD'") from None


def ground_height_m(latitude: float, longitude: float) -> float:
    """An invented terrain: foothills that rise to the north-east, on whole metres."""
    rise = 430 + 300 * (latitude - 43.9) + 250 * (longitude + 75.3)
    return float(round(rise + 40 * np.sin(40 * latitude) * np.cos(35 * longitude)))


def _reply(
    path: str, site: Site, start: date, end: date, query: Query, moment: datetime
) -> dict[str, Any]:
    latitude, longitude = (_cell_centre(value) for value in (site.latitude, site.longitude))
    cell_m = ground_height_m(latitude, longitude)
    used_m = ground_height_m(site.latitude, site.longitude)
    if site.elevation_m is not None:
        # "nan" asks for no correction: the cell's own height stands.
        used_m = cell_m if np.isnan(site.elevation_m) else site.elevation_m
    first = int(datetime.combine(start, time(), UTC).timestamp())
    stamps = first + 3600 * np.arange(24 * ((end - start).days + 1))
    temps = temperature_c(latitude, longitude, cell_m, stamps) + LAPSE_C_PER_M * (cell_m - used_m)
    unix = query.get("timeformat") == "unixtime"
    unit, factor = WIND_UNITS[query.get("wind_speed_unit", "kmh")]
    told = {TEMPERATURE: temps, WIND: factor * wind_kmh(longitude, stamps)}
    asked = {name: told[name] for name in query.get("hourly", "").split(",")}
    lists = _lists(path, query, asked, stamps, moment)
    return {
        "latitude": latitude,
        "longitude": longitude,
        "generationtime_ms": 0.21,
        "utc_offset_seconds": 0,
        "timezone": "GMT",
        "timezone_abbreviation": "GMT",
        "elevation": used_m,
        "hourly_units": {
            "time": "unixtime" if unix else "iso8601",
            **{name: unit if name.startswith(WIND) else "°C" for name in lists},
        },
        "hourly": {
            "time": stamps.tolist() if unix else [_iso(stamp) for stamp in stamps.tolist()],
            **lists,
        },
    }


def _lists(
    path: str, query: Query, told: Mapping[str, Hours], stamps: Hours, moment: datetime
) -> dict[str, list[float | None]]:
    """The hours by name: one list of each value asked for, or one for each member."""
    if path == "/v1/ensemble":
        return _members(query, told, stamps, moment)
    lists: dict[str, list[float | None]] = {
        name: np.round(hours, 1).tolist() for name, hours in told.items()
    }
    if path == "/v1/archive":
        known_until = (moment - timedelta(days=ARCHIVE_LAG_DAYS)).timestamp()
        known = (stamps < known_until).tolist()
        lists = {
            name: [value if there else None for value, there in zip(values, known, strict=True)]
            for name, values in lists.items()
        }
    return lists


def _members(
    query: Query, told: Mapping[str, Hours], stamps: Hours, moment: datetime
) -> dict[str, list[float | None]]:
    model = query.get("models", next(iter(ensemble.MEMBERS)))
    errors = ensemble.errors_c(model, ensemble.newest_run(model, moment), stamps)
    return {
        name: hours.tolist()
        for variable, truth in told.items()
        for name, hours in ensemble.named(
            variable,
            np.round(ensemble.winds_kmh(truth, errors) if variable == WIND else truth + errors, 1),
        )
    }


def _cell_centre(degrees: float) -> float:
    return float(np.float32(np.floor(degrees / GRID_DEGREES) * GRID_DEGREES + GRID_DEGREES / 2))


def _iso(stamp: int) -> str:
    return datetime.fromtimestamp(stamp, UTC).strftime("%Y-%m-%dT%H:%M")

"""The US National Weather Service's and MET Norway's manners, with the story's weather.

Source: weather-gov/api documentation (2024) and metno/weatherapi-docs (2023): shapes, headers,
refusals. The temperatures, winds, the grid and its office are invented.
"""

import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from email.utils import format_datetime
from typing import Any

import numpy as np

from apps.demo.weather_story import temperature_c, wind_kmh
from tests.standin.contract import ground_height_m

CELLS_PER_DEGREE = 40
WEST, SOUTH = -125, 24
NWS_DAYS, NWS_HOURS_BACK = 7, 11
MET_HOURLY, MET_STEPS = 58, 28
UPDATED_BEFORE = timedelta(minutes=40)


class Refused(Exception):
    """A status other than 200, with what goes with it."""

    def __init__(self, status: int, body: Any, headers: dict[str, str] | None = None) -> None:
        super().__init__(status)
        self.status, self.body, self.headers = status, body, headers or {}


@dataclass(frozen=True)
class Answer:
    """A good reply that is not just JSON with status 200."""

    body: Any
    headers: dict[str, str]


def points(path: str, office: str, base: str) -> Any:
    """The cell of a place; one decimal too many is sent on, a place abroad is not known."""
    latitude, longitude = (word for word in path.removeprefix("/points/").split(","))
    if any(len(word.partition(".")[2]) > 4 for word in (latitude, longitude)):
        shorter = f"{float(latitude):.4f},{float(longitude):.4f}"
        raise Refused(301, _problem(301, "Moved"), {"Location": f"/points/{shorter}"})
    north, east = float(latitude), float(longitude)
    if not (24 <= north < 50 and -125 <= east < -66):
        raise Refused(404, _problem(404, "Data Unavailable For Requested Point"))
    x, y = (int((part) * CELLS_PER_DEGREE) for part in (east - WEST, north - SOUTH))
    grid = f"{base}/gridpoints/{office}/{x},{y}"
    return {
        "id": f"{base}/points/{latitude},{longitude}",
        "type": "Feature",
        "geometry": {"type": "Point", "coordinates": [east, north]},
        "properties": {
            "gridId": office,
            "gridX": x,
            "gridY": y,
            "timeZone": "America/New_York",
            "forecast": f"{grid}/forecast",
            "forecastHourly": f"{grid}/forecast/hourly",
            "forecastGridData": grid,
        },
    }


def gridpoints(path: str, office: str, moment: datetime) -> Any:
    """The raw hours of one cell, equal ones merged; a cell of another office is gone."""
    match = re.fullmatch(r"/gridpoints/([A-Z]{3})/(\d+),(\d+)", path)
    if match is None or match[1] != office:
        raise Refused(404, _problem(404, "Data Unavailable For Requested Point"))
    east, north = (
        int(match[place]) / CELLS_PER_DEGREE + edge for place, edge in ((2, WEST), (3, SOUTH))
    )
    start = moment.replace(minute=0, second=0, microsecond=0) - timedelta(hours=NWS_HOURS_BACK)
    height_m = ground_height_m(north, east)
    hours = 24 * NWS_DAYS + NWS_HOURS_BACK
    temps = _hours(north, east, height_m, start, hours)
    # In whole steps, and from an hour later: each kind of value has spans of its own.
    winds = [float(round(speed)) for speed in _winds(east, start, hours)]
    return {
        "type": "Feature",
        "properties": {
            "updateTime": (moment - UPDATED_BEFORE).isoformat(),
            "validTimes": f"{start.isoformat()}/P7DT{NWS_HOURS_BACK}H",
            "elevation": {"unitCode": "wmoUnit:m", "value": height_m},
            "temperature": {"uom": "wmoUnit:degC", "values": _spans(start, temps)},
            "windSpeed": {
                "uom": "wmoUnit:km_h-1",
                "values": _spans(start + timedelta(hours=1), winds[1:]),
            },
        },
    }


def _spans(start: datetime, temps: list[float]) -> list[dict[str, Any]]:
    merged: list[list[Any]] = []
    for hour, value in enumerate(temps):
        if merged and merged[-1][2] == value:
            merged[-1][1] += 1
        else:
            merged.append([hour, 1, value])
    return [
        {
            "validTime": f"{(start + timedelta(hours=hour)).isoformat()}/PT{length}H",
            "value": value,
        }
        for hour, length, value in merged
    ]


def met_compact(query: dict[str, str], headers: dict[str, str], moment: datetime) -> Answer:
    """Hourly at first, then every six hours; 304 to the same Last-Modified."""
    if "(" not in headers.get("User-Agent", ""):
        raise Refused(403, "<html>Forbidden: name yourself</html>")
    words = query.get("lat", ""), query.get("lon", "")
    if any(len(word.partition(".")[2]) > 4 for word in words):
        raise Refused(403, "<html>Too many decimals</html>")
    made = moment.replace(minute=0, second=0, microsecond=0) - UPDATED_BEFORE
    validators = {
        "Last-Modified": format_datetime(made, usegmt=True),
        "Expires": format_datetime(made + timedelta(hours=2), usegmt=True),
    }
    if headers.get("If-Modified-Since") == validators["Last-Modified"]:
        raise Refused(304, None, validators)
    return Answer(_compact(float(words[0]), float(words[1]), made, moment), validators)


def _compact(north: float, east: float, made: datetime, moment: datetime) -> Any:
    start = moment.replace(minute=0, second=0, microsecond=0)
    whole = start + timedelta(hours=MET_HOURLY)
    until_six = -whole.hour % 6
    hours = [*range(MET_HOURLY + until_six)]
    hours += [MET_HOURLY + until_six + 6 * step for step in range(MET_STEPS)]
    height_m = ground_height_m(north, east)
    temps = _hours(north, east, height_m, start, hours[-1] + 1)
    winds = _winds(east, start, hours[-1] + 1)
    return {
        "type": "Feature",
        "geometry": {"type": "Point", "coordinates": [east, north, int(height_m)]},
        "properties": {
            "meta": {
                "updated_at": made.strftime("%Y-%m-%dT%H:%M:%SZ"),
                "units": {"air_temperature": "celsius", "wind_speed": "m/s"},
            },
            "timeseries": [
                {
                    "time": (start + timedelta(hours=hour)).strftime("%Y-%m-%dT%H:%M:%SZ"),
                    "data": {
                        "instant": {
                            "details": {
                                "air_temperature": temps[hour],
                                "wind_speed": round(winds[hour] / 3.6, 1),
                            }
                        }
                    },
                }
                for hour in hours
            ],
        },
    }


def _hours(north: float, east: float, height_m: float, start: datetime, hours: int) -> list[float]:
    stamps = int(start.astimezone(UTC).timestamp()) + 3600 * np.arange(hours)
    temps: list[float] = np.round(temperature_c(north, east, height_m, stamps), 1).tolist()
    return temps


def _winds(east: float, start: datetime, hours: int) -> list[float]:
    stamps = int(start.astimezone(UTC).timestamp()) + 3600 * np.arange(hours)
    speeds: list[float] = wind_kmh(east, stamps).tolist()
    return speeds


def _problem(status: int, title: str) -> dict[str, Any]:
    return {
        "correlationId": "0a1c",
        "title": title,
        "type": "about:blank",
        "status": status,
        "detail": title,
    }

"""What can be wrong with the wind of a reply whose temperatures are good."""

from collections.abc import Callable
from typing import Any

from tests.standin.changes import Change, each, nothing, nulls, winds


def _wind_hour(index: int, value: Any) -> Callable[[dict[str, Any]], None]:
    return lambda part: part["hourly"]["wind_speed_10m"].__setitem__(index, value)


def _wind_unit(unit: str) -> Callable[[dict[str, Any]], None]:
    return lambda part: part["hourly_units"].update(dict.fromkeys(winds(part), unit))


def _wind_all(value: Any) -> Callable[[dict[str, Any]], None]:
    def change(part: dict[str, Any]) -> None:
        for name in winds(part):
            part["hourly"][name] = [value] * len(part["hourly"][name])

    return change


def _no_wind(part: dict[str, Any]) -> None:
    for name in winds(part):
        del part["hourly"][name], part["hourly_units"][name]


def _nought_past_the_end(part: dict[str, Any]) -> None:
    """The temperature ends in nulls, and what is derived turns to nought there."""
    nulls(slice(-24, None))(part)
    for name in winds(part):
        part["hourly"][name][-24:] = [0.0] * 24


def _met(unit: str | None = None, value: Any = None) -> Change:
    """Of the service of places: another unit of wind, or another value in its third hour."""

    def change(part: dict[str, Any]) -> None:
        said = part["properties"]
        if unit is not None:
            said["meta"]["units"]["wind_speed"] = unit
        if value is not None:
            said["timeseries"][2]["data"]["instant"]["details"]["wind_speed"] = value

    return each(change)


def _met_no_wind(part: dict[str, Any]) -> None:
    for entry in part["properties"]["timeseries"]:
        del entry["data"]["instant"]["details"]["wind_speed"]


def _grid_wind(**changes: Any) -> Change:
    return each(lambda part: part["properties"]["windSpeed"].update(changes))


def _grid_winds(change: Callable[[list[Any]], object]) -> Change:
    return each(lambda part: nothing(change(part["properties"]["windSpeed"]["values"])))


WIND_FAULTS: dict[str, Change] = {
    "wind_missing": each(_no_wind),
    "wind_undefined": each(lambda part: [_wind_all(None)(part), _wind_unit("undefined")(part)]),
    "wind_in_metres": each(_wind_unit("m/s")),
    "wind_implausible": each(_wind_hour(80, 999.0)),
    "wind_negative": each(_wind_hour(80, -0.1)),
    "wind_word": each(_wind_hour(80, "breezy")),
    "wind_short": each(lambda part: part["hourly"]["wind_speed_10m"].pop()),
    "wind_nought": each(_wind_all(0.0)),
    "wind_nulls": each(lambda part: [_wind_hour(hour, None)(part) for hour in range(80, 92)]),
    "wind_nought_past_the_end": each(_nought_past_the_end),
    "grid_wind_missing": each(lambda part: part["properties"].pop("windSpeed")),
    "grid_wind_in_metres": _grid_wind(uom="wmoUnit:m_s-1"),
    "grid_wind_empty": _grid_wind(values=[]),
    "grid_wind_overlap": _grid_winds(lambda values: values.insert(1, dict(values[0]))),
    "grid_wind_word": _grid_winds(lambda values: values[2].update(value="breezy")),
    "grid_wind_implausible": _grid_winds(lambda values: values[2].update(value=201)),
    "met_wind_missing": each(_met_no_wind),
    "met_wind_in_kmh": _met(unit="km/h"),
    "met_wind_word": _met(value="breezy"),
    "met_wind_implausible": _met(value=56.0),
}

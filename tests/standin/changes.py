"""What the faults change replies with: one part, each part, its lists by name."""

from collections.abc import Callable
from typing import Any

Change = Callable[[Any], Any]


def parts(reply: Any) -> list[dict[str, Any]]:
    return reply if isinstance(reply, list) else [reply]


def each(change: Callable[[dict[str, Any]], None]) -> Change:
    def changed(reply: Any) -> Any:
        for part in parts(reply):
            change(part)
        return reply

    return changed


def first(change: Callable[[dict[str, Any]], None]) -> Change:
    def changed(reply: Any) -> Any:
        change(parts(reply)[0])
        return reply

    return changed


def names(part: dict[str, Any]) -> list[str]:
    """The lists of temperatures: one, or one for each member."""
    return [name for name in part["hourly"] if name.startswith("temperature_2m")]


def wind_of(name: str) -> str:
    return name.replace("temperature_2m", "wind_speed_10m")


def winds(part: dict[str, Any]) -> list[str]:
    return [name for name in part["hourly"] if name.startswith("wind_speed_10m")]


def nulls(which: slice, of: slice = slice(None)) -> Callable[[dict[str, Any]], None]:
    def change(part: dict[str, Any]) -> None:
        for name in names(part)[of]:
            values = part["hourly"][name]
            values[which] = [None] * len(values[which])

    return change


def nothing(_: object) -> None:
    """What a change of a list gives back is of no use."""

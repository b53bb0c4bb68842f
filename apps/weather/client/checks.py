"""Open-Meteo's JSON, checked into series: one member of a forecast, or an ensemble's many.

Units: C, km/h, metres, degrees; times unix seconds in, aware UTC out.
Validity: refused are another unit, times that are not whole hours one apart, arrays of unlike
length, members of another model than the one asked for, and what `believable` refuses. A null
is a missing hour and is kept as one. Wind is asked for beside a forecast and stands apart: a fault
of it is a remark, and refuses nothing.
Source: Open-Meteo server source, JsonWriter.swift and ForecastApiResult.swift (2026): one site
gives an object, several an array in the order asked; the control run is the bare name, member n
has _memberNN behind it, and the model's name follows where more than one model answers.
"""

import re
from collections.abc import Sequence
from datetime import datetime
from typing import Any

import numpy as np

from apps.weather.client import believable, wind
from apps.weather.client.believable import RefusedError
from apps.weather.client.records import (
    Finding,
    HourlySeries,
    ProviderFailure,
    SitePoint,
    Temperatures,
    Winds,
)

VARIABLE, WIND = "temperature_2m", "wind_speed_10m"
# The unit as it is asked for, and as the answer then names it.
WIND_UNIT_ASKED, WIND_UNIT = "kmh", "km/h"
SERIES = re.compile(r"temperature_2m(?:_member(\d{2,}))?(?:_([a-z][a-z0-9_]*))?")
# Names under which the service answers for a model that was asked for by another.
ALSO_KNOWN_AS = {
    "gem_global_ensemble": "cmc_gem_geps",
    "cmc_gem_geps": "gem_global_ensemble",
    "gfs025": "ncep_gefs025",
    "gfs05": "ncep_gefs05",
    "gfs_seamless": "ncep_gefs_seamless",
}


def parse(body: bytes) -> Any:
    """The JSON of a 200 reply; raises ProviderFailure, also for an error sent with status 200."""
    reply = believable.parse(body)
    if isinstance(reply, dict) and reply.get("error"):
        raise ProviderFailure("error_reply", f"The service said: {reason(reply)}")
    return reply


def reason(reply: object) -> str:
    """The service's own words from its error object, cut to a readable length."""
    words = reply.get("reason") if isinstance(reply, dict) else None
    return str(words)[:200] if words else "no reason given"


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


def read_site(
    part: Any,
    point: SitePoint,
    now: datetime | None,
    *,
    model: str = "",
    nominal: int | None = None,
) -> HourlySeries | Finding:
    """One site's series with remarks, or the finding that refuses it.

    `nominal` is the number of members the model should have. `now` is None for the past alone,
    of which nothing needs to lie ahead.
    """
    try:
        hourly = _hourly(part)
        members = _members(hourly, part["hourly_units"], model)
        start = believable.start_of(hourly["time"])
        temps_c = believable.numbers([hourly[name] for name in members], len(hourly["time"]))
        believable.refuse_implausible(temps_c)
        _refuse_useless(temps_c, start, now, nominal)
        latitude, longitude = believable.place(part.get("latitude"), part.get("longitude"), point)
        height_m = believable.height(part.get("elevation"))
    except RefusedError as refusal:
        return refusal.finding(point.site_id)
    winds_kmh, of_wind = wind.UNASKED
    if now is not None:
        winds_kmh, of_wind = wind.beside(
            temps_c, lambda: _winds(hourly, part["hourly_units"], members[0]), point.site_id
        )
    return HourlySeries(
        site_id=point.site_id,
        start_at=start,
        temps_c=temps_c,
        grid_latitude=latitude,
        grid_longitude=longitude,
        elevation_used_m=height_m,
        findings=(*_remarks(point, temps_c, height_m, nominal), *of_wind),
        winds_kmh=winds_kmh,
    )


def _refuse_useless(
    temps_c: Temperatures, start: datetime, now: datetime | None, nominal: int | None
) -> None:
    known = ~np.isnan(temps_c)
    if now is None:
        if not known.any():
            raise RefusedError("all_missing", "Every hour is missing.")
        return
    believable.refuse_nothing_ahead(known, start, now)
    if nominal != 1:
        believable.refuse_thin_ensemble(temps_c, nominal, start, now)


def _hourly(part: Any) -> dict[str, Any]:
    if not isinstance(part, dict) or not isinstance(part.get("hourly"), dict):
        raise RefusedError("wrong_shape", "The hourly values are missing from the answer.")
    units = part.get("hourly_units")
    said = units.get("time") if isinstance(units, dict) else None
    if said != "unixtime":
        raise RefusedError("wrong_unit", f"time came in {said!r}, not in 'unixtime'.")
    if not isinstance(part["hourly"].get("time"), list):
        raise RefusedError("wrong_shape", "The list of time is missing from the answer.")
    hourly: dict[str, Any] = part["hourly"]
    return hourly


def _members(hourly: dict[str, Any], units: dict[str, Any], model: str) -> list[str]:
    """The names of the member lists, control first, all of one model and all in C."""
    found = {name: match for name in hourly if (match := SERIES.fullmatch(name))}
    _refuse_other_models({match[2] for match in found.values() if match[2]}, model)
    # The control is the bare name; the service renumbers members when one cannot be read.
    names = sorted(found, key=lambda name: int(found[name][1] or 0))
    if not names or not all(isinstance(hourly[name], list) for name in names):
        raise RefusedError("wrong_shape", f"The list of {VARIABLE} is missing from the answer.")
    for name in names:
        # The service says "undefined" where a whole model is missing.
        if units.get(name) != "°C":
            raise RefusedError("wrong_unit", f"{name} came in {units.get(name)!r}, not in '°C'.")
    return names


def _winds(hourly: dict[str, Any], units: dict[str, Any], member: str) -> Winds:
    """The wind of the member of this name; the others' is not read."""
    name = member.replace(VARIABLE, WIND)
    values = hourly.get(name)
    if not isinstance(values, list):
        raise RefusedError("wrong_shape", f"the list of {name} is missing from the answer.")
    if units.get(name) != WIND_UNIT:
        words = f"{name} came in {units.get(name)!r}, not in {WIND_UNIT!r}."
        raise RefusedError("wrong_unit", words)
    winds_kmh: Winds = believable.numbers([values], len(hourly["time"]), "wind speed")[0]
    return winds_kmh


def _refuse_other_models(said: set[str], model: str) -> None:
    """One model is asked for at a time, so any name in the reply must be its own or its alias."""
    if said - {model, ALSO_KNOWN_AS.get(model)} or len(said) > 1:
        raise RefusedError("other_model", f"The answer is of {', '.join(sorted(said))}.")


def _remarks(
    point: SitePoint, temps_c: Temperatures, height_m: float | None, nominal: int | None
) -> list[Finding]:
    found = []
    members, hours = temps_c.shape
    if nominal and members < nominal:
        words = f"{members} of {nominal} members came."
        found.append(Finding("members_missing", words, point.site_id))
    # Of an ensemble the number of hours that any member lacks.
    if missing := int(np.isnan(temps_c).any(axis=0).sum()):
        words = f"{missing} of {hours} hours are missing."
        if members > 1:
            words = f"{missing} of {hours} hours are missing in some or all members."
        found.append(Finding("missing_hours", words, point.site_id))
    return found + believable.height_remarks(point, height_m)

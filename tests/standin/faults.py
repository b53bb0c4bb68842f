"""Everything that was ever seen to go wrong, by name.

A reply fault changes the JSON before it is sent; a wire fault takes over the connection.
"""

import gzip
import json
import socket
import struct
import time
from collections.abc import Callable
from http.server import BaseHTTPRequestHandler
from typing import Any

from tests.standin.changes import Change, each, first, names, nothing, nulls, parts, wind_of, winds
from tests.standin.wind_faults import WIND_FAULTS

HTML = b"<html><head><title>Bad Gateway</title></head><body>nginx</body></html>"


class Handler(BaseHTTPRequestHandler):
    """A handler that knows its stand-in."""

    service: Any


TakeOver = Callable[[Handler, bytes], None]


def _unit(unit: str) -> Callable[[dict[str, Any]], None]:
    return lambda part: part["hourly_units"].update(dict.fromkeys(names(part), unit))


def _hour(index: int, value: Any) -> Callable[[dict[str, Any]], None]:
    return lambda part: part["hourly"]["temperature_2m"].__setitem__(index, value)


def _drop_members(count: int) -> Callable[[dict[str, Any]], None]:
    """The last ones: the service numbers those that are left anew."""

    def change(part: dict[str, Any]) -> None:
        for name in names(part)[-count:]:
            for lists in (part["hourly"], part["hourly_units"]):
                del lists[name], lists[wind_of(name)]

    return change


def _suffix(model: str) -> Callable[[dict[str, Any]], None]:
    def change(part: dict[str, Any]) -> None:
        for name in names(part) + winds(part):
            for lists in (part["hourly"], part["hourly_units"]):
                lists[f"{name}_{model}"] = lists.pop(name)

    return change


def _alike(part: dict[str, Any]) -> None:
    for name in names(part):
        part["hourly"][name] = part["hourly"]["temperature_2m"]


def _whole_model_missing(part: dict[str, Any]) -> None:
    nulls(slice(None))(part)
    _unit("undefined")(part)


def _time(index: int, seconds: int) -> Callable[[dict[str, Any]], None]:
    def change(part: dict[str, Any]) -> None:
        part["hourly"]["time"][index] += seconds

    return change


def _shift(part: dict[str, Any]) -> None:
    part["hourly"]["time"] = [stamp - 40 * 86_400 for stamp in part["hourly"]["time"]]


def _changed(name: str, value: Any) -> Change:
    return each(lambda part: part["properties"].update({name: value}))


def _temperature(**changes: Any) -> Change:
    return each(lambda part: part["properties"]["temperature"].update(changes))


def _grid(change: Callable[[list[Any]], object]) -> Change:
    return each(lambda part: nothing(change(part["properties"]["temperature"]["values"])))


REPLY_FAULTS: dict[str, Change] = {
    "object_for_array": lambda reply: parts(reply)[0],
    "array_for_object": lambda reply: parts(reply),
    "short_array": lambda reply: parts(reply)[:-1],
    "fahrenheit": each(_unit("°F")),
    "undefined_unit": each(_unit("undefined")),
    "nan_token": each(_hour(30, float("nan"))),
    "infinity_token": each(_hour(30, float("inf"))),
    "word_for_number": each(_hour(30, "cold")),
    "implausible": each(_hour(30, -99.0)),
    "nulls_control": each(nulls(slice(60, None), slice(0, 1))),
    "model_missing": each(_whole_model_missing),
    "member_missing": each(_drop_members(1)),
    "members_few": each(_drop_members(12)),
    "members_alike": each(_alike),
    "suffix_own": each(_suffix("ncep_gefs_seamless")),
    "suffix_renamed": each(_suffix("ncep_gefs025")),
    "suffix_other": each(_suffix("ecmwf_ifs025_ensemble")),
    "unsorted_times": each(lambda part: part["hourly"]["time"].reverse()),
    "grid_old": _changed("updateTime", "2026-03-14T09:12:00+00:00"),
    "grid_future": _changed("updateTime", "2026-03-19T09:12:00+00:00"),
    "grid_null": _grid(lambda values: [entry.update(value=None) for entry in values[:3]]),
    "grid_fahrenheit": _temperature(uom="wmoUnit:degF"),
    "grid_overlap": _grid(lambda values: values.insert(1, dict(values[0]))),
    "grid_half_hours": _grid(
        lambda values: values[0].update(validTime="2026-03-16T00:30:00+00:00/PT1H")
    ),
    "grid_empty": _temperature(values=[]),
    **WIND_FAULTS,
    "length_mismatch": each(lambda part: part["hourly"]["temperature_2m"].pop()),
    "repeated_time": each(_time(31, -3600)),
    "gapped_times": each(_time(-1, 3600)),
    "half_hours": each(
        lambda part: part["hourly"].update(time=[stamp + 1800 for stamp in part["hourly"]["time"]])
    ),
    "iso_times": each(
        lambda part: part["hourly"].update(time=["2026-03-08T01:00"] * len(part["hourly"]["time"]))
    ),
    "no_hourly": each(lambda part: part.pop("hourly")),
    "all_past": each(_shift),
    "nulls_leading": each(nulls(slice(0, 30))),
    "nulls_trailing": each(nulls(slice(-24, None))),
    "nulls_one_site": first(nulls(slice(None))),
    "nulls_all": each(nulls(slice(None))),
    "no_height": each(lambda part: part.pop("elevation")),
    "high_cell": each(lambda part: part.update(elevation=part["elevation"] + 500)),
    "height_on_the_moon": each(lambda part: part.update(elevation=3.8e8)),
    "far_away": each(lambda part: part.update(latitude=part["latitude"] - 5)),
}


def send(
    handler: Handler,
    status: int,
    body: bytes,
    content_type: str = "application/json",
    headers: dict[str, str] | None = None,
) -> None:
    handler.send_response(status)
    handler.send_header("Content-Type", content_type)
    handler.send_header("Content-Length", str(len(body)))
    for name, value in (headers or {}).items():
        handler.send_header(name, value)
    handler.end_headers()
    handler.wfile.write(body)


def error_body(reason: str) -> bytes:
    return json.dumps({"error": True, "reason": reason}, ensure_ascii=False).encode()


def _error(status: int, reason: str, headers: dict[str, str] | None = None) -> TakeOver:
    return lambda handler, body: send(handler, status, error_body(reason), headers=headers)


def _page(status: int) -> TakeOver:
    return lambda handler, body: send(handler, status, HTML, "text/html")


def _cut_short(handler: Handler, body: bytes) -> None:
    handler.send_response(200)
    handler.send_header("Content-Length", str(len(body)))
    handler.end_headers()
    handler.wfile.write(body[: len(body) // 2])
    handler.close_connection = True


def _cut_chunk(handler: Handler, body: bytes) -> None:
    handler.protocol_version = "HTTP/1.1"
    handler.send_response(200)
    handler.send_header("Transfer-Encoding", "chunked")
    handler.end_headers()
    handler.wfile.write(b"%x\r\n" % len(body) + body[: len(body) // 2])
    handler.close_connection = True


def _mid_stream(handler: Handler, body: bytes) -> None:
    words = b"Unexpected error while streaming data: timeoutReached"
    send(handler, 200, body[: len(body) // 2] + words)


def _gzip_anyway(handler: Handler, body: bytes) -> None:
    packed = gzip.compress(body)
    send(handler, 200, packed, headers={"Content-Encoding": "gzip"})


def _drip(handler: Handler, body: bytes) -> None:
    """A byte at a time, each well under any read timeout, until the other side hangs up."""
    handler.send_response(200)
    handler.send_header("Content-Length", str(len(body)))
    handler.end_headers()
    for at in range(len(body)):
        handler.wfile.write(body[at : at + 1])
        handler.wfile.flush()
        time.sleep(0.05)


def _silent(handler: Handler, body: bytes) -> None:
    time.sleep(0.6)
    handler.close_connection = True


def _reset(handler: Handler, body: bytes) -> None:
    # Linger of zero seconds makes the close a reset.
    linger = struct.pack("ii", 1, 0)
    handler.connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, linger)
    handler.close_connection = True


def _redirect(handler: Handler, body: bytes) -> None:
    elsewhere = handler.service.redirect_to
    send(handler, 302, b"", headers={"Location": f"{elsewhere}/v1/forecast?apikey=1"})


_LIMIT = "API request limit exceeded. Please try again"


def _deprecated(handler: Handler, body: bytes) -> None:
    send(handler, 203, body)


def _modified_in_the_future(handler: Handler, body: bytes) -> None:
    when = "Wed, 25 Mar 2026 07:00:00 GMT"
    send(handler, 200, body, headers={"Last-Modified": when, "Expires": when})


def _redirect_here(handler: Handler, body: bytes) -> None:
    """On the same host, to where the answer is: the next request is let through."""
    handler.service.recover()
    send(handler, 301, b"", headers={"Location": handler.path})


def _no_wind_here(handler: Handler, body: bytes) -> None:
    """A host that knows no wind refuses the whole question, as it does any unknown name."""
    if "wind_speed_10m" in handler.path:
        words = "Cannot initialize VariableOrDerived from invalid String value wind_speed_10m."
        send(handler, 400, error_body(words))
    else:
        send(handler, 200, body)


WIRE_FAULTS: dict[str, TakeOver] = {
    "no_wind_here": _no_wind_here,
    "refuse_400": _error(400, "No data is available for this location"),
    "unauthorised_401": _error(401, "The supplied API key is invalid."),
    "plan_403": _error(403, "This endpoint needs another subscription."),
    "not_found_404": _error(404, "Not Found"),
    "deprecated_203": _deprecated,
    "forbidden_403": _page(403),
    "outside_422": _page(422),
    "page_400": _page(400),
    "future_validators": _modified_in_the_future,
    "redirect_here": _redirect_here,
    "limit_date": _error(429, "Slow down", {"Retry-After": "Mon, 16 Mar 2026 11:04:00 GMT"}),
    "limit_six_hours": _error(429, "Slow down", {"Retry-After": "21600"}),
    "limit_minute": _error(429, f"Minutely {_LIMIT} in one minute."),
    "limit_hour": _error(429, f"Hourly {_LIMIT} in the next hour."),
    "limit_day": _error(429, f"Daily {_LIMIT} tomorrow."),
    "limit_concurrent": _error(429, "Too many concurrent requests"),
    "limit_retry_after": _error(429, "Slow down", {"Retry-After": "120"}),
    "error_500": _error(500, "Something went wrong."),
    "bad_gateway": _page(502),
    "overloaded_503": _error(503, "The service is overloaded", {"Retry-After": "3600"}),
    "gateway_timeout": _page(504),
    "page_200": _page(200),
    "error_200": _error(200, "Something went wrong."),
    "empty": lambda handler, body: send(handler, 200, b""),
    "mid_stream": _mid_stream,
    "cut_short": _cut_short,
    "cut_chunk": _cut_chunk,
    "gzip_anyway": _gzip_anyway,
    "drip": _drip,
    "silent": _silent,
    "reset": _reset,
    "redirect": _redirect,
}

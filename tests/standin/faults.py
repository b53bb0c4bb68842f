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

HTML = b"<html><head><title>Bad Gateway</title></head><body>nginx</body></html>"
Change = Callable[[Any], Any]


class Handler(BaseHTTPRequestHandler):
    """A handler that knows its stand-in."""

    service: Any


TakeOver = Callable[[Handler, bytes], None]


def _parts(reply: Any) -> list[dict[str, Any]]:
    return reply if isinstance(reply, list) else [reply]


def _each(change: Callable[[dict[str, Any]], None]) -> Change:
    def changed(reply: Any) -> Any:
        for part in _parts(reply):
            change(part)
        return reply

    return changed


def _first(change: Callable[[dict[str, Any]], None]) -> Change:
    def changed(reply: Any) -> Any:
        change(_parts(reply)[0])
        return reply

    return changed


def _nulls(which: slice) -> Callable[[dict[str, Any]], None]:
    def change(part: dict[str, Any]) -> None:
        values = part["hourly"]["temperature_2m"]
        values[which] = [None] * len(values[which])

    return change


def _unit(unit: str) -> Callable[[dict[str, Any]], None]:
    return lambda part: part["hourly_units"].update(temperature_2m=unit)


def _hour(index: int, value: Any) -> Callable[[dict[str, Any]], None]:
    return lambda part: part["hourly"]["temperature_2m"].__setitem__(index, value)


def _time(index: int, seconds: int) -> Callable[[dict[str, Any]], None]:
    def change(part: dict[str, Any]) -> None:
        part["hourly"]["time"][index] += seconds

    return change


def _shift(part: dict[str, Any]) -> None:
    part["hourly"]["time"] = [stamp - 40 * 86_400 for stamp in part["hourly"]["time"]]


REPLY_FAULTS: dict[str, Change] = {
    "object_for_array": lambda reply: _parts(reply)[0],
    "array_for_object": lambda reply: _parts(reply),
    "short_array": lambda reply: _parts(reply)[:-1],
    "fahrenheit": _each(_unit("°F")),
    "undefined_unit": _each(_unit("undefined")),
    "nan_token": _each(_hour(30, float("nan"))),
    "infinity_token": _each(_hour(30, float("inf"))),
    "word_for_number": _each(_hour(30, "cold")),
    "implausible": _each(_hour(30, -99.0)),
    "length_mismatch": _each(lambda part: part["hourly"]["temperature_2m"].pop()),
    "repeated_time": _each(_time(31, -3600)),
    "gapped_times": _each(_time(-1, 3600)),
    "half_hours": _each(
        lambda part: part["hourly"].update(time=[stamp + 1800 for stamp in part["hourly"]["time"]])
    ),
    "iso_times": _each(
        lambda part: part["hourly"].update(time=["2026-03-08T01:00"] * len(part["hourly"]["time"]))
    ),
    "no_hourly": _each(lambda part: part.pop("hourly")),
    "all_past": _each(_shift),
    "nulls_leading": _each(_nulls(slice(0, 30))),
    "nulls_trailing": _each(_nulls(slice(-24, None))),
    "nulls_one_site": _first(_nulls(slice(None))),
    "nulls_all": _each(_nulls(slice(None))),
    "no_height": _each(lambda part: part.pop("elevation")),
    "high_cell": _each(lambda part: part.update(elevation=part["elevation"] + 500)),
    "height_on_the_moon": _each(lambda part: part.update(elevation=3.8e8)),
    "far_away": _each(lambda part: part.update(latitude=part["latitude"] - 5)),
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
WIRE_FAULTS: dict[str, TakeOver] = {
    "refuse_400": _error(400, "No data is available for this location"),
    "unauthorised_401": _error(401, "The supplied API key is invalid."),
    "plan_403": _error(403, "This endpoint needs another subscription."),
    "not_found_404": _error(404, "Not Found"),
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

"""The stand-in as an HTTP server in a thread of its own, with faults to switch on and off."""

import json
import threading
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from http.server import ThreadingHTTPServer
from types import TracebackType
from typing import Any
from urllib.parse import parse_qsl, urlsplit

from tests.standin import contract, faults


@dataclass(frozen=True)
class Seen:
    """One request as it came in."""

    path: str
    query: dict[str, str]
    headers: dict[str, str]

    @property
    def sites(self) -> int:
        return len(self.query.get("latitude", "").split(","))


@dataclass
class StandIn:
    """Use as a context manager; `fault` begins after `fault_after` good replies.

    It stays on for `fault_times` requests, None for all that follow.
    """

    port: int = 0
    host: str = "127.0.0.1"
    today: date | None = None
    # Believe whatever day is asked about: the demo's clock has several.
    any_day: bool = False
    fault: str = ""
    fault_times: int | None = None
    fault_after: int = 0
    # A site with one of these latitudes spoils its whole request with a 400.
    bad_latitudes: frozenset[str] = frozenset()
    redirect_to: str = "http://elsewhere.invalid"
    seen: list[Seen] = field(default_factory=list)

    def __enter__(self) -> "StandIn":
        standin = self

        class Handler(_Handler):
            service = standin

        self._server = _Server((self.host, self.port), Handler)
        self._thread = threading.Thread(target=self._server.serve_forever, args=(0.02,))
        self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._server.shutdown()
        self._thread.join()
        self._server.server_close()

    @property
    def url(self) -> str:
        return f"http://{self.host}:{self._server.server_address[1]}"

    def fail(self, fault: str, times: int | None = None, after: int = 0) -> None:
        """Switch a fault on; raises KeyError for a name nobody knows."""
        if fault not in faults.REPLY_FAULTS and fault not in faults.WIRE_FAULTS:
            raise KeyError(fault)
        self.fault, self.fault_times, self.fault_after = fault, times, after

    def recover(self) -> None:
        self.fault, self.fault_times, self.fault_after = "", None, 0

    def take_fault(self) -> str:
        if self.fault_after:
            self.fault_after -= 1
            return ""
        if self.fault_times is None:
            return self.fault
        self.fault_times -= 1
        return self.fault if self.fault_times >= 0 else ""

    def day(self, query: dict[str, str]) -> date:
        """The day the service thinks it is."""
        if self.any_day and "start_date" in query:
            return date.fromisoformat(query["start_date"]) + timedelta(days=1)
        return self.today or datetime.now(UTC).date()


class _Server(ThreadingHTTPServer):
    daemon_threads = True
    # A drip or a silence must not hold up the end of a test.
    block_on_close = False


class _Handler(faults.Handler):
    service: StandIn

    def do_GET(self) -> None:  # noqa: N802 - the name the library calls
        url = urlsplit(self.path)
        seen = Seen(url.path, dict(parse_qsl(url.query)), dict(self.headers))
        self.service.seen.append(seen)
        if url.path != "/v1/forecast":
            faults.send(self, 404, faults.error_body("Not Found"))
            return
        try:
            reply = self._reply(seen)
        except contract.BadRequest as error:
            faults.send(self, 400, faults.error_body(str(error)))
            return
        self._send(reply, self.service.take_fault())

    def _reply(self, seen: Seen) -> Any:
        if self.service.bad_latitudes & set(seen.query.get("latitude", "").split(",")):
            raise contract.BadRequest("No data is available for this location")
        return contract.answer(seen.query, self.service.day(seen.query))

    def _send(self, reply: Any, fault: str) -> None:
        change = faults.REPLY_FAULTS.get(fault)
        body = json.dumps(change(reply) if change else reply, ensure_ascii=False).encode()
        take_over = faults.WIRE_FAULTS.get(fault)
        try:
            if take_over:
                take_over(self, body)
            else:
                faults.send(self, 200, body, "application/json; charset=utf-8")
        except OSError:
            # The client hung up on a drip, as it should.
            self.close_connection = True

    def log_message(self, format: str, *args: object) -> None:
        """Quiet: the tests look at `seen`."""

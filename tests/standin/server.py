"""The stand-in as an HTTP server in a thread of its own, with faults to switch on and off.

One address answers for every service: the forecast, the ensembles, the archive and the tables of
runs of one, the grid of another, the places of a third.
"""

import json
import threading
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from http.server import ThreadingHTTPServer
from types import TracebackType
from typing import Any
from urllib.parse import parse_qsl, urlsplit

from tests.standin import contract, ensemble, faults, others


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
    # The moment the service thinks it is; 11:00 UTC of its day unless given.
    now: datetime | None = None
    # Believe whatever day is asked about: the demo's clock has several.
    any_day: bool = False
    fault: str = ""
    fault_times: int | None = None
    fault_after: int = 0
    # Where addresses begin that the fault befalls; else all that give hours.
    fault_path: str = ""
    # The office whose grid holds every place; another one, and every known cell is gone.
    office: str = "BTV"
    # Runs of ensembles stay those of this moment, whatever the table of runs says.
    frozen_runs_at: datetime | None = None
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

    def fail(self, fault: str, times: int | None = None, after: int = 0, path: str = "") -> None:
        """Switch a fault on; raises KeyError for a name nobody knows."""
        if fault not in faults.REPLY_FAULTS and fault not in faults.WIRE_FAULTS:
            raise KeyError(fault)
        self.fault, self.fault_times, self.fault_after = fault, times, after
        self.fault_path = path

    def recover(self) -> None:
        self.fault, self.fault_times, self.fault_after, self.fault_path = "", None, 0, ""

    def take_fault(self, path: str) -> str:
        if not (path.startswith(self.fault_path) if self.fault_path else gives_hours(path)):
            return ""
        if self.fault_after:
            self.fault_after -= 1
            return ""
        if self.fault_times is None:
            return self.fault
        self.fault_times -= 1
        return self.fault if self.fault_times >= 0 else ""

    def moment(self, path: str, query: dict[str, str]) -> datetime:
        """What time the service thinks it is."""
        if self.now and not self.any_day:
            return self.now
        return datetime.combine(self._day(path, query), time(11), UTC)

    def _day(self, path: str, query: dict[str, str]) -> date:
        if self.any_day and path == "/v1/archive" and "end_date" in query:
            # Long enough ago for the archive to know every day of it.
            return date.fromisoformat(query["end_date"]) + timedelta(days=30)
        if self.any_day and "end_date" in query:
            # The client asks for as many days ahead as there are.
            return date.fromisoformat(query["end_date"]) - timedelta(contract.DAYS_AHEAD - 1)
        return self.today or datetime.now(UTC).date()


def gives_hours(path: str) -> bool:
    return not path.startswith(("/data/", "/points/"))


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
        try:
            reply = self._reply(seen)
        except contract.BadRequest as error:
            faults.send(self, 400, faults.error_body(str(error)))
        except others.Refused as refusal:
            self._refuse(refusal)
        else:
            self._send(reply, self.service.take_fault(url.path))

    def _reply(self, seen: Seen) -> Any:
        moment = self.service.moment(seen.path, seen.query)
        if seen.path in contract.PRODUCTS:
            if self.service.bad_latitudes & set(seen.query.get("latitude", "").split(",")):
                raise contract.BadRequest("No data is available for this location")
            return contract.answer(seen.path, seen.query, self.service.frozen_runs_at or moment)
        if seen.path.startswith("/data/"):
            return self._meta(seen.path.split("/")[2], moment)
        if seen.path.startswith("/points/"):
            return others.points(seen.path, self.service.office, self.service.url)
        if seen.path.startswith("/gridpoints/"):
            return others.gridpoints(seen.path, self.service.office, moment)
        if seen.path == "/weatherapi/locationforecast/2.0/compact":
            return others.met_compact(seen.query, seen.headers, moment)
        raise others.Refused(404, {"error": True, "reason": "Not Found"})

    def _meta(self, model: str, moment: datetime) -> Any:
        # With a day made up by each question there is no newest run to tell of.
        if model not in ensemble.MEMBERS or self.service.any_day:
            raise others.Refused(404, {"error": True, "reason": "Not Found"})
        return ensemble.meta(model, moment)

    def _refuse(self, refusal: others.Refused) -> None:
        if isinstance(refusal.body, str):
            faults.send(self, refusal.status, refusal.body.encode(), "text/html")
            return
        body = b"" if refusal.body is None else json.dumps(refusal.body).encode()
        faults.send(self, refusal.status, body, headers=refusal.headers)

    def _send(self, reply: Any, fault: str) -> None:
        headers = {}
        if isinstance(reply, others.Answer):
            reply, headers = reply.body, reply.headers
        change = faults.REPLY_FAULTS.get(fault)
        body = json.dumps(change(reply) if change else reply, ensure_ascii=False).encode()
        take_over = faults.WIRE_FAULTS.get(fault)
        try:
            if take_over:
                take_over(self, body)
            else:
                faults.send(self, 200, body, "application/json; charset=utf-8", headers)
        except OSError:
            # The client hung up on a drip, as it should.
            self.close_connection = True

    def log_message(self, format: str, *args: object) -> None:
        """Quiet: the tests look at `seen`."""

"""Bytes over HTTP within a deadline, or a ProviderFailure that says why not.

Units: seconds of monotonic time.
Validity: GET only. A redirect is followed on the same host alone: another would get the key.
Source: the retry numbers were measured against a faulty server with requests 2.34 and
urllib3 2.8: urllib3 would sleep through a Retry-After of hours, does not retry a body cut
short, and requests has no deadline for a body that drips.
"""

import time
from collections.abc import Mapping
from contextlib import closing
from dataclasses import dataclass, field
from urllib.parse import urljoin, urlsplit

import requests
from requests.adapters import HTTPAdapter
from urllib3.exceptions import HTTPError, ProtocolError, ReadTimeoutError
from urllib3.util import Retry

from apps.weather.client.records import ProviderFailure

# The largest group's answer is about 17 MB; far beyond that it is no answer to our question.
MOST_BYTES = 32 * 1024 * 1024
PIECE_BYTES = 64 * 1024
MOST_REDIRECTS = 3


@dataclass(frozen=True)
class Pace:
    """How long to wait for what."""

    connect_seconds: float = 5
    read_seconds: float = 10
    refresh_seconds: float = 60
    # One service that drips must leave time for the next.
    service_seconds: float = 25
    backoff_seconds: float = 1


@dataclass(frozen=True)
class Reply:
    """A whole reply."""

    status: int
    headers: Mapping[str, str]
    body: bytes


@dataclass
class Deadline:
    """One budget for all requests of a refresh; monotonic, so no clock change can stretch it."""

    seconds: float
    started: float = field(default_factory=time.monotonic)

    def left(self) -> float:
        left = self._remaining()
        if left <= 0:
            raise ProviderFailure("too_slow", f"No whole answer within {self.seconds:g} seconds.")
        return left

    @property
    def spent(self) -> bool:
        return self._remaining() <= 0

    def share(self, seconds: float) -> "Deadline":
        """A deadline within this one, for one service of several; spent if this one is."""
        return Deadline(max(0.0, min(self._remaining(), seconds)))

    def _remaining(self) -> float:
        return self.seconds - (time.monotonic() - self.started)


def session(pace: Pace, headers: Mapping[str, str]) -> requests.Session:
    retry = Retry(
        total=2,
        connect=2,
        read=1,
        # 429 is left out on purpose: asking again at once makes it worse and costs a call.
        status_forcelist=(500, 502, 503, 504),
        allowed_methods={"GET"},
        backoff_factor=pace.backoff_seconds,
        backoff_jitter=pace.backoff_seconds / 2,
        respect_retry_after_header=False,
        # The last bad reply comes back as a reply, so that its status can be named.
        raise_on_status=False,
    )
    made = requests.Session()
    made.headers.update(headers)
    for scheme in ("http://", "https://"):
        made.mount(scheme, HTTPAdapter(max_retries=retry))
    return made


@dataclass(frozen=True)
class Over:
    """The way requests go out: one session, one deadline, one pace."""

    session: requests.Session
    deadline: Deadline
    pace: Pace

    def get(
        self,
        url: str,
        params: Mapping[str, str] | None = None,
        headers: Mapping[str, str] | None = None,
    ) -> Reply:
        """One GET, asked a second time if its body was cut short, redirects on the host followed.

        Raises ProviderFailure for whatever the network does.
        """
        reply = self._get(url, params, headers)
        for _ in range(MOST_REDIRECTS):
            target = urljoin(url, reply.headers.get("Location", "//nowhere"))
            if not 300 <= reply.status < 400 or not _same_host(url, target):
                break
            # The new address carries its own query.
            url = target
            reply = self._get(url, None, headers)
        return reply

    def _get(
        self, url: str, params: Mapping[str, str] | None, headers: Mapping[str, str] | None
    ) -> Reply:
        try:
            return self._get_once(url, params, headers)
        except ProviderFailure as failure:
            if failure.kind != "cut_short":
                raise
        return self._get_once(url, params, headers)

    def _get_once(
        self, url: str, params: Mapping[str, str] | None, headers: Mapping[str, str] | None
    ) -> Reply:
        timeout = (
            min(self.pace.connect_seconds, self.deadline.left()),
            min(self.pace.read_seconds, self.deadline.left()),
        )
        try:
            response = self.session.get(
                url,
                params=params,
                headers=headers,
                timeout=timeout,
                allow_redirects=False,
                stream=True,
            )
            with closing(response):
                body = _body(response, self.deadline)
                return Reply(response.status_code, response.headers, body)
        except (requests.RequestException, HTTPError) as error:
            raise _named(error, url) from error


def _same_host(here: str, there: str) -> bool:
    return urlsplit(here)[:2] == urlsplit(there)[:2]


def _body(response: requests.Response, deadline: Deadline) -> bytes:
    """Read what has arrived, piece by piece, so that a drip meets the deadline in between."""
    pieces, size = [], 0
    # read1 gives what is there; read and iter_content would wait for a full piece.
    while piece := response.raw.read1(PIECE_BYTES, decode_content=True):
        deadline.left()
        size += len(piece)
        if size > MOST_BYTES:
            raise ProviderFailure("too_large", f"An answer of over {MOST_BYTES:,} bytes.")
        pieces.append(piece)
    return b"".join(pieces)


def _named(error: Exception, url: str) -> ProviderFailure:
    """Tell a refused connection, a silence and a torn body apart, whatever class they came in.

    A read timeout comes as ConnectionError once the retries are used up, so the cause decides.
    """
    host = urlsplit(url).netloc
    causes = _causes(error)
    if any(isinstance(cause, requests.Timeout | ReadTimeoutError) for cause in causes):
        return ProviderFailure("timed_out", f"{host} did not answer in time.")
    if isinstance(error, HTTPError) and isinstance(error, ProtocolError):
        return ProviderFailure("cut_short", f"The answer from {host} was cut short.")
    return ProviderFailure("unreachable", f"{host} could not be reached: is the network up?")


def _causes(error: BaseException) -> list[BaseException]:
    """The error, its causes and what urllib3 kept as a reason, outermost first."""
    found: list[BaseException] = []
    waiting: list[BaseException | None] = [error]
    while waiting:
        here = waiting.pop(0)
        if here is None or here in found:
            continue
        found.append(here)
        waiting += [here.__cause__, here.__context__]
        waiting += [part for part in (*here.args, getattr(here, "reason", None)) if _is_error(part)]
    return found


def _is_error(part: object) -> bool:
    return isinstance(part, BaseException)

"""The wire between a phone and its server: counts every byte, and fails the ways that signal fails.

Playwright's own routes see neither what a service worker asks nor how a browser repeats a post, so
faults happen here, where a bad link would have them. The server behind may be killed and started
again; the address in front, and with it the phone's store, stays.
"""

import re
import socket
import threading
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field

CHUNK = 65536


@dataclass
class Exchange:
    """One request and what came of it; bytes with headers, as the phone's link would carry them."""

    method: str
    path: str
    up: int
    down: int = 0
    status: int = 0


@dataclass
class Fault:
    """What happens to the next `times` requests of a method whose path begins like this."""

    method: str
    pattern: str
    times: int
    act: Callable[[bytes, Callable[[bytes], bytes]], bytes | None]

    def meets(self, method: str, path: str) -> bool:
        return self.times > 0 and method == self.method and bool(re.match(self.pattern, path))


def _read_message(link: socket.socket) -> bytes:
    """One HTTP message with its body; empty when the other side has closed."""
    data = b""
    while b"\r\n\r\n" not in data:
        piece = link.recv(CHUNK)
        if not piece:
            return b""
        data += piece
    head, _, body = data.partition(b"\r\n\r\n")
    length = int(_header(head, b"content-length") or 0)
    while len(body) < length:
        piece = link.recv(CHUNK)
        if not piece:
            return b""
        body += piece
    return head + b"\r\n\r\n" + body


def _header(head: bytes, name: bytes) -> bytes:
    for line in head.split(b"\r\n")[1:]:
        key, _, value = line.partition(b":")
        if key.strip().lower() == name:
            return value.strip()
    return b""


def _without(head: bytes, *names: bytes) -> bytes:
    lines = head.split(b"\r\n")
    return b"\r\n".join(line for line in lines if line.partition(b":")[0].lower() not in names)


def _whole_or_broken(answer: bytes) -> None:
    """A server killed in the middle of its answer must not look as if it had said all of it."""
    head, blank, body = answer.partition(b"\r\n\r\n")
    chunked = _header(head, b"transfer-encoding").lower() == b"chunked"
    ended = body.endswith(b"0\r\n\r\n") if chunked else True
    said = int(_header(head, b"content-length") or 0)
    if not blank or not ended or (said and body and len(body) < said):
        raise ConnectionResetError("The server broke off.")


def _unchunked(body: bytes) -> bytes:
    whole = b""
    while body:
        size, _, body = body.partition(b"\r\n")
        count = int(size or b"0", 16)
        whole, body = whole + body[:count], body[count + 2 :]
    return whole


@dataclass
class Wire:
    """Listens on a port of its own and hands everything on to the server's port."""

    server_port: int
    # Off: the browser sees a cut answer as a failure instead of quietly sending the post again.
    keep_alive: bool = True
    exchanges: list[Exchange] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    port: int = 0
    _listener: socket.socket | None = None
    _links: set[socket.socket] = field(default_factory=set)
    _released: threading.Event = field(default_factory=threading.Event)

    def start(self) -> None:
        self._listener = socket.create_server(("127.0.0.1", self.port))
        self.port = self._listener.getsockname()[1]
        threading.Thread(target=self._accept, args=(self._listener,), daemon=True).start()

    def stop(self) -> None:
        """No server any more: the port refuses, and what was under way breaks off."""
        self._released.set()
        for link in [self._listener, *self._links]:
            if link is not None:
                with suppress(OSError):
                    link.shutdown(socket.SHUT_RDWR)
                link.close()
        self._listener = None

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def cut(self, method: str, pattern: str, times: int = 1) -> None:
        """The server does its work and the answer is lost."""

        def act(request: bytes, serve: Callable[[bytes], bytes]) -> None:
            serve(request)

        self.faults.append(Fault(method, pattern, times, act))

    def hang(self, method: str, pattern: str, times: int = 1000) -> None:
        """Nothing comes and nothing fails, until `release` or `stop`."""

        def act(request: bytes, serve: Callable[[bytes], bytes]) -> None:
            self._released.wait()

        self._released.clear()
        self.faults.append(Fault(method, pattern, times, act))

    def answer(self, method: str, pattern: str, raw: bytes, times: int = 1) -> None:
        """Something answers that is not the server: a hotel's network, a proxy alone at home."""
        self.faults.append(Fault(method, pattern, times, lambda request, serve: raw))

    def change(self, pattern: str, words: dict[bytes, bytes], times: int = 1000) -> None:
        """The server's answer with other contents, as after an update of it."""

        def act(request: bytes, serve: Callable[[bytes], bytes]) -> bytes:
            head, _, body = serve(
                _without(request, b"if-none-match", b"accept-encoding")
            ).partition(b"\r\n\r\n")
            for old, new in words.items():
                body = body.replace(old, new)
            head = _without(head, b"content-length", b"etag")
            return head + b"\r\nContent-Length: %d\r\n\r\n" % len(body) + body

        self.faults.append(Fault("GET", pattern, times, act))

    def heal(self) -> None:
        self.faults.clear()
        self._released.set()

    def asked(self, method: str, prefix: str) -> list[Exchange]:
        return [it for it in self.exchanges if it.method == method and it.path.startswith(prefix)]

    def _accept(self, listener: socket.socket) -> None:
        while True:
            try:
                link, _ = listener.accept()
            except OSError:
                return
            self._links.add(link)
            threading.Thread(target=self._talk, args=(link,), daemon=True).start()

    def _talk(self, link: socket.socket) -> None:
        # A phone that goes away in the middle is what all this is about.
        with suppress(OSError), link:
            while request := _read_message(link):
                answer = self._pass_on(request)
                if answer is None:
                    break
                link.sendall(answer)
                if not self.keep_alive:
                    break
        self._links.discard(link)

    def _pass_on(self, request: bytes) -> bytes | None:
        method, path, _ = request.split(b"\r\n", 1)[0].decode().split(" ")
        exchange = Exchange(method, path, up=len(request))
        self.exchanges.append(exchange)
        fault = next((it for it in self.faults if it.meets(method, path)), None)
        if fault:
            fault.times -= 1
        answer = fault.act(request, self._serve) if fault else self._serve(request)
        if answer:
            exchange.down, exchange.status = len(answer), int(answer.split(b" ", 2)[1])
        return answer or None

    def _serve(self, request: bytes) -> bytes:
        head, _, body = request.partition(b"\r\n\r\n")
        head = _without(head, b"connection") + b"\r\nConnection: close"
        with socket.create_connection(("127.0.0.1", self.server_port), timeout=60) as server:
            server.sendall(head + b"\r\n\r\n" + body)
            answer = b""
            while piece := server.recv(CHUNK):
                answer += piece
        _whole_or_broken(answer)
        return self._framed(answer)

    def _framed(self, answer: bytes) -> bytes:
        """The answer with its length said, so that the connection to the phone can go on."""
        head, _, body = answer.partition(b"\r\n\r\n")
        if _header(head, b"transfer-encoding").lower() == b"chunked":
            body = _unchunked(body)
        head = _without(head, b"connection", b"transfer-encoding", b"content-length")
        if not self.keep_alive:
            head += b"\r\nConnection: close"
        # A "not modified" has no body and says no length.
        if head.split(b" ", 2)[1] != b"304":
            head += b"\r\nContent-Length: %d" % len(body)
        return head + b"\r\n\r\n" + body

"""A small plain-http door beside the server: the authority's certificate, how to install it.

A phone that does not trust the authority yet cannot fetch it over HTTPS. Nothing else is here.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from threading import Thread
from typing import Any

CERTIFICATE_PATH = "/thawline-authority.crt"
HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "Cache-Control": "no-store",
    "Content-Security-Policy": "default-src 'none'; style-src 'unsafe-inline'",
}


@dataclass(frozen=True)
class Handout:
    """The certificate (DER) and the page about it (HTML)."""

    certificate: bytes
    page: bytes

    def at(self, path: str) -> tuple[str, bytes] | None:
        """Content type and body of an address; None for every other one."""
        if path == CERTIFICATE_PATH:
            return "application/x-x509-ca-cert", self.certificate
        return ("text/html; charset=utf-8", self.page) if path == "/" else None


class _Handler(BaseHTTPRequestHandler):
    handout: Handout
    # A phone that walks out of reach must not hold a thread for ever.
    timeout = 10
    # Says neither language nor version.
    server_version, sys_version = "Thawline", ""

    def do_GET(self) -> None:
        self._answer(with_body=True)

    def do_HEAD(self) -> None:
        self._answer(with_body=False)

    def _answer(self, *, with_body: bool) -> None:
        found = self.handout.at(self.path.partition("?")[0])
        kind, body = found or ("text/plain; charset=utf-8", b"Nothing here.\n")
        self.send_response(200 if found else 404)
        for name, value in {"Content-Type": kind, **HEADERS}.items():
            self.send_header(name, value)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        if with_body:
            self.wfile.write(body)

    def log_message(self, format: str, *args: Any) -> None:
        """Say nothing: the terminal is for the server."""


@contextmanager
def handing_out(handout: Handout, host: str, port: int) -> Iterator[int]:
    """Serve it beside whatever goes on inside; the port, which 0 leaves to the system."""
    handler = type("Handler", (_Handler,), {"handout": handout})
    server = ThreadingHTTPServer((host, port), handler)
    thread = Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield server.server_port
    finally:
        server.shutdown()
        server.server_close()
        thread.join()

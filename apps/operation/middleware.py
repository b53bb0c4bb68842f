"""What every request carries: the operation, the moment, the local day; and safe headers."""

from collections.abc import Callable
from typing import cast
from zoneinfo import ZoneInfo

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from apps.operation import clock, queries
from apps.operation.http import Request

GetResponse = Callable[[HttpRequest], HttpResponse]

# Plotly writes style elements at run time, hence inline styles; scripts only ever come as files.
CONTENT_SECURITY_POLICY = (
    "default-src 'self'; img-src 'self' data: blob:; style-src 'self' 'unsafe-inline'; "
    "object-src 'none'; base-uri 'none'; frame-ancestors 'none'; form-action 'self'"
)


class OperationMiddleware:
    """Put operation, now and today on the request, so that nothing below reads a clock."""

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, plain_request: HttpRequest) -> HttpResponse:
        request = cast("Request", plain_request)
        request.operation = queries.current_operation()
        # Read at each request: a changed zone holds from the next page on.
        zone = ZoneInfo(request.operation.time_zone)
        request.now = clock.now()
        request.today = request.now.astimezone(zone).date()
        # For this request alone: the thread goes on to serve others.
        with timezone.override(zone):
            return self.get_response(request)


class SafetyHeadersMiddleware:
    """Scripts from our own files only, on every page."""

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        # A view that needs a stricter one of its own keeps it.
        response.headers.setdefault("Content-Security-Policy", CONTENT_SECURITY_POLICY)
        return response

"""A lost phone is signed out at its next request, whatever that asks for."""

from collections.abc import Callable

from django.contrib.auth import logout
from django.http import HttpRequest, HttpResponse

from apps.field.queries import is_revoked

GetResponse = Callable[[HttpRequest], HttpResponse]
# The phone a session belongs to, once it has shown itself.
SESSION_PHONE = "phone"
# Set beside what the server found in the request; no header can come by such a name.
SIGNED_OUT = "thawline.phone_revoked"


class RevokedPhoneMiddleware:
    """End the sessions of phones that an owner has revoked."""

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        phone = request.session.get(SESSION_PHONE)
        if phone is not None and is_revoked(phone):
            logout(request)
            # So that this one answer can say why; from the next on it is an ordinary stranger.
            request.META[SIGNED_OUT] = "1"
        return self.get_response(request)

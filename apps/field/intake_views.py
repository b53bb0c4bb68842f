"""What the phone's script asks and sends: JSON in, JSON out, and never a page in its place."""

from collections.abc import Callable
from functools import wraps
from typing import Any
from uuid import UUID

from django.contrib.auth import logout
from django.contrib.auth.decorators import login_not_required
from django.db import OperationalError
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.http.request import UnreadablePostError
from django.middleware.csrf import get_token
from django.views.csrf import csrf_failure as csrf_page
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import ensure_csrf_cookie
from django.views.decorators.gzip import gzip_page
from django.views.decorators.http import require_POST, require_safe

from apps.field import actions, payload, phone_data, queries
from apps.field.middleware import SESSION_PHONE, SIGNED_OUT
from apps.field.models import Phone
from apps.field.payload.fields import UUID_TEXT
from apps.operation.http import Request

View = Callable[..., HttpResponse]
INTAKE = frozenset({"field:records", "field:photo_intake"})


def refusal(status: int, reason: str, **more: object) -> JsonResponse:
    return JsonResponse({"reason": reason, **more}, status=status)


def for_a_phone(view: View) -> View:
    """Answer a stranger with 401, and a phone just signed out with 403, in words for a script."""

    @wraps(view)
    def guarded(request: Request, *args: Any, **kwargs: Any) -> HttpResponse:
        if SIGNED_OUT in request.META:
            return refusal(403, "revoked")
        if not request.user.is_authenticated:
            return refusal(401, "signed_out")
        try:
            return view(request, *args, **kwargs)
        except OperationalError:
            # Another writer held the books too long; what was taken is told at the next sending.
            return refusal(503, "busy")

    # Outside of the login page's reach: the script would take that page for an answer.
    return login_not_required(guarded)


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    """The script fetches a fresh token and tries once more; everybody else gets Django's page."""
    match = request.resolver_match
    if match is not None and match.view_name in INTAKE:
        return refusal(403, "csrf")
    return csrf_page(request, reason)


@login_not_required
@never_cache
@require_safe
def whoami(request: Request) -> HttpResponse:
    get_token(request)
    known = phone_data.person_row(request.user) if request.user.is_authenticated else None
    return JsonResponse({"person": known, "server_now": phone_data.milliseconds(request.now)})


@login_not_required
@never_cache
@require_safe
@gzip_page
@ensure_csrf_cookie
def data(request: Request) -> HttpResponse:
    name = request.GET.get("phone", "")
    if not UUID_TEXT.fullmatch(name):
        return refusal(400, "The phone did not say which one it is.")
    # Asked before who is signed in: somebody who finds a phone is told so and nothing else.
    if queries.is_revoked(name):
        logout(request)
        return refusal(403, "revoked")
    return _data(request, UUID(name))


@for_a_phone
def _data(request: Request, name: UUID) -> HttpResponse:
    greet(request, name)
    asked = phone_data.Asked(request.operation, request.user, request.now)
    return JsonResponse(phone_data.for_the_woods(asked), json_dumps_params=COMPACT)


@for_a_phone
@never_cache
@require_POST
@gzip_page
def records(request: Request) -> HttpResponse:
    try:
        post = payload.read_post(_body(request, payload.MOST_BYTES))
    except (payload.BadPost, UnreadablePostError) as bad:
        return refusal(400, str(bad))
    except payload.TooMuch as bad:
        return refusal(413, str(bad))
    phone = greet(request, post.phone)
    if phone.revoked_at is not None:
        return refusal(403, "revoked")
    try:
        answers = actions.take_post(post=post, phone=phone, sender=request.user, now=request.now)
    except actions.OtherPerson:
        return refusal(409, "other_person", person=phone_data.person_row(request.user))
    return JsonResponse(_told(request, post, answers), json_dumps_params=COMPACT)


COMPACT = {"separators": (",", ":"), "ensure_ascii": False}


def _told(request: Request, post: payload.Post, answers: list[actions.Answer]) -> dict[str, object]:
    lines = {r.body.line for r in post.readable if isinstance(r.body, payload.Check)}
    return {
        "server_now": phone_data.milliseconds(request.now),
        "answers": [_answer(one) for one in answers],
        "same_day": phone_data.same_day(lines, request.user, request.now),
    }


def _answer(one: actions.Answer) -> dict[str, object]:
    # Without an identifier the phone goes by the place in what it sent.
    told: dict[str, object] = {"uuid": one.uuid} if one.uuid else {"n": one.n}
    told["answer"] = one.answer
    return told | {name: said for name in ("field", "reason") if (said := getattr(one, name))}


def _body(request: Request, most: int) -> bytes:
    if request.content_type != "application/json":
        raise payload.BadPost("The body must be sent as application/json.")
    # Asked of the header first: what is too long is not read at all.
    if int(request.META.get("CONTENT_LENGTH") or 0) > most:
        raise payload.TooMuch(f"At most {most // 1024} KB in one post.")
    return request.body


def greet(request: Request, name: UUID) -> Phone:
    """Put the phone on the list, and remember in the session whose session this is."""
    if request.session.get(SESSION_PHONE) != str(name):
        request.session[SESSION_PHONE] = str(name)
    return actions.greet_phone(
        uuid=name,
        person=request.user,
        user_agent=request.headers.get("User-Agent", ""),
        now=request.now,
    )

"""Pages about the phones themselves: getting started, who has one, a lost one, their photos."""

from uuid import UUID

from django.contrib import messages
from django.core.files.storage import default_storage
from django.core.paginator import Paginator
from django.http import FileResponse, Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from apps.field import phones as queries
from apps.field.actions import allow_phone, revoke_phone
from apps.field.address import base_address, worries
from apps.field.models import Phone
from apps.field.tags import qr_image
from apps.leaks.models import Photo
from apps.operation.access import owner_required
from apps.operation.http import Request

PAGE_ROWS = 50
# A picture never changes under its identifier; only the one who asked may keep it.
PHOTO_HEADERS = {
    "Cache-Control": "private, max-age=31536000, immutable",
    "Content-Security-Policy": "default-src 'none'; sandbox",
    "X-Content-Type-Options": "nosniff",
}


@require_GET
def phone_help(request: Request) -> HttpResponse:
    base = base_address(request)
    link = base + reverse("field:phone")
    context = {"link": link, "code": qr_image(link), "worries": worries(base)}
    return render(request, "field/phone_help.html", context)


@owner_required
@require_GET
def phones(request: Request) -> HttpResponse:
    page = Paginator(queries.phones(), PAGE_ROWS).get_page(request.GET.get("page"))
    context = {
        "page": page,
        "rows": [(phone, queries.browser_words(phone.user_agent)) for phone in page],
        "flags": queries.clock_flags(request.now),
    }
    return render(request, "field/phones.html", context)


@owner_required
@require_http_methods(["GET", "POST"])
def phone_revoke(request: Request, uuid: UUID) -> HttpResponse:
    phone = get_object_or_404(Phone.objects.select_related("person"), uuid=uuid)
    if request.method == "POST":
        revoke_phone(phone=phone, by=request.user, at=request.now)
        messages.success(request, f"{phone} is shut out and signed out.")
        return redirect("field:phones")
    return _confirm(request, phone, "revoke")


@owner_required
@require_http_methods(["GET", "POST"])
def phone_allow(request: Request, uuid: UUID) -> HttpResponse:
    phone = get_object_or_404(Phone.objects.select_related("person"), uuid=uuid)
    if request.method == "POST":
        allow_phone(phone=phone, by=request.user)
        messages.success(request, f"{phone} may send again, once somebody has signed in on it.")
        return redirect("field:phones")
    return _confirm(request, phone, "allow")


def _confirm(request: Request, phone: Phone, what: str) -> HttpResponse:
    words = queries.browser_words(phone.user_agent)
    context = {"phone": phone, "browser": words, "what": what}
    return render(request, "field/phone_confirm.html", context)


@require_GET
def photo(request: Request, uuid: UUID) -> HttpResponseBase:
    row = get_object_or_404(Photo, uuid=uuid)
    try:
        file = default_storage.open(row.file_name)
    except FileNotFoundError as error:
        # A database put back without its photos, or the other way round.
        raise Http404("The picture's file is not here.") from error
    response = FileResponse(file, content_type=f"image/{row.kind}", filename=f"{uuid}.{row.kind}")
    for name, value in PHOTO_HEADERS.items():
        response[name] = value
    return response

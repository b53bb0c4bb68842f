"""The phone's shell, its worker and its manifest: public, and the same for everyone."""

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.views.decorators.cache import cache_control
from django.views.decorators.gzip import gzip_page
from django.views.decorators.http import conditional_page, require_safe

from apps.field import shell as phone


# no_cache: asked for anew each time, answered with "not modified" as a rule.
@login_not_required
@require_safe
@gzip_page
@conditional_page
@cache_control(no_cache=True)
def shell(request: HttpRequest, **_place: str) -> HttpResponse:
    """One page for every address of the phone: its script reads the address itself."""
    return HttpResponse(phone.page())


@login_not_required
@require_safe
@gzip_page
@conditional_page
@cache_control(no_cache=True)
def worker(request: HttpRequest) -> HttpResponse:
    """Served from here and not as a static file: a worker reaches its own folder only."""
    return HttpResponse(phone.worker(), content_type="text/javascript; charset=utf-8")


@login_not_required
@require_safe
@cache_control(no_cache=True)
def manifest(request: HttpRequest) -> HttpResponse:
    return JsonResponse(phone.manifest(), content_type="application/manifest+json")

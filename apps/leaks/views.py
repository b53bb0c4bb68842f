"""Leaks, lines and gauges at a desk; the phone's page is in the field app."""

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from apps.leaks import queries
from apps.operation.http import Request


@require_GET
def open_leaks(request: Request) -> HttpResponse:
    return render(request, "leaks/open_leaks.html", {"leaks": queries.open_leaks()})


@require_GET
def lines(request: Request) -> HttpResponse:
    return render(request, "leaks/lines.html")


@require_GET
def gauges(request: Request) -> HttpResponse:
    return render(request, "leaks/gauges.html")

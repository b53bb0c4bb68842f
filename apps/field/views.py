"""The page a gloved thumb uses in the woods."""

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods

from apps.operation.http import Request


@require_http_methods(["GET", "POST"])
def check(request: Request) -> HttpResponse:
    return render(request, "field/check.html")

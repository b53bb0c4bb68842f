"""The page on which a producer checks the arithmetic with a pencil."""

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from apps.operation import numbers
from apps.operation.http import Request


@require_GET
def numbers_page(request: Request) -> HttpResponse:
    context = {
        "areas": numbers.worked_areas(),
        "how_surely": numbers.how_surely(),
        "open_all": request.GET.get("open") == "all",
    }
    return render(request, "operation/numbers.html", context)

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_POST

from apps.operation.http import Request


@require_GET
def outlook(request: Request) -> HttpResponse:
    return render(request, "weather/outlook.html")


@require_POST
def refresh(request: Request) -> HttpResponse:
    return redirect("weather:outlook")

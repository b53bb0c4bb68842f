from zoneinfo import ZoneInfo

from django.conf import settings
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_POST

from apps.operation.http import Request
from apps.operation.queries import constants
from apps.weather import actions, charts, queries
from apps.woods.models import Woodlot

# Fifteen days each: a page of fifty is as much as a phone scrolls.
PER_PAGE = 50
LEVELS = {"ok": messages.SUCCESS, "partial": messages.WARNING, "failed": messages.ERROR}


@require_GET
def outlook(request: Request) -> HttpResponse:
    zone, in_use = ZoneInfo(request.operation.time_zone), constants()
    page = Paginator(Woodlot.objects.order_by("name"), PER_PAGE).get_page(request.GET.get("page"))
    shown = queries.outlook(list(page.object_list), in_use, zone, request.now)
    chosen = shown.choose(request.GET.get("woodlot"))
    figure = chosen and charts.hours_about_freezing(
        chosen, in_use, request.operation.unit_system, request.now
    )
    context = {
        "page": page,
        "outlook": shown,
        "chosen": chosen,
        "chosen_cells": shown.cells(chosen) if chosen else [],
        "figure": figure,
        "source_order": settings.WEATHER_SOURCES,
        "fewest_members": queries.FEWEST_MEMBERS,
    }
    return render(request, "weather/outlook.html", context | {"limits": queries.limits(in_use)})


@require_POST
def refresh(request: Request) -> HttpResponse:
    try:
        attempt = actions.refresh(now=request.now)
    except actions.RefreshRefusedError as error:
        messages.warning(request, str(error))
    else:
        messages.add_message(request, LEVELS[attempt.outcome], attempt.detail)
    return redirect("weather:outlook")

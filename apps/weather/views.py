from zoneinfo import ZoneInfo

from django.conf import settings
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_POST

from apps.operation.http import Request
from apps.operation.queries import Constants, constants
from apps.weather import actions, charts, charts_fan, queries
from apps.weather.queries.fan import fan
from apps.woods.models import Woodlot

# Fifteen days each: a page of fifty is as much as a phone scrolls.
PER_PAGE = 50
# From the eleventh day on the members are as wide as the season itself.
FAN_DAYS = 10
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
        "calendar": charts_fan.calendar(shown.dates, shown.stated),
        "usual": _usual(chosen, in_use, request),
    } | _fan(chosen, in_use, request)
    return render(request, "weather/outlook.html", context | {"limits": queries.limits(in_use)})


def _usual(
    chosen: queries.WoodlotDays | None, in_use: Constants, request: Request
) -> queries.Usual | None:
    """What past winters brought, in place of a forecast that is withheld or not there."""
    if chosen is None or chosen.days:
        return None
    found = queries.usual([chosen.woodlot], in_use, chosen.tz, request.today)
    return found.get(chosen.woodlot.pk)


def _fan(
    chosen: queries.WoodlotDays | None, in_use: Constants, request: Request
) -> dict[str, object]:
    """The members of the woodlot chosen, over the days shown of it."""
    if chosen is None or not chosen.days:
        return {}
    models = queries.members([chosen.woodlot], in_use, request.now)[chosen.woodlot.pk]
    found = fan(models, chosen.tz, chosen.days[0].date, FAN_DAYS)
    if found is None:
        return {"fan": None}
    drawn = charts_fan.fan_about_freezing(
        found, chosen.woodlot.name, chosen.tz, in_use, request.operation.unit_system
    )
    return {"fan": found, "fan_figure": drawn}


@require_POST
def refresh(request: Request) -> HttpResponse:
    try:
        attempt = actions.refresh(now=request.now)
    except actions.RefreshRefusedError as error:
        messages.warning(request, str(error))
    else:
        messages.add_message(request, LEVELS[attempt.outcome], attempt.detail)
    return redirect("weather:outlook")

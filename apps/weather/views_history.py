"""Past winters: how many are here, what they come to, and fetching the next few."""

import time
from zoneinfo import ZoneInfo

from django.conf import settings
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_POST

from apps.operation.access import owner_required
from apps.operation.http import Request
from apps.operation.queries import constants
from apps.weather import actions_history as actions
from apps.weather import charts_history as charts
from apps.weather import queries
from apps.weather.models import HistoryFetch
from apps.weather.queries import winters
from apps.weather.queries.climate import WARM_C, climate
from apps.woods.models import Woodlot

PER_PAGE = 50
# What a browser waits for; the command fetches all.
REQUESTS_A_CLICK, REST_SECONDS = 3, 1.0


@require_GET
def history(request: Request) -> HttpResponse:
    lots = Woodlot.objects.order_by("name")
    page = Paginator(lots, PER_PAGE).get_page(request.GET.get("page"))
    rows = winters.winter_progress(page.object_list, request.now)
    asked = request.GET.get("woodlot", "")
    chosen = next((row for row in rows if str(row.woodlot.pk) == asked), rows[0] if rows else None)
    context = {
        "page": page,
        "rows": rows,
        "chosen": chosen,
        "to_fetch": not all(row.whole for row in rows),
        "last": winters.last_fetch(request.now),
        "model": settings.WEATHER_ARCHIVE_MODEL,
        "warm_c": WARM_C,
    }
    return render(request, "weather/history.html", context | _chosen(request, chosen))


def _chosen(request: Request, chosen: winters.WinterProgress | None) -> dict[str, object]:
    in_use, zone = constants(), ZoneInfo(request.operation.time_zone)
    shown: dict[str, object] = {"limits": queries.limits(in_use)}
    if chosen is None:
        return shown
    found = queries.histories([chosen.woodlot], in_use)[chosen.woodlot.pk]
    past = climate(found, in_use, zone)
    figure = charts.freeze_thaw_by_week(past, chosen.woodlot.name)
    return shown | {"climate": past, "figure": figure}


@owner_required
@require_POST
def fetch_history(request: Request) -> HttpResponse:
    try:
        fetched = actions.fetch_history(
            clock=lambda: request.now,
            rest=lambda: time.sleep(REST_SECONDS),
            told=lambda _: None,
            most_requests=REQUESTS_A_CLICK,
        )
    except actions.HistoryRefused as refusal:
        messages.warning(request, str(refusal))
    else:
        stopped = fetched.outcome == HistoryFetch.Outcome.STOPPED
        messages.add_message(
            request, messages.ERROR if stopped else messages.SUCCESS, fetched.detail
        )
    return redirect("weather:history")

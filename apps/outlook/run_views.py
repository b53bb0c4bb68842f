"""The page of tonight and the days ahead."""

from zoneinfo import ZoneInfo

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from apps.domain.sap_run.likelihood import (
    FEWEST_MEMBERS,
    FULL_THAW_DEGREE_HOURS,
    NO_FREEZE_C,
    WHATELY_2013_2014,
)
from apps.operation.http import Request
from apps.operation.queries import constants
from apps.outlook.runs import days_ahead
from apps.weather import queries as weather
from apps.woods.queries import woodlots

WOODLOTS_PER_PAGE = 10


@require_GET
def run_days(request: Request) -> HttpResponse:
    page = Paginator(woodlots(), WOODLOTS_PER_PAGE).get_page(request.GET.get("page"))
    in_use = constants()
    zone = ZoneInfo(request.operation.time_zone)
    ahead = days_ahead(list(page.object_list), in_use, zone, request.now)
    # Read for those alone that have no forecast: 25 winters of hours are no small thing.
    without = [row.woodlot for row in ahead.rows if not row.days]
    usual = weather.usual(without, in_use, zone, request.today)
    context = {
        "page": page,
        "ahead": ahead,
        "rows": [(row, usual.get(row.woodlot.pk)) for row in ahead.rows],
        "freeze_c": in_use.number("weather.freeze_c"),
        "fewest_members": FEWEST_MEMBERS,
        "full_thaw": FULL_THAW_DEGREE_HOURS,
        "no_freeze_c": NO_FREEZE_C,
        "fitted": WHATELY_2013_2014,
    }
    return render(request, "outlook/run_days.html", context)

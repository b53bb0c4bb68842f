"""Pages beside the start date: the season's end, past first runs, the morning brief."""

from collections.abc import Sequence
from zoneinfo import ZoneInfo

from django.conf import settings
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from apps.domain.season_end import FEWEST_SUGAR_DAYS
from apps.operation.http import Request
from apps.operation.queries import constants
from apps.outlook import brief, charts_first_runs, charts_season_end
from apps.outlook.first_runs import past_first_runs
from apps.outlook.season_end import TREND_DAYS, season_end
from apps.woods.models import Woodlot
from apps.woods.queries import woodlots

WOODLOTS_PER_PAGE = 10


@require_GET
def season_end_page(request: Request) -> HttpResponse:
    in_use, zone = constants(), ZoneInfo(request.operation.time_zone)
    shown = Paginator(woodlots(), WOODLOTS_PER_PAGE).get_page(request.GET.get("page"))
    # The worth of a day is of the whole farm, whichever woodlots a page of the list shows.
    found = season_end(list(woodlots()), in_use, zone, request.now)
    names = {lot.pk for lot in shown.object_list}
    rows = [row for row in found.rows if row.woodlot.pk in names]
    context = {
        "end": found,
        "page": shown,
        "rows": rows,
        "nights": charts_season_end.freeze_nights(found.dates, rows),
        "sugar": charts_season_end.sugar(rows),
        "freeze_c": in_use.number("weather.freeze_c"),
        "syrup_brix": in_use.number("sugarhouse.syrup_brix"),
        "fewest_sugar_days": FEWEST_SUGAR_DAYS,
        "trend_days": TREND_DAYS,
    }
    return render(request, "outlook/season_end.html", context)


@require_GET
def first_runs_page(request: Request) -> HttpResponse:
    lots = list(woodlots())
    chosen = _chosen(lots, request)
    context: dict[str, object] = {"lots": lots, "chosen": chosen}
    if chosen is not None:
        zone = ZoneInfo(request.operation.time_zone)
        past = past_first_runs(chosen, constants(), zone, request.now)
        context |= {"past": past, "figure": charts_first_runs.share_by_date(past)}
    return render(request, "outlook/first_runs.html", context)


@require_GET
def brief_page(request: Request) -> HttpResponse:
    context = {
        "brief": brief.write(
            operation=request.operation, now=request.now, demo=settings.THAWLINE_DEMO
        ),
        "readers": [owner.shown_name for owner in brief.readers()],
        "mail_is_set": bool(settings.EMAIL_HOST),
    }
    return render(request, "outlook/brief.html", context)


def _chosen(lots: Sequence[Woodlot], request: Request) -> Woodlot | None:
    """The woodlot asked for, else the first there is."""
    by_id = {str(lot.pk): lot for lot in lots}
    return by_id.get(request.GET.get("woodlot", ""), lots[0] if lots else None)

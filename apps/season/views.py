from zoneinfo import ZoneInfo

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from apps.domain.tapping import season_of
from apps.operation.http import Request
from apps.operation.queries import constants
from apps.season import charts, queries
from apps.sugarhouse import prediction
from apps.sugarhouse.queries import seasons_on_record


@require_safe
def review(request: Request) -> HttpResponse:
    asked = request.GET.get("season", "")
    this_season = season_of(request.today)
    season = int(asked) if asked.isdecimal() and len(asked) == 4 else this_season
    unit_system = request.operation.unit_system
    syrup_brix = constants().number("sugarhouse.syrup_brix")
    # Of the one under way too, so that an empty new season can be looked at and left again.
    seasons = seasons_on_record(this_season)
    result = queries.season_yield(season, unit_system, syrup_brix)
    timeline = queries.cumulative_sap(
        season,
        seasons=seasons,
        today=request.today,
        zone=ZoneInfo(request.operation.time_zone),
        unit_system=unit_system,
    )
    context = {
        "season": season,
        "seasons": seasons,
        "review": result,
        "timeline": timeline,
        "ratio": prediction.describe(syrup_brix),
        "syrup_brix": syrup_brix,
        "syrup_figure": charts.syrup_per_tap(result),
        "sap_figure": charts.sap_per_tap(result),
        "timeline_figure": charts.sap_through_the_season(timeline),
    }
    return render(request, "season/review.html", context)

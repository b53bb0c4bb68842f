"""The start-date page and the two forms on it."""

from zoneinfo import ZoneInfo

from django.contrib import messages
from django.forms import model_to_dict
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_POST

from apps.operation.access import owner_required
from apps.operation.http import Request
from apps.operation.queries import Constants, constants
from apps.outlook import charts, queries
from apps.outlook.forms import AskForm
from apps.outlook.guidance import start_guidance
from apps.outlook.verdict import verdict
from apps.tapping import actions
from apps.tapping.forms import CrewPlanForm, SnowForm
from apps.tapping.queries import season_to_tap
from apps.weather import queries as weather
from apps.woods.queries import woodlots


@require_GET
def start_date(request: Request) -> HttpResponse:
    return _page(request)


@owner_required
@require_POST
def crew_plan(request: Request) -> HttpResponse:
    season = season_to_tap(request.today)
    form = CrewPlanForm(request.POST, season=season)
    if not form.is_valid():
        return _page(request, crew_form=form)
    actions.save_crew_plan(season=season, **form.cleaned_data)
    messages.success(request, f"The crew plan of season {season} is saved.")
    return redirect("outlook:start_date")


@require_POST
def snow(request: Request) -> HttpResponse:
    form = _snow_form(request, request.POST)
    if not form.is_valid():
        return _page(request, snow_form=form)
    actions.record_snow(depths_m=form.depths_m, seen_on=form.cleaned_data["seen_on"])
    messages.success(request, "Snow recorded; the pace follows it.")
    return redirect("outlook:start_date")


def _snow_form(request: Request, data: QueryDict | None = None) -> SnowForm:
    return SnowForm(
        data,
        initial={"seen_on": request.today},
        woodlots=woodlots(),
        today=request.today,
        unit_system=request.operation.unit_system,
    )


def _page(
    request: Request, crew_form: CrewPlanForm | None = None, snow_form: SnowForm | None = None
) -> HttpResponse:
    """The whole page, with whichever form came back marked."""
    season = season_to_tap(request.today)
    ask = AskForm(request.GET or None, season=season)
    tried = ask.cleaned_data if ask.is_valid() else {}
    in_use = constants()
    zone = ZoneInfo(request.operation.time_zone)
    page = queries.start_date(
        today=request.today,
        now=request.now,
        zone=zone,
        constants=in_use,
        asked=queries.Asked(tried.get("ready"), tried.get("start")),
    )
    guidance = start_guidance(page, constants=in_use, zone=zone, now=request.now)
    told = verdict(page, guidance)
    context = {
        "page": page,
        "guidance": guidance,
        "verdict": told,
        "paces": queries.paces(in_use),
        "cold_limit_c": in_use.number("tapping.cold_limit_c"),
        "chill_limit_c": in_use.number("tapping.wind_chill_limit_c"),
        "usual": _usual(page, in_use, zone),
        "figure": charts.first_runs(told),
        "ask": ask,
        "crew_form": crew_form or CrewPlanForm(initial=model_to_dict(page.crew), season=season),
        "snow_form": snow_form or _snow_form(request),
    }
    return render(request, "outlook/start_date.html", context)


def _usual(page: queries.StartDate, in_use: Constants, zone: ZoneInfo) -> weather.Usual | None:
    """What past winters brought in the first woodlot to tap, where no forecast is fit to show."""
    lots = [lot.progress.woodlot for lot in page.lots if lot.progress.taps_left]
    if page.forecast.until or not lots:
        return None
    return weather.usual(lots[:1], in_use, zone, page.today).get(lots[0].pk)

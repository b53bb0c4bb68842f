"""Leaks, lines and gauges; the phone's page to log a check is in the field app."""

from collections.abc import Callable
from functools import partial
from uuid import uuid4

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from apps.domain.tapping import season_of
from apps.leaks import actions, queries
from apps.leaks.charts import gauge_trend
from apps.leaks.forms import ClearingForm, GaugeForm
from apps.leaks.models import Clearing, GaugeReading, Obstruction
from apps.leaks.walk import ranking_terms
from apps.operation.http import Request
from apps.operation.queries import constants

PER_PAGE = 50
ANOTHER_READING = (
    "This gauge has another reading at that very time: see below. If that one is wrong, take it "
    "back first."
)


@require_GET
def open_leaks(request: Request) -> HttpResponse:
    woodlot = queries.woodlot_chosen(request.GET.get("woodlot"))
    pages = Paginator(queries.with_what_was_seen(queries.open_leaks(woodlot)), PER_PAGE)
    context = {
        "page": pages.get_page(request.GET.get("page")),
        "woodlot": woodlot,
        "woodlots": queries.woodlots(),
    }
    return render(request, "leaks/open_leaks.html", context)


@require_GET
def lines(request: Request) -> HttpResponse:
    woodlot = queries.woodlot_chosen(request.GET.get("woodlot"))
    in_use = constants()
    season = season_of(request.today)
    # Ranked whole and then cut into pages: the rank of a line depends on all the others.
    standings = queries.ranked_lines(
        season=season, now=request.now, constants=in_use, woodlot=woodlot
    )
    context = {
        "page": Paginator(standings, PER_PAGE).get_page(request.GET.get("page")),
        "terms": ranking_terms(in_use),
        "season": season,
        "woodlot": woodlot,
        "woodlots": queries.woodlots(),
        "met": queries.same_day_differences(request.today),
    }
    return render(request, "leaks/lines.html", context)


@require_GET
def checks(request: Request) -> HttpResponse:
    woodlot = queries.woodlot_chosen(request.GET.get("woodlot"))
    season = season_of(request.today)
    context = {
        "page": Paginator(queries.checks(woodlot), PER_PAGE).get_page(request.GET.get("page")),
        "parts": queries.parts_used(season, woodlot),
        "season": season,
        "woodlot": woodlot,
        "woodlots": queries.woodlots(),
    }
    return render(request, "leaks/checks.html", context)


@require_GET
def obstructions(request: Request) -> HttpResponse:
    woodlot = queries.woodlot_chosen(request.GET.get("woodlot"))
    cleared = Paginator(queries.cleared_obstructions(woodlot), PER_PAGE)
    context = {
        # Not cut into pages: what lies across a line today must not hide on a second one. Each
        # comes with the identifier of its clearing, so that a button touched twice is one word.
        "across": [(row, uuid4()) for row in queries.open_obstructions(woodlot)],
        "page": cleared.get_page(request.GET.get("page")),
        "woodlot": woodlot,
        "woodlots": queries.woodlots(),
    }
    return render(request, "leaks/obstructions.html", context)


@require_POST
def clear_obstruction(request: Request, pk: int) -> HttpResponse:
    row = get_object_or_404(Obstruction.objects.select_related("line"), pk=pk)
    form = ClearingForm(request.POST)
    if form.is_valid():
        try:
            actions.clear_obstruction(
                uuid=form.cleaned_data["uuid"],
                obstruction=row,
                cleared_at=request.now,
                received_at=request.now,
                crew=request.user,
            )
        except actions.SentBefore as refusal:
            messages.error(request, str(refusal))
        else:
            messages.success(request, f"Line {row.line.label}: written down as gone.")
    return redirect("leaks:obstructions")


@require_POST
def void_obstruction(request: Request, pk: int) -> HttpResponse:
    row = get_object_or_404(Obstruction, pk=pk)
    take_back = partial(actions.void_obstruction, obstruction=row)
    return _taken_back(request, take_back, "Taken back: it is listed no more, and stays on record.")


@require_POST
def void_clearing(request: Request, pk: int) -> HttpResponse:
    row = get_object_or_404(Clearing, pk=pk)
    take_back = partial(actions.void_clearing, clearing=row)
    return _taken_back(request, take_back, "Taken back: it lies there still.")


def _taken_back(request: Request, take_back: Callable[..., None], done: str) -> HttpResponse:
    try:
        take_back(by=request.user, at=request.now)
    except actions.NotYours as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, done)
    return redirect("leaks:obstructions")


@require_http_methods(["GET", "POST"])
def gauges(request: Request) -> HttpResponse:
    form = GaugeForm(
        request.POST or None, unit_system=request.operation.unit_system, now=request.now
    )
    if form.is_valid():
        try:
            _record(request, form)
        except actions.AnotherReading:
            form.add_error("vacuum", ANOTHER_READING)
        except actions.SentBefore as refusal:
            form.add_error(None, f"{refusal} Open this page anew to write down another.")
        else:
            messages.success(request, "Reading saved.")
            return redirect("leaks:gauges")
    return render(request, "leaks/gauges.html", {"form": form, **_gauge_list(request)})


@require_POST
def void_gauge(request: Request, pk: int) -> HttpResponse:
    reading = get_object_or_404(GaugeReading, pk=pk)
    try:
        actions.void_gauge_reading(reading=reading, by=request.user, at=request.now)
    except actions.NotYours as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, "Taken back. Write the right one down; both stay in the list.")
    return redirect("leaks:gauges")


def _gauge_list(request: Request) -> dict[str, object]:
    woodlot = queries.woodlot_chosen(request.GET.get("woodlot"))
    pages = Paginator(queries.gauge_readings(woodlot), PER_PAGE)
    page = pages.get_page(request.GET.get("page"))
    in_use = constants()
    # Only this page of them is judged and drawn: picture and table show the same readings.
    rows = queries.gauge_rows(page.object_list, in_use)
    return {
        "page": page,
        "rows": rows,
        "figure": gauge_trend(rows, request.operation.unit_system),
        "terms": ranking_terms(in_use),
        "woodlot": woodlot,
        "woodlots": queries.woodlots(),
    }


def _record(request: Request, form: GaugeForm) -> None:
    answers = form.cleaned_data
    actions.record_gauge_reading(
        uuid=answers["uuid"],
        pump_house=answers["pump_house"],
        read_at=answers["read_at"],
        vacuum_kpa=answers["vacuum"],
        note=answers["note"],
        crew=request.user,
    )

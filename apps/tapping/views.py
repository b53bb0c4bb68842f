"""Tapping pages: how far we are, one line's tally, taps to pull, first runs on record."""

from uuid import uuid4

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST
from django.views.decorators.vary import vary_on_headers

from apps.operation.access import owner_required
from apps.operation.http import Request
from apps.tapping import actions, queries
from apps.tapping.forms import FindLineForm, FirstRunForm, TallyForm
from apps.tapping.models import FirstRun, TapPull, TapTally
from apps.woods.models import Line

PAGE_ROWS = 50


@require_GET
@vary_on_headers("HX-Request")
def progress(request: Request) -> HttpResponse:
    season = queries.season_to_tap(request.today)
    form = FindLineForm(request.GET)
    # A search that makes no sense shows all lines: nobody is sent an error for a stale address.
    wanted = form.cleaned_data if form.is_valid() else {}
    lines = queries.line_progress(season)
    found = queries.find_lines(
        lines,
        woodlot=wanted.get("woodlot"),
        label=wanted.get("line", ""),
        everything=wanted.get("everything", False),
    )
    page = Paginator(found, PAGE_ROWS).get_page(request.GET.get("page"))
    context = {"season": season, "form": form, "page": page}
    if request.htmx:
        return render(request, "tapping/_lines.html", context)
    # Only for the whole page: while somebody types a label the sums above stand still.
    context["woodlots"] = queries.progress(season, lines)
    context["pulling"] = queries.pulled_so_far(queries.season_to_pull(request.today))
    return render(request, "tapping/progress.html", context)


@require_http_methods(["GET", "POST"])
@vary_on_headers("HX-Request")
def tally(request: Request, pk: int) -> HttpResponse:
    line = get_object_or_404(Line.objects.select_related("woodlot"), pk=pk)
    initial = {"uuid": uuid4(), "tallied_on": request.today}
    form = TallyForm(request.POST or None, initial=initial, today=request.today)
    if request.method == "POST" and form.is_valid():
        saved = actions.record_tally(
            line=line, crew=request.user, now=request.now, **form.cleaned_data
        )
        messages.success(request, f"Counted on line {line.label}: {saved.taps_set} taps.")
        return redirect("tapping:tally", line.pk)
    season = queries.season_to_tap(request.today)
    # Those taken back among them, so that a missing tap can be explained.
    rows = queries.tallies(season).filter(line=line)
    context = {
        "form": form,
        "row": queries.one_line_progress(season, line),
        "season": season,
        "page": Paginator(rows, PAGE_ROWS).get_page(request.GET.get("page")),
        "quick": (1, 5, 10, 25),
        "pulls": queries.pulls(queries.season_to_pull(request.today)).filter(line=line),
    }
    # A press answers with the tally alone: on a slow signal the page need not come again.
    fragment = "tapping/_tally.html" if request.htmx else "tapping/tally.html"
    return render(request, fragment, context)


@require_POST
def void(request: Request, pk: int) -> HttpResponse:
    row = get_object_or_404(TapTally.objects.select_related("crew"), pk=pk)
    try:
        actions.void_tally(tally=row, by=request.user, now=request.now)
    except actions.TallyRefused as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, f"Taken back: {row.taps_set} taps. It stays in the history.")
    return redirect("tapping:tally", row.line_id)


@require_GET
def pulls(request: Request) -> HttpResponse:
    season = queries.season_to_pull(request.today)
    rows = queries.pull_progress(season)
    left = [row for row in rows if row.taps_left]
    context = {
        "season": season,
        "woodlots": queries.pulls_by_woodlot(rows),
        "left": sum(row.taps_left for row in left),
        "page": Paginator(left, PAGE_ROWS).get_page(request.GET.get("page")),
    }
    return render(request, "tapping/pulls.html", context)


@require_POST
def void_pull(request: Request, pk: int) -> HttpResponse:
    row = get_object_or_404(TapPull.objects.select_related("crew"), pk=pk)
    try:
        actions.void_pull(pull=row, by=request.user, at=request.now)
    except actions.TallyRefused as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, f"Taken back: {row.taps_pulled} pulled taps.")
    return redirect("tapping:tally", row.line_id)


@require_http_methods(["GET", "POST"])
def first_runs(request: Request) -> HttpResponse:
    form = FirstRunForm(request.POST or None, today=request.today)
    if request.method == "POST" and form.is_valid():
        typed = form.cleaned_data
        try:
            row = actions.record_first_run(date=typed["ran_on"], woodlot=typed["woodlot"])
        except actions.FirstRunRefused as refusal:
            form.add_error("ran_on", str(refusal))
        else:
            messages.success(request, f"On record for season {row.season}.")
            return redirect("tapping:first_runs")
    page = Paginator(queries.first_runs(), PAGE_ROWS).get_page(request.GET.get("page"))
    return render(request, "tapping/first_runs.html", {"form": form, "page": page})


@owner_required
@require_POST
def remove_first_run(request: Request, pk: int) -> HttpResponse:
    actions.remove_first_run(first_run=get_object_or_404(FirstRun, pk=pk))
    messages.success(request, "The date is off the record.")
    return redirect("tapping:first_runs")

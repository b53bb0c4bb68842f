"""Records in and out of the house as plain files."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.text import slugify
from django.views.decorators.http import require_GET, require_http_methods

from apps.domain.tapping import season_of
from apps.operation.access import owner_required
from apps.operation.http import Request
from apps.records import actions, queries
from apps.records.forms import SheetForm
from apps.records.payload import NotASheet
from apps.records.plan import Effect, Plan
from apps.woods import limits
from apps.woods.models import Woodlot

# Up to here the text comes back in the page, to be mended there; longer ones are kept aside.
TRAVELS_LETTERS = 200_000
CONTENT_TYPES = {
    "csv": "text/csv; charset=utf-8",
    "geojson": "application/geo+json",
    "gpx": "application/gpx+xml",
}


@owner_required
@require_http_methods(["GET", "POST"])
def import_lines(request: Request) -> HttpResponse:
    """Look first, write second: one page, two buttons."""
    form = SheetForm(request.POST or None, request.FILES or None, woodlots=queries.woodlots())
    if request.method != "POST" or not form.is_valid():
        return _import_page(request, form)
    # What is new at hand goes before what was kept from an earlier look.
    text = form.rows_as_text or queries.handed_in(form.cleaned_data["handed"] or 0, request.user)
    if not text:
        form.add_error("sheet", "The file handed in before is not kept any more. Choose it again.")
        return _import_page(request, form)
    try:
        plan = _look_or_write(request, form, text)
    except NotASheet as refusal:
        # What was handed in comes back: a browser never fills a file field again.
        form = SheetForm(_carried(request, form, text), woodlots=queries.woodlots())
        form.add_error(refusal.field, str(refusal))
        return _import_page(request, form)
    if plan is None:
        return redirect("woods:woodlots")
    # From here the text travels, with the digest of what this preview shows.
    initial = _carried(request, form, text) | {"digest": plan.digest}
    shown = SheetForm(initial=initial, woodlots=queries.woodlots())
    return _import_page(request, shown, plan)


def _carried(request: Request, form: SheetForm, text: str) -> dict[str, Any]:
    """What the page that comes back must hold for the same file to be written from it."""
    if len(text) <= TRAVELS_LETTERS:
        return form.track_fields | {"text": text}
    if not form.rows_as_text:
        return form.track_fields | {"handed": form.cleaned_data["handed"]}
    kept = actions.keep_handed_in(text=text, by=request.user, at=request.now)
    return form.track_fields | {"handed": kept.pk}


def _look_or_write(request: Request, form: SheetForm, text: str) -> Plan | None:
    """The plan to show, or None once it is written."""
    season = season_of(request.today)
    # Anything but the second button only looks.
    if request.POST.get("step") != "write":
        return queries.plan_lines(text, season, form.tracks)
    digest = form.cleaned_data["digest"]
    try:
        plan = actions.import_lines(text=text, season=season, digest=digest, tracks=form.tracks)
    except actions.ImportRefused as refusal:
        messages.error(request, str(refusal))
        return refusal.plan
    counts = ", ".join(f"{plan.count(effect)} {effect}" for effect in Effect)
    messages.success(request, f"The lines are in: {counts}.")
    return None


def _import_page(request: Request, form: SheetForm, plan: Plan | None = None) -> HttpResponse:
    unit_system = request.operation.unit_system
    season = season_of(request.today)
    context: dict[str, object] = {
        "form": form,
        "season": season,
        "headings": queries.headings(season, unit_system),
        "woodlots": queries.woodlots(),
        "kept": form["handed"].value(),
    }
    if plan is not None:
        context |= queries.preview(plan, unit_system)
    return render(request, "records/import_lines.html", context)


@require_GET
def export_lines(request: Request) -> HttpResponse:
    """All lines, or one woodlot's, in the form asked for."""
    asked = request.GET.get("season", "") or str(season_of(request.today))
    if not asked.isdecimal() or not limits.SEASON[0] <= int(asked) <= limits.SEASON[1]:
        raise Http404(f"There is no season {asked}.")
    form, lot = _asked_for(request)
    text = queries.export_lines(int(asked), request.operation.unit_system, form, lot)
    # The byte-order mark tells a spreadsheet that this is UTF-8; the others must not have one.
    encoded = text.encode("utf-8-sig" if form == "csv" else "utf-8")
    response = HttpResponse(encoded, content_type=CONTENT_TYPES[form])
    # A name of letters that no file name takes still leaves a file with a name.
    where = f"{slugify(lot.name) or lot.pk}-" if lot else ""
    response["Content-Disposition"] = f'attachment; filename="{where}lines-{asked}.{form}"'
    return response


def _asked_for(request: Request) -> tuple[str, Woodlot | None]:
    form = request.GET.get("form", "csv")
    if form not in queries.FORMS:
        raise Http404(f"Lines are not exported as {form}.")
    number = request.GET.get("woodlot", "")
    if not number and form != "gpx":
        return form, None
    # A label names a track, and names a line only within its woodlot.
    if not number.isdecimal():
        raise Http404("Tracks are exported woodlot by woodlot: name one.")
    return form, get_object_or_404(Woodlot, pk=int(number))

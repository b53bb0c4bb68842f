"""Records in and out of the house as plain sheets."""

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from apps.domain.tapping import season_of
from apps.operation.access import owner_required
from apps.operation.http import Request
from apps.records import actions, queries
from apps.records.forms import SheetForm
from apps.records.payload import NotASheet
from apps.records.plan import Effect, Plan
from apps.woods import limits


@owner_required
@require_http_methods(["GET", "POST"])
def import_lines(request: Request) -> HttpResponse:
    """Look first, write second: one page, two buttons."""
    form = SheetForm(request.POST or None, request.FILES or None)
    if request.method != "POST" or not form.is_valid():
        return _import_page(request, form)
    try:
        plan = _look_or_write(request, form)
    except NotASheet as refusal:
        # The rows come back as text: a browser never fills a file field again.
        form = SheetForm({"text": form.rows_as_text})
        form.add_error("text", str(refusal))
        return _import_page(request, form)
    if plan is None:
        return redirect("woods:woodlots")
    # From here the text travels, with the digest of what this preview shows.
    shown = SheetForm(initial={"text": form.rows_as_text, "digest": plan.digest})
    return _import_page(request, shown, plan)


def _look_or_write(request: Request, form: SheetForm) -> Plan | None:
    """The plan to show, or None once it is written."""
    text, season = form.rows_as_text, season_of(request.today)
    # Anything but the second button only looks.
    if request.POST.get("step") != "write":
        return queries.plan_lines(text, season)
    try:
        plan = actions.import_lines(text=text, season=season, digest=form.cleaned_data["digest"])
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
    }
    if plan is not None:
        context |= queries.preview(plan, unit_system)
    return render(request, "records/import_lines.html", context)


@require_GET
def export_lines(request: Request) -> HttpResponse:
    asked = request.GET.get("season", "") or str(season_of(request.today))
    if not asked.isdecimal() or not limits.SEASON[0] <= int(asked) <= limits.SEASON[1]:
        raise Http404(f"There is no season {asked}.")
    text = queries.export_lines(int(asked), request.operation.unit_system)
    # The byte-order mark tells a spreadsheet that this is UTF-8.
    response = HttpResponse(text.encode("utf-8-sig"), content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="lines-{asked}.csv"'
    return response

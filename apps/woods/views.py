"""Pages of the woods: everyone looks, owners change."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.forms import model_to_dict
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST
from django.views.decorators.vary import vary_on_headers

from apps.domain.tapping import season_of
from apps.operation.access import owner_required
from apps.operation.forms import UnitForm
from apps.operation.http import Request
from apps.operation.queries import constants
from apps.woods import actions, forms, limits, queries
from apps.woods.models import Landowner, Lease, Line, Note, PumpHouse, Woodlot
from apps.woods.tree import TapsTotal
from apps.woods.tree_picture import PIPE_WIDTHS, tree_pictures

PAGE_ROWS = 50


def _season(request: Request) -> int:
    """The season asked for in the address, else the one today falls in."""
    # In the address and not in the session: a page of next year can be kept and sent on.
    asked = request.GET.get("season", "")
    if not asked:
        return season_of(request.today)
    if not asked.isdecimal() or not limits.SEASON[0] <= int(asked) <= limits.SEASON[1]:
        raise Http404(f"There is no season {asked}.")
    return int(asked)


def _saved(request: Request, form: UnitForm, save: Callable[..., object], done: str) -> bool:
    """Save a good form; a refusal lands on its field, beside what was typed."""
    if request.method != "POST" or not form.is_valid():
        return False
    try:
        # The fields of each form carry the names its action takes.
        save(**form.cleaned_data)
    except actions.WoodsRefused as refusal:
        form.add_error(refusal.field, str(refusal))
        return False
    messages.success(request, done)
    return True


def _form_page(
    request: Request, form: UnitForm, title: str, back: str, remove: str = ""
) -> HttpResponse:
    context = {"form": form, "title": title, "back": back, "remove": remove}
    return render(request, "woods/form.html", context)


@require_GET
def woodlots(request: Request) -> HttpResponse:
    season = _season(request)
    # Of all woodlots and not of this page of them: the foot of the table adds up every one.
    totals = queries.planned_taps_by_woodlot(season)
    page = Paginator(queries.woodlots(), PAGE_ROWS).get_page(request.GET.get("page"))
    context = {
        "page": page,
        "rows": [(lot, totals[lot.pk]) for lot in page],
        "season": season,
        "total": sum(totals.values(), TapsTotal()),
    }
    return render(request, "woods/woodlots.html", context)


@require_GET
def woodlot(request: Request, pk: int) -> HttpResponse:
    lot = get_object_or_404(queries.woodlots(), pk=pk)
    season = _season(request)
    context = queries.woodlot_sheet(lot, season) | {"woodlot": lot, "season": season}
    return render(request, "woods/woodlot.html", context)


@owner_required
@require_http_methods(["GET", "POST"])
def woodlot_add(request: Request) -> HttpResponse:
    form = forms.WoodlotForm(request.POST or None, unit_system=request.operation.unit_system)
    if _saved(request, form, actions.save_woodlot, "The woodlot is added."):
        return redirect("woods:woodlots")
    return _form_page(request, form, "Add a woodlot", reverse("woods:woodlots"))


@owner_required
@require_http_methods(["GET", "POST"])
def woodlot_edit(request: Request, pk: int) -> HttpResponse:
    lot = get_object_or_404(Woodlot, pk=pk)
    form = forms.WoodlotForm(
        request.POST or None,
        initial=model_to_dict(lot),
        unit_system=request.operation.unit_system,
    )

    def save(**fields: Any) -> object:
        return actions.save_woodlot(woodlot=lot, **fields)

    if _saved(request, form, save, "The woodlot is changed."):
        return redirect("woods:woodlot", pk)
    back = reverse("woods:woodlot", args=[pk])
    remove = reverse("woods:woodlot_remove", args=[pk])
    return _form_page(request, form, "Change the woodlot", back, remove)


@require_GET
@vary_on_headers("HX-Request")
def lines(request: Request, pk: int) -> HttpResponse:
    lot = get_object_or_404(Woodlot, pk=pk)
    season = _season(request)
    sought = request.GET.get("q", "").strip()
    found = queries.line_list(lot, season, sought)
    page = Paginator(found.rows, PAGE_ROWS).get_page(request.GET.get("page"))
    context = {
        "woodlot": lot,
        "season": season,
        "earlier": season - 1,
        "later": season + 1,
        "sought": sought,
        "found": found,
        "page": page,
        "most_taps": int(constants().number("woods.taps_per_lateral")),
    }
    queries.with_notes(page)
    # One address for both: without scripts the same search answers with the whole page.
    template = "woods/_lines.html" if request.htmx else "woods/lines.html"
    return render(request, template, context)


@require_GET
def tree(request: Request, pk: int) -> HttpResponse:
    lot = get_object_or_404(Woodlot, pk=pk)
    season = _season(request)
    rows = queries.line_tree(lot, season)
    context = {
        "woodlot": lot,
        "season": season,
        "rows": rows,
        "houses": tree_pictures(rows),
        "kinds": [(kind.value, kind.label, PIPE_WIDTHS[kind.value]) for kind in Line.Kind],
        "mapped": sum(row.line.geometry is not None for row in rows),
    }
    return render(request, "woods/tree.html", context)


@require_GET
def notes(request: Request) -> HttpResponse:
    lot = queries.woodlot_chosen(request.GET.get("woodlot"))
    page = Paginator(queries.notes(lot), PAGE_ROWS).get_page(request.GET.get("page"))
    context = {"page": page, "woodlot": lot, "woodlots": queries.woodlots()}
    return render(request, "woods/notes.html", context)


@require_POST
def note_void(request: Request, pk: int) -> HttpResponse:
    note = get_object_or_404(Note, pk=pk)
    try:
        actions.void_note(note=note, by=request.user, at=request.now)
    except actions.NotYours as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, "The note is taken back. It stays on record.")
    return redirect("woods:notes")


@require_GET
def paper(request: Request, pk: int) -> HttpResponse:
    lot = get_object_or_404(Woodlot, pk=pk)
    season = _season(request)
    context = {"woodlot": lot, "season": season, "rows": queries.line_tree(lot, season)}
    return render(request, "woods/paper.html", context)


@owner_required
@require_http_methods(["GET", "POST"])
def line_add(request: Request, pk: int) -> HttpResponse:
    lot = get_object_or_404(Woodlot, pk=pk)
    season = _season(request)
    form = forms.LineForm(
        request.POST or None,
        woodlot=lot,
        season=season,
        unit_system=request.operation.unit_system,
    )

    def save(**fields: Any) -> object:
        return actions.save_line(woodlot=lot, season=season, **fields)

    # Back to the season it came from: who plans next year wants to go on planning next year.
    back = f"{reverse('woods:lines', args=[pk])}?season={season}"
    if _saved(request, form, save, "The line is added."):
        return redirect(back)
    return _form_page(request, form, f"Add a line in {lot}", back)


@owner_required
@require_http_methods(["GET", "POST"])
def line_edit(request: Request, pk: int) -> HttpResponse:
    season = _season(request)
    line = get_object_or_404(Line.objects.select_related("woodlot"), pk=pk)
    form = forms.LineForm(
        request.POST or None,
        initial=model_to_dict(line) | {"planned_taps": queries.planned_taps(line, season)},
        woodlot=line.woodlot,
        season=season,
        line=line,
        unit_system=request.operation.unit_system,
    )

    def save(**fields: Any) -> object:
        return actions.save_line(line=line, woodlot=line.woodlot, season=season, **fields)

    title = f"Change line {line.label} in {line.woodlot}"
    back = f"{reverse('woods:lines', args=[line.woodlot_id])}?season={season}"
    if _saved(request, form, save, "The line is changed."):
        return redirect(back)
    return _form_page(request, form, title, back, reverse("woods:line_remove", args=[pk]))


@owner_required
@require_POST
def carry_taps(request: Request, pk: int) -> HttpResponse:
    lot = get_object_or_404(Woodlot, pk=pk)
    season = _season(request)
    carried = actions.plan_as_season_before(woodlot=lot, season=season)
    messages.success(request, f"Carried {carried} counts from {season - 1} to {season}.")
    return redirect(f"{reverse('woods:lines', args=[pk])}?season={season}")


@owner_required
@require_http_methods(["GET", "POST"])
def pump_house_add(request: Request, pk: int) -> HttpResponse:
    lot = get_object_or_404(Woodlot, pk=pk)
    form = forms.PumpHouseForm(request.POST or None, unit_system=request.operation.unit_system)

    def save(**fields: Any) -> object:
        return actions.save_pump_house(woodlot=lot, **fields)

    if _saved(request, form, save, "The pump house is added."):
        return redirect("woods:woodlot", pk)
    back = reverse("woods:woodlot", args=[pk])
    return _form_page(request, form, f"Add a pump house in {lot}", back)


@owner_required
@require_http_methods(["GET", "POST"])
def pump_house_edit(request: Request, pk: int) -> HttpResponse:
    house = get_object_or_404(PumpHouse.objects.select_related("woodlot"), pk=pk)
    form = forms.PumpHouseForm(
        request.POST or None,
        initial=model_to_dict(house),
        unit_system=request.operation.unit_system,
    )

    def save(**fields: Any) -> object:
        return actions.save_pump_house(pump_house=house, woodlot=house.woodlot, **fields)

    if _saved(request, form, save, "The pump house is changed."):
        return redirect("woods:woodlot", house.woodlot_id)
    back = reverse("woods:woodlot", args=[house.woodlot_id])
    remove = reverse("woods:pump_house_remove", args=[pk])
    return _form_page(request, form, f"Change {house} in {house.woodlot}", back, remove)


@owner_required
@require_http_methods(["GET", "POST"])
def lease_add(request: Request, pk: int) -> HttpResponse:
    lot = get_object_or_404(Woodlot, pk=pk)
    form = forms.LeaseForm(
        request.POST or None,
        initial={"landowner": lot.landowner_id},
        unit_system=request.operation.unit_system,
    )

    def save(**fields: Any) -> object:
        return actions.save_lease(woodlot=lot, **fields)

    if _saved(request, form, save, "The lease is added."):
        return redirect("woods:woodlot", pk)
    return _form_page(request, form, f"Add a lease of {lot}", reverse("woods:woodlot", args=[pk]))


@owner_required
@require_http_methods(["GET", "POST"])
def lease_edit(request: Request, pk: int) -> HttpResponse:
    lease = get_object_or_404(Lease.objects.select_related("woodlot"), pk=pk)
    form = forms.LeaseForm(
        request.POST or None,
        initial=forms.lease_as_typed(lease),
        unit_system=request.operation.unit_system,
    )

    def save(**fields: Any) -> object:
        return actions.save_lease(lease=lease, woodlot=lease.woodlot, **fields)

    back = reverse("woods:woodlot", args=[lease.woodlot_id])
    if _saved(request, form, save, "The lease is changed."):
        return redirect(back)
    remove = reverse("woods:lease_remove", args=[pk])
    return _form_page(request, form, f"Change the lease of {lease.woodlot}", back, remove)


@require_GET
def landowners(request: Request) -> HttpResponse:
    page = Paginator(queries.landowners(), PAGE_ROWS).get_page(request.GET.get("page"))
    return render(request, "woods/landowners.html", {"page": page})


@owner_required
@require_http_methods(["GET", "POST"])
def landowner_add(request: Request) -> HttpResponse:
    form = forms.LandownerForm(request.POST or None, unit_system=request.operation.unit_system)
    if _saved(request, form, actions.save_landowner, "The landowner is added."):
        return redirect("woods:landowners")
    return _form_page(request, form, "Add a landowner", reverse("woods:landowners"))


@owner_required
@require_http_methods(["GET", "POST"])
def landowner_edit(request: Request, pk: int) -> HttpResponse:
    owner = get_object_or_404(Landowner, pk=pk)
    form = forms.LandownerForm(
        request.POST or None,
        initial=model_to_dict(owner),
        unit_system=request.operation.unit_system,
    )

    def save(**fields: Any) -> object:
        return actions.save_landowner(landowner=owner, **fields)

    if _saved(request, form, save, "The landowner is changed."):
        return redirect("woods:landowners")
    remove = reverse("woods:landowner_remove", args=[pk])
    return _form_page(request, form, f"Change {owner}", reverse("woods:landowners"), remove)

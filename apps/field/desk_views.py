"""The desk's part of the woods: tags and paper to print, sheets to type in."""

from uuid import UUID, uuid4

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods

from apps.domain.tapping import season_of
from apps.field import paper, tags
from apps.field.actions.paper import SheetRefused, record_sheet
from apps.field.address import base_address, worries
from apps.field.desk_forms import SheetForm
from apps.leaks.walk import ranking_terms
from apps.operation.display import unit_for
from apps.operation.http import Request
from apps.operation.queries import constants
from apps.woods.models import Woodlot


@require_GET
def sheets(request: Request) -> HttpResponse:
    return render(request, "field/sheets.html", {"woodlots": paper.woodlots_with_lines()})


@require_GET
def tags_page(request: Request, pk: int) -> HttpResponse:
    lot = get_object_or_404(Woodlot, pk=pk)
    base, only = base_address(request), request.GET.get("only", "")
    found = tags.tags_of(lot, base, only)
    context = {
        "woodlot": lot,
        "base": base,
        "worries": worries(base),
        "only": only,
        "tags": found,
        "pages": tags.in_pages(found),
    }
    return render(request, "field/tags.html", context)


def _sheet(request: Request, pk: int) -> paper.Sheet:
    return paper.sheet_of(
        get_object_or_404(Woodlot, pk=pk),
        order=request.GET.get("order"),
        season=season_of(request.today),
        now=request.now,
        constants=constants(),
    )


def _words(request: Request) -> dict[str, object]:
    return {
        "vacuum_unit": unit_for("vacuum", request.operation.unit_system).label,
        "states": paper.state_keys(),
        "causes": paper.cause_numbers(),
        "orders": paper.ORDERS,
        "usual_kpa": ranking_terms(constants()).target_kpa,
    }


@require_GET
def paper_form(request: Request, pk: int) -> HttpResponse:
    return render(request, "field/paper.html", _words(request) | {"sheet": _sheet(request, pk)})


# Kept out of every cache: a page brought back by "back" would carry used identifiers.
@never_cache
@require_http_methods(["GET", "POST"])
def paper_entry(request: Request, pk: int) -> HttpResponse:
    sheet = _sheet(request, pk)
    form = SheetForm(
        request.POST or None,
        standings=sheet.rows,
        unit_system=request.operation.unit_system,
        now=request.now,
        initial={"sheet": uuid4(), "walked_on": request.today, "crew": request.user.pk},
    )
    if form.is_valid():
        try:
            return _keep(request, pk, form)
        except SheetRefused as refusal:
            form.refuse(refusal.line, refusal.reason)
    return render(
        request, "field/paper_entry.html", _words(request) | {"sheet": sheet, "form": form}
    )


def _keep(request: Request, pk: int, form: SheetForm) -> HttpResponse:
    head = form.head.cleaned_data
    new = record_sheet(
        rows=form.sheet_rows(),
        observed_at=head["observed_at"],
        received_at=request.now,
        crew=head["crew"],
    )
    words = f"{new} check{'' if new == 1 else 's'} recorded." if new else "Recorded before: once."
    messages.success(request, words)
    return redirect(reverse("field:paper_typed", args=[pk, head["sheet"]]))


@never_cache
@require_GET
def paper_typed(request: Request, pk: int, sheet: UUID) -> HttpResponse:
    lot = get_object_or_404(Woodlot, pk=pk)
    context = {"woodlot": lot, "checks": paper.typed_checks(lot, sheet)}
    return render(request, "field/paper_typed.html", context)

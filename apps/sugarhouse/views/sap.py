from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from apps.operation import display
from apps.operation.http import Request
from apps.sugarhouse import actions, queries
from apps.sugarhouse.forms import SAP_FORMS, SapForm, SapOutForm, SugarForm
from apps.sugarhouse.models import SapIn, SapOut
from apps.sugarhouse.views.common import page_of, season_asked


@require_http_methods(["GET", "HEAD", "POST"])
def sap(request: Request) -> HttpResponse:
    form = _sap_form(request)
    if request.method == "POST" and form.is_valid():
        row = _record(form, request)
        shown = display.shown(row.volume_litres, "volume", request.operation.unit_system)
        messages.success(request, f"{shown} of sap {row.origin} recorded.")
        # The next entry is mostly of the same kind: tank after tank, meter after meter.
        return redirect(f"{reverse('sugarhouse:sap')}?method={form.method}")
    season = season_asked(request)
    page = page_of(request, queries.sap_received(season))
    context = {
        "form": form,
        "methods": SapIn.Method.choices,
        "method": form.method,
        "season": season,
        "seasons": queries.seasons_on_record(season),
        "stock": queries.stock(season, request.now),
        "readings": queries.last_readings(season),
        "page": page,
    }
    return render(request, "sugarhouse/sap.html", context)


def _sap_form(request: Request) -> SapForm:
    """The form of the method in the address, carried on from an earlier reading when named."""
    method = request.GET.get("method", "")
    earlier = None
    # Carried on by a link, so that no figure has to be copied from the list by hand.
    if (after := request.GET.get("after", "")).isdecimal():
        earlier = get_object_or_404(SapIn, pk=after)
        # Readings of one instrument mean nothing to another.
        method = earlier.method
    return SAP_FORMS.get(method, SAP_FORMS["load"])(
        request.POST if request.method == "POST" else None,
        unit_system=request.operation.unit_system,
        now=request.now,
        initial=_carried_on(earlier) if earlier else {},
    )


def _carried_on(earlier: SapIn) -> dict[str, Any]:
    return {
        "woodlot": earlier.woodlot_id,
        "seller": earlier.seller,
        "tank": earlier.from_tank_id,
        "start": earlier.end_reading,
        "per_count": earlier.litres_per_count,
        "share": earlier.share,
        "share_rule": earlier.share_rule,
    }


def _record(form: SapForm, request: Request) -> SapIn:
    typed = form.cleaned_data
    return actions.record_sap_in(
        uuid=typed["uuid"],
        season=form.season,
        at=typed["at"],
        measured=form.measured(),
        brix=typed["brix"],
        woodlot=typed["woodlot"],
        seller=typed["seller"],
        crew=request.user,
    )


@require_http_methods(["GET", "HEAD", "POST"])
def sap_receipt(request: Request, pk: int) -> HttpResponse:
    row = get_object_or_404(queries.receipts(), pk=pk)
    form = SapOutForm(
        request.POST if request.method == "POST" else None,
        unit_system=request.operation.unit_system,
        now=request.now,
        there_litres=row.remaining_litres,
    )
    if request.method == "POST" and form.is_valid() and _let_go(form, row):
        messages.success(request, "Recorded: that sap has left this load.")
        return redirect("sugarhouse:sap_receipt", pk=pk)
    sugar_form = SugarForm(unit_system=request.operation.unit_system)
    context = {"row": row, "form": form, "sugar_form": sugar_form}
    return render(request, "sugarhouse/sap_receipt.html", context)


def _let_go(form: SapOutForm, row: SapIn) -> bool:
    typed = form.cleaned_data
    try:
        actions.record_sap_out(
            uuid=typed["uuid"],
            sap_in=row,
            kind=typed["kind"],
            at=typed["at"],
            volume_litres=typed["volume"],
            reason=typed["reason"],
        )
    except actions.NotEnoughSap as error:
        there = form.shown(error.there_litres, "volume")
        form.add_error("volume", f"This load holds {there} of sap, no more.")
        return False
    return True


@require_POST
def sap_sugar(request: Request, pk: int) -> HttpResponse:
    row = get_object_or_404(queries.receipts(), pk=pk)
    unit_system = request.operation.unit_system
    form = SugarForm(request.POST, unit_system=unit_system)
    if form.is_valid() and _sweeten(form, row):
        messages.success(request, "Recorded: this sap counts in every figure of sugar now.")
        return redirect("sugarhouse:sap_receipt", pk=pk)
    out_form = SapOutForm(
        unit_system=unit_system, now=request.now, there_litres=row.remaining_litres
    )
    context = {"row": row, "form": out_form, "sugar_form": form}
    return render(request, "sugarhouse/sap_receipt.html", context)


def _sweeten(form: SugarForm, row: SapIn) -> bool:
    try:
        actions.record_sugar(sap_in=row, brix=form.cleaned_data["brix"])
    except actions.SugarKnown:
        form.add_error("brix", "This sap has another reading already: look again.")
        return False
    return True


@require_POST
def undo_out(request: Request, pk: int) -> HttpResponse:
    row = get_object_or_404(SapOut, pk=pk)
    actions.undo_sap_out(out=row)
    messages.success(request, "Struck out: that sap is back in its load.")
    return redirect("sugarhouse:sap_receipt", pk=row.sap_in_id)


@require_POST
def remove_sap(request: Request, pk: int) -> HttpResponse:
    row = get_object_or_404(SapIn, pk=pk)
    try:
        actions.remove_sap_in(sap_in=row)
    except actions.SapAlreadyUsed:
        messages.error(request, "Some of this sap is boiled, sold or dumped: its record stays.")
        return redirect("sugarhouse:sap_receipt", pk=pk)
    messages.success(request, "Removed from the books.")
    return redirect("sugarhouse:sap")

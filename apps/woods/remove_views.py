"""Pages that take away what was entered by mistake: each asks first, and refuses in words."""

from collections.abc import Callable
from dataclasses import dataclass

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from apps.domain.tapping import season_of
from apps.operation.access import owner_required
from apps.operation.http import Request
from apps.woods import actions
from apps.woods.models import Landowner, Lease, Line, PumpHouse, Woodlot


@dataclass(frozen=True)
class Removal:
    """What is to go, in words, what holds it fast, and where to go on afterwards."""

    name: str
    holds: str
    keep: str
    gone: str


def _removal_page(request: Request, removal: Removal, remove: Callable[[], None]) -> HttpResponse:
    # A visit only asks: no link, and nothing that fetches links ahead, removes anything.
    if request.method != "POST":
        return render(request, "woods/remove.html", {"removal": removal})
    try:
        remove()
    except actions.StillInUse as refusal:
        messages.error(request, str(refusal))
        return redirect(removal.keep)
    messages.success(request, f"{removal.name[:1].upper()}{removal.name[1:]} is removed.")
    return redirect(removal.gone)


@owner_required
@require_http_methods(["GET", "POST"])
def line_remove(request: Request, pk: int) -> HttpResponse:
    line = get_object_or_404(Line.objects.select_related("woodlot"), pk=pk)
    season = season_of(request.today)
    removal = Removal(
        name=f"line {line.label} of {line.woodlot}",
        holds="A line with branches, checks, tallies, notes or counts of past seasons stays: its "
        "records would lose their ground.",
        keep=reverse("woods:line_edit", args=[pk]),
        gone=reverse("woods:lines", args=[line.woodlot_id]),
    )
    return _removal_page(request, removal, lambda: actions.remove_line(line=line, season=season))


@owner_required
@require_http_methods(["GET", "POST"])
def woodlot_remove(request: Request, pk: int) -> HttpResponse:
    lot = get_object_or_404(Woodlot, pk=pk)
    removal = Removal(
        name=f"the woodlot {lot}",
        holds="A woodlot with pump houses, lines, leases, tanks, sap or notes stays. Forecasts "
        "fetched and snow depths noted for it go with it.",
        keep=reverse("woods:woodlot_edit", args=[pk]),
        gone=reverse("woods:woodlots"),
    )
    return _removal_page(request, removal, lambda: actions.remove_woodlot(woodlot=lot))


@owner_required
@require_http_methods(["GET", "POST"])
def pump_house_remove(request: Request, pk: int) -> HttpResponse:
    house = get_object_or_404(PumpHouse.objects.select_related("woodlot"), pk=pk)
    removal = Removal(
        name=f"the pump house {house} of {house.woodlot}",
        holds="A pump house to which lines drain, or where a gauge was read, stays.",
        keep=reverse("woods:pump_house_edit", args=[pk]),
        gone=reverse("woods:woodlot", args=[house.woodlot_id]),
    )
    return _removal_page(request, removal, lambda: actions.remove_pump_house(pump_house=house))


@owner_required
@require_http_methods(["GET", "POST"])
def lease_remove(request: Request, pk: int) -> HttpResponse:
    lease = get_object_or_404(Lease.objects.select_related("woodlot", "landowner"), pk=pk)
    removal = Removal(
        name=f"the lease of {lease.woodlot} with {lease.landowner}",
        holds="A lease that has run out stays true: keep it, and add the new one beside it.",
        keep=reverse("woods:lease_edit", args=[pk]),
        gone=reverse("woods:woodlot", args=[lease.woodlot_id]),
    )
    return _removal_page(request, removal, lambda: actions.remove_lease(lease=lease))


@owner_required
@require_http_methods(["GET", "POST"])
def landowner_remove(request: Request, pk: int) -> HttpResponse:
    owner = get_object_or_404(Landowner, pk=pk)
    removal = Removal(
        name=f"the landowner {owner}",
        holds="A landowner with a woodlot or a lease stays.",
        keep=reverse("woods:landowner_edit", args=[pk]),
        gone=reverse("woods:landowners"),
    )
    return _removal_page(request, removal, lambda: actions.remove_landowner(landowner=owner))

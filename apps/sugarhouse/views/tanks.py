from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from apps.domain.errors import DomainError
from apps.operation import display
from apps.operation.access import owner_required
from apps.operation.http import Request
from apps.operation.queries import constants
from apps.sugarhouse import actions, queries
from apps.sugarhouse.forms import DipForm, TankForm
from apps.sugarhouse.models import Dip, Tank
from apps.sugarhouse.views.common import page_of


@require_http_methods(["GET", "HEAD", "POST"])
def tanks(request: Request) -> HttpResponse:
    form = DipForm(
        request.POST if request.method == "POST" else None,
        unit_system=request.operation.unit_system,
        now=request.now,
        # From a tank's own page: the one just walked up to is chosen already.
        initial={"tank": request.GET.get("tank")},
    )
    if request.method == "POST" and form.is_valid() and _dip(form, request):
        return redirect("sugarhouse:tanks")
    usable_share = constants().number("sugarhouse.usable_share")
    rows = queries.tanks_now(request.now, usable_share)
    context = {"form": form, "rows": rows, "usable_share": usable_share}
    return render(request, "sugarhouse/tanks.html", context)


def _dip(form: DipForm, request: Request) -> bool:
    typed = form.cleaned_data
    try:
        dip = actions.record_dip(
            uuid=typed["uuid"],
            tank=typed["tank"],
            at=typed["at"],
            depth_mm=typed["depth"],
            crew=request.user,
        )
    except actions.DipTaken:
        form.add_error("at", "This tank has a dip at this minute already.")
        return False
    held = form.shown(dip.volume_litres, "volume")
    messages.success(request, f"{dip.tank}: {form.shown(dip.depth_mm, 'depth')} is {held} of sap.")
    return True


@require_safe
def tank(request: Request, pk: int) -> HttpResponse:
    row = get_object_or_404(queries.tanks(), pk=pk)
    context = {
        "tank": row,
        "full_litres": queries.full_litres(row),
        "page": page_of(request, queries.dips_of(row)),
    }
    return render(request, "sugarhouse/tank.html", context)


@require_POST
def void_dip(request: Request, pk: int) -> HttpResponse:
    row = get_object_or_404(Dip.objects.select_related("tank"), pk=pk)
    actions.void_dip(dip=row, by=request.user, at=request.now)
    when = f"{timezone.localtime(row.at):%d %b, %H:%M}"
    messages.success(request, f"{row.tank}: the dip of {when} is struck out. It stays in the list.")
    return redirect("sugarhouse:tank", pk=row.tank_id)


@owner_required
@require_http_methods(["GET", "HEAD", "POST"])
def tank_add(request: Request) -> HttpResponse:
    return _tank_form(request, None)


@owner_required
@require_http_methods(["GET", "HEAD", "POST"])
def tank_edit(request: Request, pk: int) -> HttpResponse:
    return _tank_form(request, get_object_or_404(Tank, pk=pk))


def _tank_form(request: Request, tank: Tank | None) -> HttpResponse:
    form = TankForm(
        request.POST if request.method == "POST" else None,
        unit_system=request.operation.unit_system,
        tank=tank,
    )
    if request.method == "POST" and form.is_valid() and _save(form):
        messages.success(request, f"{form.cleaned_data['name']} is saved.")
        return redirect("sugarhouse:tanks")
    depth = display.unit_for("depth", request.operation.unit_system).label
    return render(request, "sugarhouse/tank_form.html", {"form": form, "tank": tank, "unit": depth})


def _save(form: TankForm) -> bool:
    try:
        actions.save_tank(tank=form.tank, values=form.values(), points=form.points())
    except DomainError:
        # Which side is wrong, nobody can tell: the message belongs to no field.
        form.add_error(None, "A dip already taken of this tank does not fit these measures.")
        return False
    return True

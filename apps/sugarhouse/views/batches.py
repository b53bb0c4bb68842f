from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from apps.operation.http import Request
from apps.operation.queries import constants
from apps.sugarhouse import actions, prediction, queries
from apps.sugarhouse.forms import BatchForm
from apps.sugarhouse.models import Batch
from apps.sugarhouse.views.common import page_of, season_asked


@require_http_methods(["GET", "HEAD", "POST"])
def batches(request: Request) -> HttpResponse:
    season = season_asked(request)
    syrup_brix = constants().number("sugarhouse.syrup_brix")
    # Sap entered ahead of the clock is not there to be boiled yet.
    stock = queries.stock(season, request.now)
    form = BatchForm(
        request.POST if request.method == "POST" else None,
        unit_system=request.operation.unit_system,
        now=request.now,
        loads=stock.loads,
        initial={"syrup_brix": syrup_brix},
    )
    if request.method == "POST" and form.is_valid() and _boil(form, request):
        return redirect("sugarhouse:batches")
    # One page of batches with their sap in a fixed number of queries, however many there are.
    page = page_of(request, queries.with_sap(queries.batches_of(season)))
    context = {
        "form": form,
        "season": season,
        "seasons": queries.seasons_on_record(season),
        "stock": stock,
        "page": page,
        "accounts": queries.batch_accounts(page, syrup_brix),
        "ratio": prediction.describe(syrup_brix),
        "syrup_brix": syrup_brix,
    }
    return render(request, "sugarhouse/batches.html", context)


def _boil(form: BatchForm, request: Request) -> bool:
    typed = form.cleaned_data
    try:
        batch = actions.record_batch(
            uuid=typed["uuid"],
            season=form.season,
            boiled_at=typed["at"],
            sap_litres=typed["sap"],
            draws=form.draws(),
            syrup_litres=typed["syrup"],
            syrup_brix=typed["syrup_brix"],
            note=typed["note"],
            crew=request.user,
        )
    except actions.NotEnoughSap as error:
        there = form.shown(error.there_litres, "volume")
        form.add_error("sap", f"There was {there} of sap on hand at that time, no more.")
        return False
    messages.success(request, f"Batch {batch.number} is in the books.")
    return True


@require_safe
def batch(request: Request, pk: int) -> HttpResponse:
    row = get_object_or_404(queries.with_sap(Batch.objects.all()), pk=pk)
    syrup_brix = constants().number("sugarhouse.syrup_brix")
    context = {
        "account": queries.batch_accounts([row], syrup_brix)[0],
        "ratio": prediction.describe(syrup_brix),
        "syrup_brix": syrup_brix,
    }
    return render(request, "sugarhouse/batch.html", context)


@require_POST
def undo(request: Request, pk: int) -> HttpResponse:
    row = get_object_or_404(Batch, pk=pk)
    actions.undo_batch(batch=row)
    messages.success(request, f"{row} is struck out and its sap is back in stock.")
    return redirect("sugarhouse:batches")

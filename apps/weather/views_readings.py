"""What was measured in the woods: shown, imported, sent in by devices, and used for an offset."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.core.exceptions import RequestDataTooBig
from django.core.paginator import Paginator
from django.http import HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from apps.operation.access import owner_required
from apps.operation.actions import DeviceRefused, stop_device
from apps.operation.http import Request
from apps.operation.queries import constants, device_of
from apps.weather import actions_readings as actions
from apps.weather.forms import RecordForm, ThermometerForm
from apps.weather.models import Thermometer
from apps.weather.payload import MOST_READINGS, NotABatch, read_batch
from apps.weather.queries import offset as offsets
from apps.weather.queries import readings as queries
from apps.woods.models import Woodlot

PER_PAGE = 50
MOST_SHOWN = 100


@require_GET
def readings(request: Request) -> HttpResponse:
    return _page(request, ThermometerForm())


def _page(request: Request, form: ThermometerForm, **more: Any) -> HttpResponse:
    """The page of one woodlot among all; `?woodlot=` chooses it."""
    lots = Woodlot.objects.order_by("name")
    page = Paginator(lots, PER_PAGE).get_page(request.GET.get("page"))
    rows = queries.recorded(page.object_list)
    asked = request.GET.get("woodlot", "")
    chosen = next((row for row in rows if str(row.woodlot.pk) == asked), rows[0] if rows else None)
    context: dict[str, Any] = {"page": page, "rows": rows, "chosen": chosen, "form": form}
    if chosen:
        context["doubted"] = queries.set_aside(chosen.woodlot)[:MOST_SHOWN]
        context["record"] = queries.whole_record(chosen.woodlot)
        context["suggestions"] = offsets.offset_suggestions(
            chosen.woodlot, constants(), request.now
        )
    context["fewest_hours"] = offsets.FEWEST_HOURS
    context["api"] = request.build_absolute_uri(reverse("weather:readings_api"))
    return render(request, "weather/readings.html", context | more)


@owner_required
@require_http_methods(["GET", "POST"])
def import_hours(request: Request) -> HttpResponse:
    """Look first, write second: one page, two buttons."""
    form = RecordForm(request.POST or None, request.FILES or None, now=request.now)
    if request.method != "POST" or not form.is_valid():
        return render(request, "weather/import_hours.html", {"form": form})
    woodlot, record = form.cleaned_data["woodlot"], form.cleaned_data["record"]
    if request.POST.get("step") == "write":
        plan = actions.import_hours(woodlot=woodlot, record=record, now=request.now)
        counts = f"{plan.added} added, {plan.changed} changed, {plan.emptied} emptied"
        messages.success(request, f"The hours of {woodlot} are in: {counts}.")
        return redirect(f"{reverse('weather:readings')}?woodlot={woodlot.pk}")
    kept = {"woodlot": woodlot, "text": form.cleaned_data["rows"]}
    context = {
        "form": RecordForm(initial=kept, now=request.now),
        "plan": queries.plan_import(woodlot, record),
        "woodlot": woodlot,
        "doubted": record.set_aside[:MOST_SHOWN],
        "faults": record.faults[:MOST_SHOWN],
    }
    return render(request, "weather/import_hours.html", context)


@owner_required
@require_POST
@never_cache
def add_thermometer(request: Request) -> HttpResponse:
    """Answers with the page itself: the token is shown this once and kept nowhere."""
    form = ThermometerForm(request.POST)
    if form.is_valid():
        try:
            new = actions.add_thermometer(now=request.now, **form.cleaned_data)
        except DeviceRefused as refusal:
            form.add_error("name", str(refusal))
        else:
            return _page(request, ThermometerForm(), new=new)
    return _page(request, form)


@owner_required
@require_POST
def stop_thermometer(request: Request, pk: int) -> HttpResponse:
    thermometer = get_object_or_404(Thermometer.objects.select_related("device"), pk=pk)
    stop_device(device=thermometer.device)
    messages.success(request, f"{thermometer.device} can send no more. What it sent stays.")
    return redirect(f"{reverse('weather:readings')}?woodlot={thermometer.woodlot_id}")


@owner_required
@require_POST
def use_offset(request: Request, pk: int) -> HttpResponse:
    """Reckoned anew: what is set is what the readings say now, or nothing."""
    woodlot = get_object_or_404(Woodlot, pk=pk)
    try:
        actions.use_offset(
            woodlot=woodlot,
            against=request.POST.get("against", ""),
            shown_c=request.POST.get("offset_c", ""),
            in_use=constants(),
            now=request.now,
        )
    except actions.OffsetRefused as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, f"The offset of {woodlot} is set.")
    return redirect(f"{reverse('weather:readings')}?woodlot={woodlot.pk}")


# A device signs in with its token, so neither a session nor a form's token can be asked for.
@csrf_exempt
@login_not_required
@require_POST
def readings_api(request: Request) -> HttpResponse:
    """A batch of readings as JSON; every one is answered for by itself."""
    device = device_of(_token(request))
    if device is None:
        return _refused(401, "No device sends with this token.", {"WWW-Authenticate": "Bearer"})
    thermometer = queries.thermometer_of(device)
    if thermometer is None:
        return _refused(403, "This device stands in no woodlot.")
    try:
        sent = read_batch(request.body, request.now)
    except RequestDataTooBig:
        return _refused(413, f"Send at most {MOST_READINGS} readings at a time.")
    except NotABatch as refusal:
        return _refused(400, str(refusal))
    verdicts = actions.take_readings(thermometer=thermometer, sent=sent, now=request.now)
    return JsonResponse(
        {
            "kept": sum(one.status == "kept" for one in verdicts),
            "known": sum(one.status == "known" for one in verdicts),
            "refused": [
                {"place": one.place, "reason": one.reason}
                for one in verdicts
                if one.status == "refused"
            ],
        }
    )


def _token(request: Request) -> str:
    scheme, _, token = request.headers.get("Authorization", "").partition(" ")
    return token.strip() if scheme.casefold() == "bearer" else ""


def _refused(status: int, error: str, headers: dict[str, str] | None = None) -> JsonResponse:
    return JsonResponse({"error": error}, status=status, headers=headers)

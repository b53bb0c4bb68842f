from django.http import HttpResponse
from django.shortcuts import render

from apps.operation.http import Request
from apps.sugarhouse.models import Batch, SapIn, Tank


def sap(request: Request) -> HttpResponse:
    rows = SapIn.objects.select_related("woodlot").newest_first()[:50]
    return render(request, "sugarhouse/sap.html", {"rows": rows})


def tanks(request: Request) -> HttpResponse:
    return render(request, "sugarhouse/tanks.html", {"rows": Tank.objects.order_by("name")})


def batches(request: Request) -> HttpResponse:
    rows = Batch.objects.order_by("-boiled_at")[:50]
    return render(request, "sugarhouse/batches.html", {"rows": rows})

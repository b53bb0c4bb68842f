"""Records in and out of the house as plain sheets."""

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from apps.operation.access import owner_required
from apps.operation.http import Request


@owner_required
@require_GET
def import_lines(request: Request) -> HttpResponse:
    return render(request, "records/import_lines.html")


@require_GET
def export_lines(request: Request) -> HttpResponse:
    return render(request, "records/import_lines.html")

"""The day's board: owns no data, gathers what the rooms below know."""

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from apps.operation.http import Request


@require_GET
def board(request: Request) -> HttpResponse:
    return render(request, "today/board.html")

"""The day's board: owns no data, gathers what the rooms below know."""

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from apps.operation.http import Request
from apps.today import queries


@require_GET
def board(request: Request) -> HttpResponse:
    board = queries.board(operation=request.operation, now=request.now)
    return render(request, "today/board.html", {"board": board})

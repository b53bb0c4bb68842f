"""The layout check of one woodlot."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET

from apps.domain.tapping import season_of
from apps.operation.http import Request
from apps.operation.queries import constants
from apps.woods import layout, queries
from apps.woods.models import Woodlot


@require_GET
def layout_check(request: Request, pk: int) -> HttpResponse:
    lot = get_object_or_404(Woodlot, pk=pk)
    season = season_of(request.today)
    checked = layout.check(queries.line_tree(lot, season), constants())
    return render(
        request, "woods/layout.html", {"woodlot": lot, "season": season, "layout": checked}
    )

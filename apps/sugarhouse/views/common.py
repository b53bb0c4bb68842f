from typing import TypeVar

from django.core.paginator import Page, Paginator
from django.db.models import Model, QuerySet

from apps.domain.tapping import season_of
from apps.operation.http import Request

ROWS_A_PAGE = 50
Row = TypeVar("Row", bound=Model)


def season_asked(request: Request) -> int:
    """The season in the address, else the one of today."""
    asked = request.GET.get("season", "")
    # Anything else in the address is a mistyped link: today's season, and no error page.
    return int(asked) if asked.isdecimal() and len(asked) == 4 else season_of(request.today)


def page_of(request: Request, rows: "QuerySet[Row]") -> "Page[Row]":
    return Paginator(rows, ROWS_A_PAGE).get_page(request.GET.get("page"))

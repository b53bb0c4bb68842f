"""How good the forecast was: of one woodlot or all, one season or all."""

from collections.abc import Iterable, Sequence
from zoneinfo import ZoneInfo

from django.conf import settings
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from apps.domain.tapping import season_of
from apps.operation.http import Request
from apps.operation.queries import constants
from apps.outlook import charts_scores
from apps.outlook.came import ARCHIVED
from apps.outlook.kept import DAYS_ALL, DAYS_DAILY, kept_by_season
from apps.outlook.scoring import BLOCK_DAYS, FEWEST_BLOCKS, FEWEST_DAYS
from apps.outlook.scoring_queries import LONGEST_LEAD, Scores, scores
from apps.outlook.scoring_tenths import FEWEST_CHANCES, SHARP_LEADS
from apps.woods.models import Woodlot
from apps.woods.queries import woodlots

USUAL_LEAD = 3
ALL = "all"


@require_GET
def scores_page(request: Request) -> HttpResponse:
    lots = list(woodlots())
    zone = ZoneInfo(request.operation.time_zone)
    kept = kept_by_season(zone, request.now)
    this = season_of(request.today)
    # This season is offered even before its first forecast: the page then says what is missing.
    offered = sorted({this, *kept}, reverse=True)
    season = _season(request.GET.get("season", ""), offered, this)
    chosen = _woodlot(lots, request.GET.get("woodlot", ""))
    context: dict[str, object] = {
        "lots": lots,
        "chosen": chosen,
        "offered": offered,
        "season": season,
        "leads": range(1, LONGEST_LEAD + 1),
        "lead": _lead(request.GET.get("lead", "")),
    }
    if lots:
        seasons = offered if season is None else [season]
        asked = [chosen] if chosen else lots
        found = scores(asked, seasons, constants(), zone, request.now)
        context |= _shown(found, _lead(request.GET.get("lead", "")), request)
        context["kept"] = [kept[one] for one in seasons if one in kept]
    return render(request, "outlook/scores.html", context)


def _shown(found: Scores, lead: int, request: Request) -> dict[str, object]:
    """The scores with their pictures; days one by one only where they are of one woodlot."""
    unit_system = request.operation.unit_system
    # Several woodlots a day would draw several lows over one another.
    ahead = [] if found.pooled else found.stated_ahead(lead)
    return {
        "scores": found,
        "ahead": ahead,
        "misses": charts_scores.misses_by_lead(found.leads, unit_system),
        "reliability": found.tenths and charts_scores.reliability_picture(found.tenths),
        "said_and_came": charts_scores.stated_and_came(ahead, lead, unit_system),
        "fewest_days": FEWEST_DAYS,
        "fewest_chances": FEWEST_CHANCES,
        "fewest_blocks": FEWEST_BLOCKS,
        "block_days": BLOCK_DAYS,
        "sharp_leads": SHARP_LEADS,
        "days_all": DAYS_ALL,
        "days_daily": DAYS_DAILY,
        "archived": ARCHIVED,
        "archive_model": settings.WEATHER_ARCHIVE_MODEL,
    }


def _woodlot(lots: Sequence[Woodlot], text: str) -> Woodlot | None:
    """The woodlot asked for, the only one there is, or None for all of them together."""
    # "All 1 woodlots together" would promise a pooling there is none of.
    if len(lots) == 1:
        return lots[0]
    return {str(lot.pk): lot for lot in lots}.get(text)


def _season(text: str, offered: Iterable[int], this: int) -> int | None:
    """The season asked for, None for all of them; this one for anything else."""
    if text == ALL:
        return None
    return {str(season): season for season in offered}.get(text, this)


def _lead(text: str) -> int:
    """The lead asked for; the usual one for anything that is none."""
    # A digit of another script is decimal too, and no lead that the form offers.
    days = int(text) if text.isascii() and text.isdecimal() else 0
    return days if 1 <= days <= LONGEST_LEAD else USUAL_LEAD

"""Pages beside the start date: how good the forecast was, the season's end, the morning brief."""

from zoneinfo import ZoneInfo

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from apps.operation.http import Request
from apps.operation.queries import constants
from apps.outlook import charts_scores
from apps.outlook.scoring import FEWEST_CHANCES, FEWEST_DAYS
from apps.outlook.scoring_queries import LONGEST_LEAD, scores
from apps.woods.queries import woodlots

USUAL_LEAD = 3


@require_GET
def scores_page(request: Request) -> HttpResponse:
    lots = list(woodlots())
    asked = {str(lot.pk): lot for lot in lots}
    chosen = asked.get(request.GET.get("woodlot", ""), lots[0] if lots else None)
    context: dict[str, object] = {"lots": lots, "chosen": chosen}
    if chosen is not None:
        unit_system = request.operation.unit_system
        zone = ZoneInfo(request.operation.time_zone)
        found = scores(chosen, constants(), zone, request.now)
        lead = _lead(request.GET.get("lead", ""))
        ahead = found.stated_ahead(lead)
        context |= {
            "scores": found,
            "lead": lead,
            "leads": range(1, LONGEST_LEAD + 1),
            "ahead": ahead,
            "misses": charts_scores.misses_by_lead(found.leads, unit_system),
            "reliability": found.tenths and charts_scores.reliability_picture(found.tenths),
            "said_and_came": charts_scores.stated_and_came(ahead, lead, unit_system),
            "fewest_days": FEWEST_DAYS,
            "fewest_chances": FEWEST_CHANCES,
        }
    return render(request, "outlook/scores.html", context)


def _lead(text: str) -> int:
    """The lead asked for; the usual one for anything that is none."""
    days = int(text) if text.isascii() and text.isdecimal() else 0
    return days if 1 <= days <= LONGEST_LEAD else USUAL_LEAD

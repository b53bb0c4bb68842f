"""The start-date page's own answer for the pages that only repeat it: the board and the brief."""

from datetime import datetime
from zoneinfo import ZoneInfo

from apps.operation.queries import Constants
from apps.outlook.guidance import start_guidance
from apps.outlook.queries import Asked, start_date
from apps.outlook.verdict import Verdict, verdict


def start_answer(*, constants: Constants, zone: ZoneInfo, now: datetime) -> Verdict | None:
    """None while nobody asks: before 1 December, without taps left to set, once sap has run."""
    today = now.astimezone(zone).date()
    page = start_date(today=today, now=now, zone=zone, constants=constants, asked=Asked())
    if page.too_soon or not page.taps_left or page.this_first_run:
        return None
    return verdict(page, start_guidance(page, constants=constants, zone=zone, now=now))

"""What the stored forecast does to the start date, on the page.

The woods and seasons are those on the paper of test_outlook_start_date: without a forecast the
start is Wed 18 February, three working days and two lost ones before Tue 24.
"""

from datetime import date, timedelta

import pytest
from django.urls import reverse

from tests.factories import outlook as paper
from tests.factories import tapping
from tests.factories.outlook import FREEZE_THAW, forecast, steady

pytestmark = pytest.mark.django_db
URL = reverse("outlook:start_date")


@pytest.fixture
def february(owner_client, settings):
    paper.stand_at(settings, paper.mid_february)
    return owner_client


@pytest.fixture
def lots(db):
    return paper.lots()


@pytest.fixture
def ten_seasons(db):
    paper.ten_seasons()


def text(response):
    return " ".join(response.content.decode().split())


def answer(response):
    return response.context["page"].answer


def kinds(response):
    calendar = answer(response).back.calendar
    return [(day.date.day, day.kind) for day in calendar]


def test_the_forecast_takes_the_place_of_the_lost_days(february, lots, ten_seasons):
    # Nothing cold up to 27 Feb: Mon 23, Sat 21, Fri 20, and no further day.
    forecast(lots, [steady(-6)] * 12)
    response = february.get(URL)
    assert kinds(response) == [(20, "tapping"), (21, "tapping"), (22, "rest"), (23, "tapping")]
    page = text(response)
    assert "it reaches to Fri 27 February" in page
    assert "No day up to then is ruled out by cold (under 10 °F" in page
    assert "Wind is not in the stored forecast, so wind chill is not known" in page


def test_days_ruled_out_by_cold_are_skipped_and_shown(february, lots, ten_seasons):
    # Thu 19, Fri 20 and Sat 21 at -20 C: tapping Mon 23, Wed 18, Tue 17.
    forecast(lots, [steady(-6)] * 3 + [steady(-20)] * 3 + [steady(-6)] * 6)
    response = february.get(URL)
    assert kinds(response) == [
        (17, "tapping"),
        (18, "tapping"),
        (19, "ruled out"),
        (20, "ruled out"),
        (21, "ruled out"),
        (22, "rest"),
        (23, "tapping"),
    ]
    assert "3 days the forecast rules out are skipped" in text(response)
    assert "Thu 19 Feb (warmest -4 °F)" in text(response)


def test_a_missing_hour_never_rules_a_day_out(february, lots, ten_seasons):
    holed = [-20.0] * 8 + [float("nan")] * 8 + [-20.0] * 8
    forecast(lots, [steady(-6)] * 3 + [holed] * 3 + [steady(-6)] * 6)
    assert answer(february.get(URL)).back.start_date == date(2026, 2, 20)


def test_a_stale_forecast_is_said_and_the_allowance_used(february, lots, ten_seasons):
    forecast(lots, [steady(-20)] * 12, fetched_at=paper.mid_february() - timedelta(hours=73))
    response = february.get(URL)
    assert answer(response).back.start_date == date(2026, 2, 18)
    assert "No forecast fit to plan by: the newest is 3 days old" in text(response)


def test_a_woodlot_without_a_forecast_is_named(february, lots, ten_seasons):
    forecast(lots[:2], [steady(-6)] * 12)
    assert "Swamp Lot: No forecast yet" in text(february.get(URL))


def test_freeze_thaw_days_while_woods_stand_untapped_are_named(february, lots, ten_seasons):
    # Counted back, start Fri 20; Sat 21 freezes and thaws; the next day of work is Mon 23.
    tapping.crew_plan(ready_morning=date(2026, 2, 24))
    forecast(lots, [steady(-6)] * 5 + [FREEZE_THAW] + [steady(-6)] * 6)
    response = february.get(URL)
    assert date(2026, 2, 23) in [row.start for row in answer(response).others]
    words = "<strong>Sat 21 Feb</strong> (Beech Ridge, Swamp Lot, Tamarack Hollow)"
    assert words in text(response)


def test_the_count_back_says_the_start_after_the_thaws_it_meets(february, lots, ten_seasons):
    forecast(lots, [steady(-6)] * 5 + [FREEZE_THAW] + [steady(-6)] * 6)
    words = "Starting after the freeze-thaw days the single forecast sees means Mon 23 February."
    assert words in text(february.get(URL))


def test_days_of_unknown_thaw_and_days_beyond_the_forecast_are_said(february, lots, ten_seasons):
    tapping.crew_plan(ready_morning=date(2026, 2, 24))
    holed = [float("nan"), *steady(-6)[1:]]
    forecast(lots, [steady(-6)] * 4 + [holed] + [steady(-6)])
    page = text(february.get(URL))
    # The forecast ends with Sat 21; the plan runs to Mon 23.
    assert "Not known, because hours are missing: Fri 20 Feb" in page
    assert "2 days of the plan lie beyond the forecast" in page

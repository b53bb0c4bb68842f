"""What the wind of the stored forecast does to the days of work, and to the page's words.

The woods and seasons are those of test_outlook_start_date. Wind chill by the US National Weather
Service's chart (2001): 15 F feels like -11 F at 60 mph, and like 3 F at 10 mph.
"""

from datetime import date, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from django.urls import reverse

from apps.domain.units import celsius_from_fahrenheit, kmh_from_mph
from apps.operation.models import SettingValue
from apps.operation.queries import constants
from apps.outlook import forecast
from apps.weather.models import PACKED, HourlySeries
from tests.factories import outlook as paper
from tests.factories import weather
from tests.factories.outlook import steady

pytestmark = pytest.mark.django_db
ZONE = ZoneInfo("America/New_York")
NOW = paper.mid_february()
URL = reverse("outlook:start_date")
AIR_C = celsius_from_fahrenheit(15.0)
STORM_KMH, BREEZE_KMH = kmh_from_mph(60.0), kmh_from_mph(10.0)
NAN = float("nan")


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


def stored(lots, winds_kmh, *, temp_c=AIR_C, **fields):
    """Days of one temperature from 16 February, each with a wind of its own, or a list of hours."""
    hours = np.concatenate([np.broadcast_to(wind, 24) for wind in winds_kmh])
    packed = hours.astype(PACKED).tobytes()
    paper.forecast(lots, [steady(temp_c)] * len(winds_kmh), packed_wind_kmh=packed, **fields)


def read(lots, now=NOW):
    return forecast.read(lots, hours_per_day=6, constants=constants(), zone=ZONE, now=now)


def days(dates):
    return [getattr(one, "date", one).day for one in dates]


def text(response):
    return " ".join(response.content.decode().split())


def test_a_storm_rules_its_day_out_and_a_breeze_does_not(lots):
    stored(lots, [BREEZE_KMH, STORM_KMH, BREEZE_KMH])
    seen = read(lots)
    assert days(seen.ruled_out) == [17]
    assert (seen.wind_known, seen.without_wind) == (True, ())


@pytest.mark.parametrize(("limit_f", "ruled_out"), [(0.0, []), (5.0, [16, 17, 18])])
def test_the_owners_own_wind_chill_limit_is_used(lots, limit_f, ruled_out):
    # 15 F at 10 mph feels like 3 F: under a limit of 5 F, over one of 0 F.
    stored(lots, [BREEZE_KMH] * 3)
    SettingValue.objects.create(
        key="tapping.wind_chill_limit_c",
        value=str(celsius_from_fahrenheit(limit_f)),
        changed_at=NOW,
    )
    assert days(read(lots).ruled_out) == ruled_out


def test_without_wind_the_same_days_stay_open_and_are_named(lots):
    stored(lots, [BREEZE_KMH, NAN, STORM_KMH])
    seen = read(lots)
    assert days(seen.ruled_out) == [18]
    assert days(seen.without_wind) == [17]


def test_a_storm_in_one_woodlots_forecast_alone_keeps_the_day_open(lots):
    stored(lots[:1], [STORM_KMH] * 3)
    stored(lots[1:], [BREEZE_KMH] * 3, fetched_at=paper.MIDNIGHT + timedelta(hours=1))
    assert days(read(lots[:1]).ruled_out) == [16, 17, 18]
    assert read(lots).ruled_out == ()


def test_a_forecast_of_the_control_run_alone_is_judged_in_its_own_wind(lots):
    # Of two members the first is the control; the wind is its wind.
    run = weather.run(product="ensemble", fetched_at=paper.MIDNIGHT)
    for lot in lots:
        row = weather.stored(run, lot, [[AIR_C] * 72, [-2.0] * 72], start_at=paper.MIDNIGHT)
        weather.windy(row, STORM_KMH)
    assert days(read(lots).ruled_out) == [16, 17, 18]


def test_rows_from_before_wind_was_kept_are_judged_by_their_air(lots):
    paper.forecast(lots, [steady(AIR_C)] * 2 + [steady(-20)])
    seen = read(lots)
    assert (days(seen.ruled_out), days(seen.without_wind)) == ([18], [16, 17])
    assert not seen.wind_known


def test_a_wind_spoilt_in_the_store_is_unknown_here_too(lots):
    stored(lots, [1e30, STORM_KMH, STORM_KMH])
    seen = read(lots)
    assert (days(seen.ruled_out), days(seen.without_wind)) == ([17, 18], [16])


def test_nothing_in_store_has_no_wind(lots):
    seen = read(lots)
    assert (seen.wind_known, seen.without_wind) == (False, ())


def test_a_day_lost_to_the_wind_is_skipped_and_says_what_it_feels_like(february, lots, ten_seasons):
    # Fri 20 in a storm: of the days back from Tue 24 it is skipped, and Thu 19 is worked.
    stored(lots, [BREEZE_KMH] * 4 + [STORM_KMH] + [BREEZE_KMH] * 7)
    response = february.get(URL)
    assert response.context["page"].answer.back.start_date == date(2026, 2, 19)
    page = text(response)
    assert "under 10 °F or under -10 °F of wind chill for too much of the working day" in page
    assert "Fri 20 Feb (warmest 15 °F; in the wind like -11 °F at the mildest)" in page
    assert "warmest 15 °F in working hours, in the wind like -11 °F at the mildest" in page
    assert "Wind is not" not in page


def test_days_judged_without_wind_are_said_to_be(february, lots, ten_seasons):
    stored(lots, [BREEZE_KMH] * 3 + [NAN] * 2 + [BREEZE_KMH] * 7)
    page = text(february.get(URL))
    assert (
        "No day up to then is ruled out by cold (under 10 °F or under -10 °F of wind chill" in page
    )
    assert "Wind is not known for every working hour of Thu 19 Feb, Fri 20 Feb:" in page
    assert "Wind is not in the stored forecast" not in page


def test_where_no_wind_is_in_store_the_limit_is_said_not_to_be_applied(february, lots, ten_seasons):
    paper.forecast(lots, [steady(AIR_C)] * 12)
    page = text(february.get(URL))
    assert "Wind is not in the stored forecast, so wind chill is not known" in page
    assert "of wind chill for too much" not in page
    assert HourlySeries.objects.exists()


def test_the_caution_stands_beside_the_wind(february, lots, ten_seasons):
    stored(lots, [BREEZE_KMH] * 12)
    page = text(february.get(URL))
    assert "The wind is that over open ground, 10 m up" in page
    assert "Cold injures: before you send anybody out" in page


def test_the_setting_no_longer_says_that_wind_is_missing(february):
    page = text(february.get(reverse("operation:settings")))
    assert "No tapping under (wind chill)" in page
    assert "wind yet" not in page

"""What past winters brought about these dates, in place of a forecast withheld or absent.

It is Monday 16 March 2026. Counted by hand, and again by pandas from the same hours.
"""

from datetime import date, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from apps.operation.models import SettingValue
from apps.operation.queries import constants
from apps.weather import queries
from apps.weather.queries.climate import day_of_winter
from tests.factories import outlook as paper
from tests.factories import readings as made
from tests.factories import weather
from tests.factories.woods import line, woodlot
from tests.integration.test_history_pandas import days_by_pandas, winter_by_chance

pytestmark = pytest.mark.django_db
NEW_YORK = ZoneInfo("America/New_York")
TODAY = date(2026, 3, 16)
PAGES = [reverse("weather:outlook"), reverse("outlook:run_days"), reverse("outlook:start_date")]
HISTORY = "history, no forecast"
FREEZE_C, THAW_C = -1.1, 2.2


def usual(lot, today=TODAY):
    return queries.usual([lot], constants(), NEW_YORK, today)[lot.pk]


def text(client, url):
    return " ".join(client.get(url).content.decode().split())


@pytest.fixture
def lot(db):
    lot = woodlot()
    line(lot, "1", planned_taps=100)
    return lot


class TestCounted:
    def test_a_week_of_each_winter_about_each_date(self, lot):
        # Freezing to noon and thawing after it, every day: 7 days in each of 3 winters.
        for winter in (2023, 2024, 2025):
            made.archive_winter(lot, winter)
        told = usual(lot)
        assert told.winters == (2023, 2024, 2025)
        assert [day.date for day in told.days] == [TODAY + n * timedelta(days=1) for n in range(14)]
        assert {(day.freeze_thaw_days, day.known_days) for day in told.days} == {(21, 21)}
        assert {(day.lowest_c, day.highest_c) for day in told.days} == {(-5.0, 5.0)}

    def test_one_winter_in_two_makes_a_half(self, lot):
        made.archive_winter(lot, 2024)
        made.archive_winter(lot, 2025, np.full(made.winter_hours(2025), -8.0))
        told = usual(lot)
        assert {day.freeze_thaw_share for day in told.days} == {0.5}
        assert told.days[0].run_share <= 0.5

    def test_days_before_the_first_of_december_are_not_known(self, lot):
        made.archive_winter(lot, 2025)
        # From 27 November on: four dates are too far from 1 December to be near any known day.
        days = usual(lot, date(2026, 11, 24)).days
        assert [day.known_days for day in days[:9]] == [0, 0, 0, 0, 0, 0, 0, 4, 5]
        assert days[0].freeze_thaw_share is days[0].run_share is days[0].lowest_c is None

    def test_in_summer_no_day_is_known(self, lot):
        made.archive_winter(lot, 2025)
        assert usual(lot, date(2026, 7, 4)).days == ()

    def test_without_winters_there_are_none(self, lot):
        assert (usual(lot).winters, usual(lot).days) == ((), ())

    def test_a_run_hangs_on_days_that_may_be_missing(self, lot):
        temps = np.resize([-5.0] * 17 + [5.0] * 7, made.winter_hours(2025))
        # 14 and 15 March are unknown; so is every day whose run hangs on them.
        start = (date(2025, 3, 14) - made.winter_start(2025).date()).days * 24 + 5
        temps[start : start + 48] = np.nan
        made.archive_winter(lot, 2025, temps)
        day = usual(lot).days[0]
        assert (day.known_days, day.run_known_days) == (5, 3)

    @pytest.mark.parametrize("today", [TODAY, date(2026, 2, 24), date(2024, 2, 26)])
    def test_the_same_as_pandas_counts(self, lot, today):
        given = {winter: winter_by_chance(3, winter) for winter in range(2019, 2025)}
        for winter, temps_c in given.items():
            made.archive_winter(lot, winter, temps_c)
        days = pd.concat(days_by_pandas(*one, "America/New_York") for one in given.items())
        for told in usual(lot, today).days:
            near = days[[abs(place_by_pandas(one, told.date)) <= 3 for one in days.index]]
            hit = (near["min"].round(2) <= FREEZE_C) & (near["max"].round(2) >= THAW_C)
            assert (told.freeze_thaw_days, told.known_days) == (hit.sum(), len(near))
            assert told.lowest_c == pytest.approx(near["min"].median())
            assert told.highest_c == pytest.approx(near["max"].median())


def place_by_pandas(day, about):
    """Days apart on a calendar without 29 February, which takes the place of the 28th."""
    one, other = (
        pd.Timestamp(2023 if each.month < 12 else 2022, each.month, min(each.day, last_day(each)))
        for each in (day, about)
    )
    return (one - other).days


def last_day(each):
    return 28 if each.month == 2 else 31


@pytest.mark.parametrize(
    ("day", "place"),
    [
        (date(2023, 12, 1), 0),
        (date(2024, 1, 1), 31),
        (date(2024, 2, 28), 89),
        (date(2024, 2, 29), 89),
        (date(2024, 3, 1), 90),
        (date(2023, 3, 1), 90),
        (date(2023, 11, 30), 364),
    ],
)
def test_a_day_has_the_same_place_in_every_winter(day, place):
    assert day_of_winter(day) == place


@pytest.mark.parametrize("url", PAGES)
class TestPages:
    def test_without_a_forecast_it_stands_in_its_place(self, owner_client, lot, url):
        for winter in (2023, 2024, 2025):
            made.archive_winter(lot, winter)
        page = text(owner_client, url)
        assert HISTORY in page
        assert "3 winters (2023 to 2025) at" in page
        assert "21 of 21" in page

    def test_withheld_too(self, owner_client, lot, url):
        made.archive_winter(lot, 2025)
        weather.stored(weather.run(fetched_at=weather.hours_ago(96)), lot, [-5.0] * 240)
        page = text(owner_client, url)
        assert HISTORY in page
        assert "1 winter (2025) at" in page

    def test_a_forecast_fit_to_show_leaves_it_out(self, owner_client, lot, url):
        made.archive_winter(lot, 2025)
        days = weather.freezing_and_thawing(12)
        weather.stored(weather.run(), lot, days, start_at=weather.NOW - timedelta(days=1))
        assert HISTORY not in text(owner_client, url)

    def test_without_winters_it_says_how_to_fetch_them(self, owner_client, lot, url):
        page = text(owner_client, url)
        assert "No past winter of Tamarack Hollow is stored either" in page
        assert "manage.py fetch_history" in page
        assert "Fetch them under" in page

    def test_the_crew_are_sent_to_an_owner(self, crew_client, lot, url):
        assert "An owner can fetch them under" in text(crew_client, url)

    def test_in_summer_it_says_what_is_stored(self, owner_client, settings, lot, url):
        made.archive_winter(lot, 2025)
        paper.stand_at(settings, paper.summer)
        page = text(owner_client, url)
        assert "Past winters are stored from December to May" in page
        assert HISTORY not in page

    def test_limits_against_each_other_take_no_page_down(self, owner_client, lot, url):
        made.archive_winter(lot, 2025)
        SettingValue.objects.create(key="weather.thaw_c", value="-5", changed_at=weather.NOW)
        page = text(owner_client, url)
        assert HISTORY not in page
        assert "is stored either" not in page


def test_many_woodlots_without_a_forecast_cost_no_more_questions_than_two(owner_client, lot):
    made.archive_winter(lot, 2025)
    counts = []
    for more in (1, 6):
        for number in range(more):
            made.archive_winter(woodlot(f"{more} more, {number}"), 2025)
        with CaptureQueriesContext(connection) as captured:
            assert owner_client.get(PAGES[1]).status_code == 200
        counts.append(len(captured))
    assert counts[0] == counts[1]


def test_another_woodlot_asked_for_shows_its_own_winters(owner_client, lot):
    other = woodlot("Swamp Lot")
    made.archive_winter(other, 2025)
    page = text(owner_client, f"{PAGES[0]}?woodlot={other.pk}")
    assert "1 winter (2025) at Swamp Lot" in page

"""First runs of past seasons: recorded and inferred kept apart, as shares of the seasons by date.

It is 16 March 2026. The ten recorded dates are those of the start-date paper: counted from
1 December they lie 79, 82, 85, 89, 90, 92, 93, 95, 98 and 101 days on (2016 and 2024 leap).
"""

import re
from datetime import date
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from apps.operation.queries import constants
from apps.outlook.first_runs import Spread, past_first_runs
from tests.factories import outlook as paper
from tests.factories import readings, tapping, woods
from tests.factories.operation import FIXED_NOW, operation

pytestmark = pytest.mark.django_db
URL = reverse("outlook:first_runs")
ZONE = ZoneInfo("America/New_York")


@pytest.fixture
def lot(db):
    operation()
    return woods.woodlot()


def past(lot):
    return past_first_runs(lot, constants(), ZONE, FIXED_NOW)


def text(response):
    return " ".join(re.sub(r"<[^>]+>", " ", response.content.decode()).split())


def mild_from(winter, day):
    """Hours frozen hard up to a day of the winter, then 9 C by day and -6 C at night."""
    hours = readings.winter_hours(winter)
    start = (date(winter, day.month, day.day) - date(winter - 1, 11, 30)).days * 24
    temps = np.full(hours, -12.0)
    temps[start:] = np.resize([-6.0] * 14 + [9.0] * 10, hours - start)
    return temps


def test_the_shares_are_dates_that_were_there(lot):
    paper.ten_seasons()
    ((name, spread),) = past(lot).spreads
    # Earliest, the 2nd, 5th and 8th of ten, latest: 79, 82, 90, 95, 101 days after 1 December.
    assert name == "Recorded"
    assert [(day.month, day.day) for day in spread.marks] == [
        (2, 18),
        (2, 21),
        (3, 1),
        (3, 6),
        (3, 12),
    ]
    assert {day.year for day in spread.marks} == {2026}


@pytest.mark.parametrize(
    ("count", "share", "place"), [(1, 0.2, 0), (5, 0.2, 0), (6, 0.2, 1), (10, 0.5, 4), (3, 0.8, 2)]
)
def test_a_share_is_reached_by_whole_seasons(count, share, place):
    days = tuple(date(2026, 3, 1 + number) for number in range(count))
    assert Spread(days).by(share) == days[place]


def test_a_woodlots_own_dates_go_before_the_operations(lot):
    tapping.first_run(date(2024, 3, 1))
    tapping.first_run(date(2025, 3, 9), woodlot=lot)
    assert (past(lot).recorded, past(lot).own) == ({2025: date(2025, 3, 9)}, True)
    other = past(woods.woodlot("Beech Ledge"))
    # Where the operation has no date of its own, the earliest of its woodlots' stands for it.
    assert other.recorded == {2024: date(2024, 3, 1), 2025: date(2025, 3, 9)}
    assert other.own is False


def test_the_season_under_way_is_not_a_past_one(lot):
    tapping.first_run(date(2026, 3, 1), woodlot=lot)
    readings.archive_winter(lot, 2026)
    assert (past(lot).recorded, past(lot).inferred) == ({}, {})


def test_inferred_dates_stand_apart_from_recorded_ones(lot):
    tapping.first_run(date(2025, 3, 9), woodlot=lot)
    readings.archive_winter(lot, 2025, mild_from(2025, date(2025, 2, 20)))
    found = past(lot)
    assert [name for name, _ in found.spreads] == ["Recorded", "Inferred"]
    assert found.by_weekly_rule is True
    ((season, recorded, inferred),) = found.rows
    assert (season, recorded) == (2025, date(2025, 3, 9))
    # Sap cannot have been let run before the thaw began, and the rule wants some crossings first.
    assert date(2025, 2, 20) <= inferred.date <= date(2025, 3, 20)
    assert found.apart_days == [(recorded - inferred.date).days]


def test_three_own_dates_set_the_threshold_of_warmth(lot):
    for winter in (2023, 2024, 2025):
        tapping.first_run(date(winter, 2, 24), woodlot=lot)
        readings.archive_winter(lot, winter, mild_from(winter, date(winter, 2, 20)))
    found = past(lot)
    assert found.by_weekly_rule is False
    assert max(map(abs, found.apart_days)) <= 1


def test_a_winter_without_a_run_is_unknown_and_no_date(owner_client, lot):
    readings.archive_winter(lot, 2025, np.full(readings.winter_hours(2025), -12.0))
    assert past(lot).inferred_dates == {}
    assert past(lot).spreads == []
    assert "Neither a recorded first run" in text(owner_client.get(URL))


def test_the_page_says_which_is_which(owner_client, lot):
    paper.ten_seasons()
    readings.archive_winter(lot, 2025, mild_from(2025, date(2025, 2, 20)))
    response = owner_client.get(URL)
    page = text(response)
    assert "Recorded 10 18 Feb 21 Feb 1 Mar 6 Mar 12 Mar" in page
    assert "as Tamarack Hollow has no dates of its own" in page
    assert "by the first producing week of a published weekly rule" in page
    assert "2016 Wed 2 Mar no winter here" in page
    names = [trace["name"] for trace in response.context["figure"].spec["data"]]
    assert names == ["Recorded, 10 seasons", "Inferred, 1 season"]


def test_the_picture_climbs_a_step_a_season(owner_client, lot):
    paper.ten_seasons()
    (line,) = owner_client.get(URL).context["figure"].spec["data"]
    assert line["y"] == list(range(10, 101, 10))
    assert (line["x"][0], line["line"]["shape"]) == ("2026-02-18", "hv")


def test_nothing_on_record_says_what_to_do(owner_client, lot):
    page = text(owner_client.get(URL))
    assert "Type the dates you know , or fetch past winters" in page


def test_no_woodlot_says_what_to_do(owner_client):
    assert "Add a woodlot" in text(owner_client.get(URL))


def questions(client):
    with CaptureQueriesContext(connection) as seen:
        client.get(URL)
    return len(seen)


def test_questions_do_not_grow_with_winters_or_dates(owner_client, lot):
    readings.archive_winter(lot, 2025)
    tapping.first_run(date(2025, 3, 9))
    before = questions(owner_client)
    for winter in range(2018, 2025):
        readings.archive_winter(lot, winter)
        tapping.first_run(date(winter, 3, 9))
        woods.woodlot(f"Lot {winter}")
    assert questions(owner_client) == before

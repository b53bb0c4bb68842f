"""All woodlots together and past seasons, from the store to the page.

The clock says 16 March 2026, 07:00 in New York, as in `test_outlook_scoring`.
"""

from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from apps.outlook import kept
from apps.outlook.came import ARCHIVED, MEASURED
from apps.weather import keeping
from tests.factories import readings, weather, woods
from tests.factories.operation import FIXED_NOW, operation
from tests.integration.test_outlook_scoring import ALWAYS_COLD, COLD_AND_WARM, ZONE, scores

pytestmark = pytest.mark.django_db
URL = reverse("outlook:scores")
# Midnight in New York on 1 March of any year.
MARCH = {year: datetime(year, 3, 1, 5, tzinfo=UTC) for year in (2024, 2025, 2026)}


@pytest.fixture
def lots(db):
    operation()
    return [woods.woodlot("Home bush"), woods.woodlot("North ridge")]


def kept_each_morning(lots, first, mornings, *, days=4, low_c=-4.0, every=1):
    """Forecasts of whole days fetched at 11:00 UTC, the lows a degree too warm."""
    for number in range(0, mornings * every, every):
        start_at = first + timedelta(days=number)
        run = weather.run(fetched_at=start_at + timedelta(hours=6))
        for lot in lots:
            hours = ([low_c] * 12 + [6.0] * 12) * days
            weather.stored(run, lot, hours, start_at=start_at)


def measured(lot, first, days):
    device = readings.thermometer(lot, f"At {lot.name} in {first.year}")
    readings.readings(device, first, COLD_AND_WARM * days)


def text(response):
    return " ".join(response.content.decode().split())


def test_woodlot_days_and_different_days_are_told_apart(lots):
    kept_each_morning(lots, MARCH[2026], 10)
    for lot in lots:
        measured(lot, MARCH[2026], 13)
    found = scores(*lots)
    assert (found.days, found.woodlot_days, found.mornings) == (12, 24, 10)
    first = found.leads[0]
    assert (first.days, first.woodlot_days) == (10, 20)
    assert (first.low.bias_c, first.calls.hits) == (1.0, 20)


def test_each_woodlot_is_held_against_its_own_thermometer(lots):
    kept_each_morning(lots, MARCH[2026], 1)
    measured(lots[0], MARCH[2026], 4)
    readings.readings(readings.thermometer(lots[1]), MARCH[2026], ALWAYS_COLD * 4)
    came = {(pair.woodlot_id, pair.came) for pair in scores(*lots).pairs}
    assert came == {(lots[0].pk, True), (lots[1].pk, False)}


def test_woodlots_judged_by_different_sources_are_named_with_them(lots):
    kept_each_morning(lots, MARCH[2025], 3)
    measured(lots[0], MARCH[2025], 6)
    for lot in lots:
        readings.archive_winter(lot, 2025)
    judges = scores(*lots, seasons=(2025,)).judges
    assert {row.source: names for row, names in judges} == {
        MEASURED: ["Home bush"],
        ARCHIVED: ["North ridge"],
    }


def test_a_woodlot_no_forecast_is_kept_of_takes_nothing_from_the_others(lots):
    kept_each_morning(lots[:1], MARCH[2026], 2)
    for lot in lots:
        measured(lot, MARCH[2026], 6)
    assert {pair.woodlot_id for pair in scores(*lots).pairs} == {lots[0].pk}


def test_no_woodlot_at_all_has_no_pair(lots):
    found = scores()
    assert (found.pairs, found.leads, found.tenths, found.first) == ((), (), None, None)


@pytest.fixture
def three_seasons(lots):
    """Forecasts of the first of March of three years; 2024 measured, 2025 and 2026 archived."""
    for year, start_at in MARCH.items():
        kept_each_morning(lots, start_at, 1)
        if year > 2024:
            readings.archive_winter(lots[0], year)
    measured(lots[0], MARCH[2024], 5)
    return lots[0]


@pytest.mark.parametrize(
    ("seasons", "years"),
    [((2026,), {2026}), ((2025,), {2025}), ((2024,), {2024}), ((2024, 2025, 2026), set(MARCH))],
)
def test_a_season_holds_its_own_days_only(three_seasons, seasons, years):
    found = scores(three_seasons, seasons=seasons)
    assert {pair.date.year for pair in found.pairs} == years
    assert found.mornings == len(years)


def test_a_season_left_out_between_two_stays_out(three_seasons):
    found = scores(three_seasons, seasons=(2026, 2024))
    assert {pair.date.year for pair in found.pairs} == {2024, 2026}


@pytest.mark.parametrize(
    ("at", "scored"),
    [
        (datetime(2024, 11, 30, 5, tzinfo=UTC), False),
        (datetime(2024, 12, 1, 5, tzinfo=UTC), True),
        (datetime(2025, 5, 30, 4, tzinfo=UTC), True),
        (datetime(2025, 5, 31, 4, tzinfo=UTC), False),
    ],
)
def test_only_days_of_december_to_may_are_scored(lots, at, scored):
    """By forecasts of those months: of a day ahead, from the local midnight of the day before."""
    kept_each_morning(lots[:1], at, 1, days=3)
    measured(lots[0], at, 4)
    leads = {pair.lead_days for pair in scores(lots[0], seasons=(2025,)).pairs}
    assert (1 in leads) is scored


def test_days_of_23_hours_are_judged_whole(lots):
    # The clocks go forward on 8 March 2026: its day is 05:00 UTC to 04:00 UTC.
    start_at = datetime(2026, 3, 7, 5, tzinfo=UTC)
    hours = [-5.0] * 24 + [-5.0] * 12 + [6.0] * 11 + ALWAYS_COLD * 2
    run = weather.run(fetched_at=start_at + timedelta(hours=6))
    weather.stored(run, lots[0], hours, start_at=start_at)
    readings.readings(readings.thermometer(lots[0]), start_at, hours)
    verdicts = {pair.date.day: (pair.verdict, pair.came) for pair in scores(lots[0]).pairs}
    assert verdicts[8] == ("yes", True)
    # Had the 8th been given 24 hours, the 9th would begin an hour late and still be all cold.
    assert verdicts[9] == ("no", False)


def test_the_page_pools_by_default_and_says_how_many_days_it_rests_on(owner_client, lots):
    kept_each_morning(lots, MARCH[2026], 10)
    for lot in lots:
        measured(lot, MARCH[2026], 13)
    page = text(owner_client.get(URL))
    assert "All 2 woodlots together, season 2026: 12 different days, 24 woodlot-days" in page
    assert "24 woodlot-days tell little more than 12 days do" in page
    assert "Days one by one are of one woodlot: choose it above." in page


def test_one_woodlot_chosen_is_named_and_shown_day_by_day(owner_client, lots):
    kept_each_morning(lots, MARCH[2026], 10)
    measured(lots[1], MARCH[2026], 13)
    response = owner_client.get(URL, {"woodlot": lots[1].pk, "lead": 1})
    assert "North ridge, season 2026: 12 different days</strong>" in text(response)
    assert len(response.context["ahead"]) == 10
    assert "woodlot-days" not in text(response)


@pytest.mark.parametrize("asked", ["", "all", "999999", "x"])
def test_anything_but_a_woodlot_is_all_of_them(owner_client, lots, asked):
    assert owner_client.get(URL, {"woodlot": asked}).context["chosen"] is None


def test_the_only_woodlot_is_not_called_all(owner_client, db):
    operation()
    lot = woods.woodlot()
    response = owner_client.get(URL, {"woodlot": "all"})
    assert response.context["chosen"] == lot
    assert "All woodlots together" not in text(response)


def test_seasons_with_kept_forecasts_are_offered_and_this_one_always(owner_client, lots):
    kept_each_morning(lots, MARCH[2024], 1)
    assert owner_client.get(URL).context["offered"] == [2026, 2024]


@pytest.mark.parametrize(
    ("asked", "season"), [("2025", 2025), ("all", None), ("", 2026), ("1999", 2026), ("x", 2026)]
)
def test_a_season_that_is_none_is_this_one(owner_client, three_seasons, asked, season):
    assert owner_client.get(URL, {"season": asked}).context["season"] == season


def test_all_seasons_are_named(owner_client, three_seasons):
    page = text(owner_client.get(URL, {"season": "all"}))
    assert "seasons 2024, 2025, 2026: 9 different days" in page


def test_an_empty_season_is_named(owner_client, lots):
    kept_each_morning(lots, MARCH[2025], 1)
    assert "No forecast is kept of season 2026." in text(owner_client.get(URL))
    page = text(owner_client.get(URL, {"season": "2025"}))
    assert "1 morning of forecasts kept in season 2025, and no day of them has come" in page


def test_what_thinning_left_of_a_past_season_is_said(owner_client, lots):
    kept_each_morning(lots, MARCH[2025], 6, every=7)
    measured(lots[0], MARCH[2025], 50)
    page = text(owner_client.get(URL, {"season": "2025"}))
    assert '<th scope="row">2025</th> <td class="number">6</td>' in page
    assert '<span class="badge">thinned</span> one in 7 days' in page
    assert "Every forecast is kept for 3 days, then the first of each day up to 33 days" in page


def kept_now():
    return kept.kept_by_season(ZONE, FIXED_NOW)


def test_thinning_really_leaves_what_the_page_says_it_does(lots):
    """Daily runs of two years, thinned by the rule itself: this season daily, the last weekly."""
    for days in range(450):
        weather.run(fetched_at=FIXED_NOW - timedelta(days=days))
    keeping.thin(FIXED_NOW)
    found = kept_now()
    assert found[2025].apart_days == 7
    assert found[2025].thinned
    assert 21 <= found[2025].mornings <= 27


def test_a_season_with_one_morning_has_no_step(lots):
    weather.run(fetched_at=MARCH[2025])
    (row,) = kept_now().values()
    assert (row.mornings, row.first, row.apart_days, row.thinned) == (
        1, date(2025, 3, 1), None, False,
    )  # fmt: skip


def test_many_runs_of_a_local_day_are_one_morning(lots):
    for hours in (0, 5, 23):
        weather.run(fetched_at=MARCH[2025] + timedelta(hours=hours))
    assert kept_now()[2025].mornings == 1


def test_steps_as_common_as_each_other_are_not_flattered(lots):
    for days in (0, 1, 8):
        weather.run(fetched_at=MARCH[2025] + timedelta(days=days))
    assert kept_now()[2025].apart_days == 7


@pytest.mark.parametrize(("month", "day"), [(6, 1), (8, 15), (11, 30)])
def test_summer_is_no_season(lots, month, day):
    weather.run(fetched_at=datetime(2025, month, day, 12, tzinfo=UTC))
    assert kept_now() == {}


def test_a_run_fetched_after_now_is_not_kept_yet(lots):
    weather.run(fetched_at=FIXED_NOW + timedelta(minutes=1))
    assert kept_now() == {}


def questions(client, **asked):
    with CaptureQueriesContext(connection) as seen:
        assert client.get(URL, asked).status_code == 200
    return len(seen)


def test_questions_do_not_grow_with_woodlots_seasons_or_forecasts(owner_client, lots):
    kept_each_morning(lots, MARCH[2026], 2)
    measured(lots[0], MARCH[2026], 4)
    before = questions(owner_client)
    for name in ("South slope", "Swamp edge", "Far lot"):
        lots.append(woods.woodlot(name))
    for year in (2024, 2025):
        kept_each_morning(lots, MARCH[year], 8)
        for lot in lots:
            measured(lot, MARCH[year], 10)
            readings.archive_winter(lot, year)
    assert questions(owner_client) == before
    assert questions(owner_client, season="all") == before


def test_the_pooled_page_reads_every_packed_row_once(owner_client, lots):
    kept_each_morning(lots, MARCH[2026], 5)
    with CaptureQueriesContext(connection) as seen:
        scores(*lots)
    assert sum('"packed"' in one["sql"] and "hourlyseries" in one["sql"] for one in seen) == 1


def test_hours_unknown_in_the_archive_leave_their_days_out(lots):
    temps = np.resize([-5.0] * 17 + [5.0] * 7, readings.winter_hours(2025))
    # 1 March local is hour 5 of its UTC day: five hours of it are not known.
    at = (MARCH[2025] - readings.winter_start(2025)) // timedelta(hours=1) + 24
    temps[at : at + 5] = np.nan
    readings.archive_winter(lots[0], 2025, temps)
    kept_each_morning(lots[:1], MARCH[2025], 1)
    days = {pair.date.day for pair in scores(lots[0], seasons=(2025,)).pairs}
    assert days == {3, 4}


def test_a_woodlot_of_impossible_heights_takes_no_other_down_with_it(lots):
    for lot in lots:
        readings.archive_winter(lot, 2025, elevation_used_m=9000.0 if lot == lots[0] else None)
    kept_each_morning(lots, MARCH[2025], 1)
    assert {pair.woodlot_id for pair in scores(*lots, seasons=(2025,)).pairs} == {lots[1].pk}

"""The page of tonight and the days ahead: words, what they rest on, sap once fitted, else why not.

Weather is made by hand, freezing to noon and thawing after it, unless said otherwise; it is
2026-03-16 11:00 UTC.
"""

import re
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from django.core.cache import cache
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from apps.domain.sap_run import Lacking
from apps.operation.queries import constants
from apps.outlook.runs import days_ahead, most_tapped
from apps.outlook.sap_expected import fitted, taps_of
from tests.factories import readings, sugarhouse, tapping, weather, woods

PAGE = reverse("outlook:run_days")
ZONE = ZoneInfo("America/New_York")
NOW = weather.NOW
DAY = timedelta(days=1)
MIDNIGHT = datetime(2026, 3, 16, 4, tzinfo=UTC)


@pytest.fixture(autouse=True)
def nothing_kept():
    cache.clear()


def days_of(count, *, members=1, low_c=-5.0, high_c=6.0):
    one = weather.freezing_and_thawing(count, low_c=low_c, high_c=high_c)
    return [one] * members


def forecast(lot, *, model="by hand", members=1, begins=-2, fetched_at=NOW, **temps):
    run = weather.run(fetched_at=fetched_at, model=model)
    hours = days_of(14, members=members, **temps)
    return weather.stored(run, lot, hours, start_at=MIDNIGHT + begins * DAY)


def text(response):
    bare = re.sub(r"<[^>]+>", " ", response.content.decode())
    return " ".join(bare.split())


def ahead(*lots, now=NOW):
    return days_ahead(lots, constants(), ZONE, now)


def tonight(lot):
    (row,) = ahead(lot).rows
    return row.tonight


def words(lot, **moment):
    (row,) = ahead(lot, **moment).rows
    return [day.word for day in row.days]


class TestThePage:
    def test_without_woodlots_it_says_what_to_do(self, owner_client):
        assert "No woodlots yet" in text(owner_client.get(PAGE))

    def test_without_a_forecast_it_says_so(self, owner_client):
        woods.woodlot()
        assert "No forecast young enough to go by" in text(owner_client.get(PAGE))

    def test_a_forecast_too_old_is_no_forecast(self, owner_client):
        forecast(woods.woodlot(), fetched_at=NOW - 4 * DAY)
        assert "No forecast young enough to go by" in text(owner_client.get(PAGE))

    def test_members_stand_behind_a_percentage(self, owner_client):
        lot = woods.woodlot()
        forecast(lot, members=12)
        (day, *_) = ahead(lot).rows[0].days
        page = text(owner_client.get(PAGE))
        assert f"high {day.likelihood.percentage:.0%}".replace("%", " %") in page
        assert "12 members" in page
        assert "one forecast" not in page

    def test_one_forecast_gives_a_word_alone(self, owner_client):
        forecast(woods.woodlot())
        page = text(owner_client.get(PAGE))
        assert "high one forecast: no percentage" in page
        assert "One forecast: fresh fetched just now" in page

    def test_nine_members_are_too_few_for_a_percentage(self, owner_client):
        forecast(woods.woodlot(), members=9)
        assert "9 forecasts: too few for a percentage" in text(owner_client.get(PAGE))

    def test_days_beyond_the_seventh_are_marked(self, owner_client):
        forecast(woods.woodlot())
        assert text(owner_client.get(PAGE)).count(" unsure ") == 3

    def test_thaw_and_cold_are_in_the_operations_units(self, owner_client):
        forecast(woods.woodlot())
        # Two days of twelve hours at 6 C: 144 C h, 259 F h; -5 C is 23 F.
        page = text(owner_client.get(PAGE))
        assert "259 °F·h" in page
        assert "freezes 23 °F" in page

    def test_the_drawing_says_in_words_what_it_shows(self, owner_client):
        forecast(woods.woodlot())
        page = owner_client.get(PAGE).content.decode()
        label = re.search(r'<svg[^>]*aria-label="([^"]*)"', page).group(1)
        assert label.startswith("Tamarack Hollow, likelihood of a run: Mon 16 high, Tue 17 high")
        assert page.count("<rect") == 10

    def test_each_model_is_named_once_with_its_source(self, owner_client):
        for name in ("North lot", "South lot"):
            lot = woods.woodlot(name)
            for model in ("first model", "second model"):
                forecast(lot, model=model, members=12)
        page = text(owner_client.get(PAGE))
        assert page.count("24 members of 2 models, each model weighing the same") == 2
        for model in ("first model", "second model"):
            assert page.count(f"Product forecast, model {model}, fetched") == 1

    def test_no_style_or_script_is_written_inline(self, owner_client):
        forecast(woods.woodlot())
        page = owner_client.get(PAGE).content.decode()
        assert "style=" not in page
        assert "<script>" not in page

    def test_the_crew_may_look(self, crew_client):
        forecast(woods.woodlot())
        assert crew_client.get(PAGE).status_code == 200

    def test_strangers_sign_in_first(self, client, db):
        assert client.get(PAGE).status_code == 302

    def test_it_stands_in_the_menu(self, owner_client):
        assert f'href="{PAGE}"' in owner_client.get(PAGE).content.decode()

    def test_ten_woodlots_or_a_hundred_ask_as_much(self, owner_client):
        counts = []
        for size in (10, 100):
            for number in range(size - woods.Woodlot.objects.count()):
                forecast(woods.woodlot(f"Lot {size}-{number}"), fetched_at=NOW, members=12)
            owner_client.get(PAGE)
            with CaptureQueriesContext(connection) as asked:
                owner_client.get(PAGE)
            counts.append(len(asked))
        assert counts[0] == counts[1]

    def test_further_woodlots_are_a_page_away(self, owner_client):
        for number in range(11):
            woods.woodlot(f"Lot {number:02}")
        first, second = (text(owner_client.get(PAGE, {"page": page})) for page in (1, 2))
        assert "Lot 09" in first
        assert "Lot 10" not in first
        assert "Lot 10" in second


class TestForTheBoard:
    def test_it_is_of_the_woodlot_with_the_most_taps(self, owner):
        small, large = woods.woodlot("A small lot"), woods.woodlot("The large lot")
        woods.line(small, planned_taps=10)
        woods.line(large, planned_taps=500)
        assert most_tapped(constants(), ZONE, NOW).woodlot == large

    def test_without_taps_the_first_by_name_stands(self, owner):
        woods.woodlot("Beech Ridge")
        first = woods.woodlot("Alder Swamp")
        assert most_tapped(constants(), ZONE, NOW).woodlot == first

    def test_the_board_shows_the_days_and_leads_to_the_page(self, crew_client):
        forecast(woods.woodlot(), members=12)
        board = crew_client.get(reverse("today:board"))
        assert "Tamarack Hollow, where most is tapped. Today: high" in text(board)
        assert board.content.decode().count("<rect") == 10
        assert f'href="{PAGE}">Every woodlot' in board.content.decode()

    def test_a_board_without_a_forecast_says_so(self, crew_client):
        woods.woodlot()
        assert "No forecast young enough" in text(crew_client.get(reverse("today:board")))

    def test_without_woodlots_there_is_none(self, owner):
        assert most_tapped(constants(), ZONE, NOW) is None


class TestHoursGoneBy:
    """Today's likelihood needs the two days before, which a forecast may begin too late for."""

    def test_without_them_today_is_unknown(self, owner_client):
        lot = woods.woodlot()
        forecast(lot, begins=-1)
        assert words(lot)[:2] == [None, "high"]
        page = text(owner_client.get(PAGE))
        assert "unknown hours of it or of the two days before are missing" in page

    def test_a_thermometer_fills_them(self, owner):
        lot = woods.woodlot()
        forecast(lot, begins=-1)
        own = readings.thermometer(lot)
        readings.readings(own, MIDNIGHT - 2 * DAY, weather.freezing_and_thawing(1))
        (row,) = ahead(lot).rows
        assert row.days[0].word == "high"
        assert (row.past.measured, row.past.forecast) == (24, 31)

    def test_an_earlier_run_fills_them(self, owner):
        lot = woods.woodlot()
        forecast(lot, begins=-3, fetched_at=NOW - 2 * DAY)
        forecast(lot, begins=-1)
        assert words(lot)[0] == "high"

    def test_an_earlier_ensemble_fills_them_by_its_middle(self, owner):
        lot = woods.woodlot()
        forecast(lot, begins=-3, members=12, fetched_at=NOW - 2 * DAY)
        forecast(lot, begins=-1, members=12)
        assert words(lot)[0] == "high"

    def test_the_later_of_two_runs_has_the_word(self, owner):
        lot = woods.woodlot()
        forecast(lot, begins=-3, low_c=-30, high_c=-20, fetched_at=NOW - 2 * DAY)
        forecast(lot, begins=-2, fetched_at=NOW - DAY)
        forecast(lot, begins=-1)
        assert words(lot)[0] == "high"

    def test_a_run_of_the_future_is_not_looked_at(self, owner):
        lot = woods.woodlot()
        forecast(lot, begins=-3, fetched_at=NOW + DAY)
        forecast(lot, begins=-1)
        assert words(lot)[0] is None

    def test_a_measured_deep_cold_keeps_the_trees_frozen(self, owner):
        lot = woods.woodlot()
        forecast(lot)
        own = readings.thermometer(lot)
        readings.readings(own, MIDNIGHT - 2 * DAY, [-22.0] * 48)
        assert words(lot)[:4] == ["low", "low", "high", "high"]

    def test_heights_are_evened_out_once(self, owner):
        lot = woods.woodlot(elevation_m=1200)
        run = weather.run(fetched_at=NOW)
        # 770 m lower the air is 5 C warmer: here it stays frozen.
        weather.stored(
            run, lot, days_of(14, high_c=4.0), start_at=MIDNIGHT - 2 * DAY, elevation_used_m=430
        )
        assert set(words(lot)) == {"low"}


class TestTheWeeklyRule:
    def test_it_counts_the_measured_winter(self, owner):
        lot = woods.woodlot()
        forecast(lot)
        new_year = datetime(2026, 1, 1, 5, tzinfo=UTC)
        own = readings.thermometer(lot)
        winter = days_of(50, low_c=-12, high_c=-4)[0] + days_of(24)[0]
        readings.readings(own, new_year, winter)
        week = ahead(lot).rows[0].days[0].week
        assert (week.start, week.end) == (date(2026, 3, 12), date(2026, 3, 18))
        assert (week.unknown_days, week.producing) == (0, True)

    def test_each_week_is_told_once(self, owner_client):
        lot = woods.woodlot()
        forecast(lot)
        own = readings.thermometer(lot)
        winter = days_of(50, low_c=-12, high_c=-4)[0] + days_of(24)[0]
        readings.readings(own, datetime(2026, 1, 1, 5, tzinfo=UTC), winter)
        weeks = ahead(lot).rows[0].weeks
        assert [week.end for week in weeks] == [date(2026, 3, 18), date(2026, 3, 25)]
        page = text(owner_client.get(PAGE))
        assert page.count("week to Wed 18 Mar producing") == 1
        assert f"{weeks[0].chance * 100:.0f} % after {weeks[0].crossings} crossings" in page

    def test_it_is_unknown_without_the_winter(self, owner_client):
        forecast(woods.woodlot())
        assert "unknown, 72 days of this winter are missing" in text(owner_client.get(PAGE))


def seasons_of_sap(lot, seasons=(2023, 2024), *, days=20, taps=100, cold=()):
    """A load a day from 1 March on days of freeze and thaw, none on the days called cold."""
    line = woods.line(lot, label=f"S{seasons[0]}", planned_taps=None)
    for season in seasons:
        line.tap_counts.create(season=season, planned_taps=taps)
        hours = np.resize([-5.0] * 17 + [5.0] * 7, readings.winter_hours(season))
        for day in cold:
            at = int(
                (datetime(season, 3, day, 5, tzinfo=UTC) - readings.winter_start(season)) / DAY
            )
            hours[at * 24 + 5 : at * 24 + 29] = -15.0
        readings.archive_winter(lot, season, hours)
        for day in range(1, days + 1):
            if day not in cold:
                at = datetime(season, 3, day, 21, tzinfo=UTC)
                sugarhouse.sap_in(lot, volume_litres=200.0, season=season, at=at)


class TestSapToExpect:
    def test_without_records_it_says_how_many_are_needed(self, owner_client):
        forecast(woods.woodlot())
        page = text(owner_client.get(PAGE))
        assert "from 2 seasons and 30 woodlot-days" in page
        assert "there are 0 such days of 0 seasons" in page
        assert "No amount: see what it would take" in page

    def test_sap_without_weather_or_taps_does_not_count(self, owner):
        lot = woods.woodlot()
        for day in range(1, 20):
            at = datetime(2025, 3, day, 21, tzinfo=UTC)
            sugarhouse.sap_in(lot, season=2025, at=at)
        assert fitted(constants(), ZONE, NOW) == Lacking(0, 0)

    def test_bought_sap_is_no_woodlots(self, owner):
        for day in range(1, 20):
            sugarhouse.sap_in(None, season=2025, at=datetime(2025, 3, day, tzinfo=UTC))
        assert fitted(constants(), ZONE, NOW) == Lacking(0, 0)

    def test_every_day_from_first_to_last_sap_counts(self, owner):
        lot = woods.woodlot()
        seasons_of_sap(lot, cold=(5, 6, 7))
        fit = fitted(constants(), ZONE, NOW)
        assert (fit.skill.days, fit.skill.seasons) == (40, 2)

    def test_the_fit_finds_the_litres_it_was_given(self, owner):
        lot = woods.woodlot()
        seasons_of_sap(lot, cold=(8, 9, 10, 11))
        fit = fitted(constants(), ZONE, NOW)
        assert fit.rule == "likelihood"
        # 2 L a tap on a day of a likelihood around 0.7 after warm days.
        assert 2.0 < fit.operation.litres_per_tap < 3.5

    def test_todays_sap_is_taps_times_the_rate(self, owner_client):
        lot = woods.woodlot()
        seasons_of_sap(lot, cold=(8, 9, 10, 11))
        woods.line(lot, label="2", planned_taps=500)
        forecast(lot, members=12)
        sap = tonight(lot)
        assert (sap.day, sap.taps) == (date(2026, 3, 16), 500)
        assert sap.litres == pytest.approx(500 * sap.expected.litres_per_tap)
        assert 0 <= sap.low_litres < sap.litres <= sap.high_litres
        page = text(owner_client.get(PAGE))
        assert "Sap to expect today:" in page
        assert "a tap on 500 taps" in page
        assert "Rate times likelihood in use" in page

    def test_counted_taps_stand_over_planned_ones(self, owner, crew):
        lot = woods.woodlot()
        line = woods.line(lot, planned_taps=500)
        assert taps_of(2026) == {lot.pk: 500}
        tapping.tally(line, crew, taps_set=420)
        assert taps_of(2026) == {lot.pk: 420}

    def test_a_woodlot_without_taps_is_told_so(self, owner_client):
        lot = woods.woodlot()
        seasons_of_sap(lot)
        forecast(lot)
        assert "nobody has planned or counted this season's taps" in text(owner_client.get(PAGE))

    def test_an_unknown_likelihood_is_no_amount(self, owner_client):
        lot = woods.woodlot()
        seasons_of_sap(lot)
        woods.line(lot, label="2", planned_taps=500)
        forecast(lot, begins=-1)
        assert tonight(lot) is None
        assert "No amount: today's likelihood is unknown" in text(owner_client.get(PAGE))

    def test_the_average_day_stands_where_the_likelihood_does_no_better(self, owner_client):
        lot = woods.woodlot()
        seasons_of_sap(lot)
        woods.line(lot, label="2", planned_taps=500)
        forecast(lot)
        assert "Average day in use" in text(owner_client.get(PAGE))
        # 200 L from 100 taps a day, every day.
        sap = tonight(lot)
        assert sap.litres == pytest.approx(1000)

    @pytest.mark.parametrize(("depth_mm", "called_out"), [(500.0, False), (900.0, True)])
    def test_sap_that_may_not_fit_is_called_out(self, owner_client, depth_mm, called_out):
        lot = woods.woodlot()
        seasons_of_sap(lot)
        woods.line(lot, label="2", planned_taps=500)
        forecast(lot)
        # 1,000 L are expected; 2,000 mm across, the tank holds 3,142 L a metre.
        tank = sugarhouse.tank(woodlot=lot, diameter_mm=2000.0)
        sugarhouse.dip(tank, at=NOW - timedelta(hours=3), depth_mm=depth_mm)
        room_litres = (1 - depth_mm / 1000) * 3141.593
        assert ahead(lot).rows[0].room_litres == pytest.approx(room_litres, rel=1e-4)
        page = text(owner_client.get(PAGE))
        assert "Its tanks had room for" in page
        assert ("may not fit" in page) is called_out

    def test_a_tank_nobody_dipped_leaves_the_room_unknown(self, owner):
        lot = woods.woodlot()
        forecast(lot)
        sugarhouse.tank(woodlot=lot)
        assert ahead(lot).rows[0].room_litres is None

    def test_new_sap_is_seen_at_once(self, owner):
        lot = woods.woodlot()
        assert fitted(constants(), ZONE, NOW) == Lacking(0, 0)
        seasons_of_sap(lot)
        assert not isinstance(fitted(constants(), ZONE, NOW), Lacking)

    def test_sap_after_the_moment_is_not_looked_at(self, owner):
        seasons_of_sap(woods.woodlot())
        before = datetime(2024, 2, 1, tzinfo=UTC)
        assert fitted(constants(), ZONE, before) == Lacking(1, 20)

    def test_a_load_that_no_tap_gives_is_left_out(self, owner):
        lot = woods.woodlot()
        seasons_of_sap(lot)
        at = datetime(2024, 3, 21, 21, tzinfo=UTC)
        sugarhouse.sap_in(lot, volume_litres=1e6, season=2024, at=at)
        assert fitted(constants(), ZONE, NOW).skill.days == 40

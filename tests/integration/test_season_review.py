import re
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from apps.season import charts
from apps.season.queries import cumulative_sap, season_yield
from tests.factories import operation as people
from tests.factories import sugarhouse, woods

pytestmark = pytest.mark.django_db

HERE = reverse("season:review")
ZONE = ZoneInfo("America/New_York")


def text(response):
    plain = re.sub(r"<(script|style).*?</\1>|<[^>]+>", " ", response.content.decode(), flags=re.S)
    return re.sub(r"\s+", " ", plain)


@pytest.fixture
def boiled():
    """430 gal at 2.0 promise 9.95 gal (43.23 to one); 9.50 were drawn."""
    woodlot = woods.woodlot()
    woods.line(woodlot, planned_taps=100)
    litres = 430 * 3.785411784
    load = sugarhouse.sap_in(woodlot, volume_litres=litres, remaining_litres=0.0)
    sugarhouse.batch(1, syrup_litres=9.5 * 3.785411784, sap=[(load, litres)])


@pytest.mark.parametrize(
    "words",
    [
        "9.50 gal of syrup",
        "95.5 %",
        "430 gal of sap",
        "100 planned",
        "4.30",
        "0.100",
        "87.1/x - 0.32",
        "Sap sold counts for its woodlot as syrup-equivalent",
        "No sap left to boil",
    ],
)
def test_review_says_its_figures_and_its_rules(crew_client, boiled, words):
    assert words in text(crew_client.get(HERE))


def test_review_names_the_unit_of_a_metric_operation(crew_client, boiled):
    people.operation(unit_system="metric")
    words = text(crew_client.get(HERE))
    assert "35.96 L of syrup" in words
    assert "hundredths of a litre" in words


def test_empty_season_says_what_to_do(crew_client, db):
    assert "Enter the first sap" in text(crew_client.get(HERE))


@pytest.mark.parametrize("asked", ["never", "99999", "", "2026"])
def test_address_that_names_no_season_shows_this_one(crew_client, boiled, asked):
    page = crew_client.get(HERE, {"season": asked})
    assert page.context["season"] == 2026


def test_past_season_is_a_link_away(crew_client, boiled):
    sugarhouse.sap_in(woods.woodlot("Old"), season=2025, at=datetime(2025, 3, 1, tzinfo=UTC))
    page = crew_client.get(HERE)
    assert 'href="?season=2025"' in page.content.decode()
    assert crew_client.get(HERE, {"season": 2025}).context["review"].season == 2025


def test_review_takes_as_many_queries_for_a_thousand_loads_as_for_ten(crew_client, boiled):
    woodlot = woods.woodlot("Second")

    def count(rows):
        for _ in range(rows):
            load = sugarhouse.sap_in(woodlot, volume_litres=100.0, remaining_litres=50.0)
            number = load.pk + 10
            sugarhouse.batch(number, syrup_litres=1.0, sap=[(load, 50.0)])
        with CaptureQueriesContext(connection) as queries:
            assert crew_client.get(HERE).status_code == 200
        return len(queries)

    assert count(10) == count(990)


def bars(figure):
    trace = figure.spec["data"][0]
    return dict(zip(trace["y"], trace["text"], strict=True))


def test_pictures_show_the_figures_of_the_table(boiled):
    review = season_yield(2026, "us", 66.0)
    row = review.woodlots[0]
    assert bars(charts.syrup_per_tap(review)) == {row.name: str(row.equivalent_per_tap)}
    assert bars(charts.sap_per_tap(review)) == {row.name: str(row.sap_per_tap)}


def test_woodlot_without_taps_has_no_bar():
    sugarhouse.sap_in(woods.woodlot())
    assert charts.syrup_per_tap(season_yield(2026, "us", 66.0)) is None


def at(year, month, day):
    return datetime(year, month, day, 18, tzinfo=UTC)


def timeline(season=2026, today=date(2026, 3, 16)):
    seasons = [2026, 2025, 2024, 2023, 2022]
    return cumulative_sap(season, seasons=seasons, today=today, zone=ZONE, unit_system="metric")


@pytest.fixture
def two_seasons():
    woodlot = woods.woodlot()
    for when, litres in (((2026, 3, 1), 100.0), ((2026, 3, 8), 50.0), ((2026, 3, 12), 25.0)):
        sugarhouse.sap_in(woodlot, at=at(*when), volume_litres=litres)
    for when, litres in (((2025, 3, 3), 200.0), ((2025, 3, 29), 10.0)):
        sugarhouse.sap_in(woodlot, season=2025, at=at(*when), volume_litres=litres)
    sugarhouse.sap_in(None, at=at(2026, 3, 1), volume_litres=999.0)


def test_sap_adds_up_week_by_week_without_what_was_bought(two_seasons):
    result = timeline()
    # 16 March opens the week that ends on the 22nd: so far nothing new; the 29th is to come.
    assert result.days == tuple(date(2026, 3, 1) + timedelta(days=7 * week) for week in range(5))
    assert result.amounts[2026] == (100, 150, 175, 175, None)
    assert result.amounts[2025] == (0, 200, 200, 200, 210)


def test_past_season_is_whole_and_later_seasons_stay_out(two_seasons):
    result = timeline(season=2025)
    assert result.seasons == (2025,)
    assert result.amounts[2025][-1] == Decimal(210)


def test_december_comes_before_january_in_a_season():
    woodlot = woods.woodlot()
    for when in ((2025, 12, 30), (2026, 1, 3)):
        sugarhouse.sap_in(woodlot, at=at(*when), volume_litres=10.0)
    assert timeline().amounts[2026] == (10, 20)


def test_leap_day_of_another_season_is_read_by_the_calendar():
    woodlot = woods.woodlot()
    sugarhouse.sap_in(woodlot, season=2024, at=at(2024, 2, 29), volume_litres=10.0)
    result = timeline()
    assert result.days == (date(2026, 3, 1),)
    assert result.amounts[2024] == (10,)


def test_local_evening_belongs_to_its_local_day():
    # 02:00 UTC on 2 March is 21:00 on 1 March in New York.
    moment = datetime(2026, 3, 2, 2, tzinfo=UTC)
    sugarhouse.sap_in(woods.woodlot(), at=moment, volume_litres=10.0)
    assert timeline().days == (date(2026, 3, 1),)


def test_lines_are_drawn_for_each_season_of_the_table(two_seasons):
    result = timeline()
    figure = charts.sap_through_the_season(result)
    assert [trace["name"] for trace in figure.spec["data"]] == ["2026", "2025"]
    assert figure.spec["data"][0]["y"] == [100.0, 150.0, 175.0, 175.0, None]


def test_no_sap_draws_no_line(db):
    assert charts.sap_through_the_season(timeline()) is None


def test_woodlot_with_sap_of_unknown_sugar_has_no_bar_of_syrup_but_one_of_sap(boiled):
    # A lower bound beside whole figures would look like a poor woodlot.
    woods.line(lot := woods.woodlot("Unread"), planned_taps=100)
    sugarhouse.sap_in(lot, brix=2.0)
    sugarhouse.sap_in(lot, brix=None)
    review = season_yield(2026, "us", 66.0)
    assert "Unread" not in bars(charts.syrup_per_tap(review))
    assert "Unread" in bars(charts.sap_per_tap(review))


def test_pictures_say_their_figures_in_words(boiled):
    review = season_yield(2026, "us", 66.0)
    woodlot = review.woodlots[0].name
    said = charts.syrup_per_tap(review).description
    assert said == f"gal of syrup per tap: {woodlot} 0.100."


def test_bars_stand_in_the_order_of_the_table():
    for name in ("Ash", "Birch", "Cedar"):
        woods.line(lot := woods.woodlot(name), planned_taps=100)
        sugarhouse.sap_in(lot)
    trace = charts.sap_per_tap(season_yield(2026, "us", 66.0)).spec["data"][0]
    # Drawn from the bottom up.
    assert list(trace["y"]) == ["Cedar", "Birch", "Ash"]


def test_seasons_are_told_apart_without_colour(two_seasons):
    lines = [trace["line"] for trace in charts.sap_through_the_season(timeline()).spec["data"]]
    assert [line["dash"] for line in lines] == ["solid", "dash"]
    assert lines[0]["width"] > lines[1]["width"]


def test_only_the_last_four_seasons_are_compared():
    woodlot = woods.woodlot()
    for year in range(2021, 2027):
        sugarhouse.sap_in(woodlot, season=year, at=at(year, 3, 10))
    result = cumulative_sap(
        2026,
        seasons=list(range(2021, 2027)),
        today=date(2026, 3, 16),
        zone=ZONE,
        unit_system="us",
    )
    assert result.seasons == (2026, 2025, 2024, 2023)


def test_season_links_run_from_the_newest_back(crew_client, boiled):
    for year in (2023, 2025):
        sugarhouse.batch(1, season=year)
    assert crew_client.get(HERE).context["seasons"] == [2026, 2025, 2023]


@pytest.mark.parametrize("method", ["post", "put", "delete"])
def test_review_only_reads(crew_client, method):
    assert getattr(crew_client, method)(HERE).status_code == 405


@pytest.mark.parametrize(
    ("today", "amounts"),
    [
        # The sap of 1, 8 and 12 March: weeks end on the 8th, the 15th and so on.
        (date(2026, 3, 1), (100, None, None, None, None)),
        (date(2026, 3, 2), (100, 150, None, None, None)),
        (date(2026, 3, 8), (100, 150, None, None, None)),
        (date(2026, 3, 9), (100, 150, 175, None, None)),
        (date(2026, 3, 22), (100, 150, 175, 175, None)),
        (date(2026, 3, 23), (100, 150, 175, 175, 175)),
        (date(2026, 5, 20), (100, 150, 175, 175, 175)),
    ],
)
def test_week_is_shown_from_its_first_day_on(two_seasons, today, amounts):
    assert timeline(today=today).amounts[2026] == amounts


FATE_ROW = r"(North|Bought sap|Operation)" + r" ([\d,]+)" * 5


@pytest.mark.parametrize(
    ("system", "rows"),
    [
        # 1,000 gal: 600 boiled, 250 sold, 100 dumped; 200 bought of which 200 are still here.
        (
            "us",
            {
                "North": ("1,000", "600", "250", "100", "50"),
                "Bought sap": ("200", "0", "0", "0", "200"),
                "Operation": ("1,200", "600", "250", "100", "250"),
            },
        ),
        # In litres: 3,785.4 = 2,271.2 + 946.4 + 378.5 + 189.3; largest remainders .5, .4 go up.
        (
            "metric",
            {
                "North": ("3,785", "2,271", "946", "379", "189"),
                "Bought sap": ("757", "0", "0", "0", "757"),
                "Operation": ("4,542", "2,271", "946", "379", "946"),
            },
        ),
    ],
)
def test_page_accounts_for_all_sap_in_either_unit(crew_client, system, rows):
    people.operation(unit_system=system)
    gallon = 3.785411784
    load = sugarhouse.sap_in(
        woods.woodlot("North"), volume_litres=1000 * gallon, remaining_litres=50 * gallon
    )
    sugarhouse.sap_in(None, volume_litres=200 * gallon)
    sugarhouse.sap_out(load, kind="sold", volume_litres=250 * gallon)
    sugarhouse.sap_out(load, kind="dumped", volume_litres=100 * gallon)
    sugarhouse.batch(1, sap=[(load, 600 * gallon)])
    table = text(crew_client.get(HERE)).partition("What became of the sap Source")[2]
    found = {name: tuple(figures) for name, *figures in re.findall(FATE_ROW, table)}
    assert found == rows

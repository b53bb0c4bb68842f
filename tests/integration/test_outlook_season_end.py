"""The season's end from the store to the page: nights, warmth, sugar and what a day is worth.

It is 16 March 2026, 07:00 in New York; tomorrow is Tuesday 17 March.
"""

import re
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.core.cache import cache
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from apps.domain.sap_run import DayYield, Lacking, fit_yields
from apps.operation import actions
from apps.operation.queries import constants
from apps.outlook import runs
from apps.outlook.season_end import season_end
from tests.factories import readings, sugarhouse, weather, woods
from tests.factories.operation import FIXED_NOW, operation

pytestmark = pytest.mark.django_db
URL = reverse("outlook:season_end")
ZONE = ZoneInfo("America/New_York")
MIDNIGHT = datetime(2026, 3, 16, 4, tzinfo=UTC)
DAY = timedelta(days=1)
FREEZES, STAYS_WARM = [-5.0] * 12 + [6.0] * 12, [3.0] * 24


@pytest.fixture(autouse=True)
def nothing_kept():
    cache.clear()


@pytest.fixture
def lot(db):
    operation()
    return woods.woodlot()


def text(response):
    return " ".join(re.sub(r"<[^>]+>", " ", response.content.decode()).split())


def end(*lots):
    return season_end(lots, constants(), ZONE, FIXED_NOW)


def row_of(lot):
    (row,) = end(lot).rows
    return row


def forecast(lot, members, *, model="by hand", fetched_at=FIXED_NOW):
    """Members as lists of days from today on."""
    run = weather.run(fetched_at=fetched_at, model=model)
    hours = [[hour for day in days for hour in day] for days in members]
    return weather.stored(run, lot, hours, start_at=MIDNIGHT)


def freezing_for(nights):
    """Today, then so many freezing days of the fourteen ahead."""
    return [STAYS_WARM, *[FREEZES] * nights, *[STAYS_WARM] * (14 - nights)]


def sap(lot, day, *, litres=1000.0, brix=2.0):
    at = datetime(2026, 3, day, 20, tzinfo=UTC)
    return sugarhouse.sap_in(lot, volume_litres=litres, brix=brix, at=at)


def set_own(owner, **values):
    for key, value in values.items():
        actions.change_setting(key=f"season.{key}", value=value, now=FIXED_NOW, by=owner)


def test_nights_are_counted_from_tomorrow_on(lot):
    forecast(lot, [[FREEZES, *freezing_for(3)[1:]]])
    nights = row_of(lot).nights
    assert (nights.low, nights.middle, nights.high, nights.days) == (3, 3, 3, 14)
    assert row_of(lot).last_likely == date(2026, 3, 19)


def test_members_give_a_range_and_a_chance_for_each_night(lot):
    # Of twelve members two freeze on no night, six on two, four on five.
    members = [freezing_for(n) for n in [0] * 2 + [2] * 6 + [5] * 4]
    forecast(lot, members)
    row = row_of(lot)
    assert (row.nights.low, row.nights.middle, row.nights.high) == (0, 2, 5)
    assert row.chances[:3] == [pytest.approx(10 / 12), pytest.approx(10 / 12), pytest.approx(1 / 3)]
    assert row.last_likely == date(2026, 3, 18)


def test_one_forecast_states_no_chance(owner_client, lot):
    forecast(lot, [freezing_for(3)])
    assert set(row_of(lot).chances) == {None}
    response = owner_client.get(URL)
    assert response.context["nights"] is None
    assert "3 by one forecast of 14 nights" in text(response)


def test_no_night_likely_is_said(owner_client, lot):
    forecast(lot, [freezing_for(0)] * 12)
    assert row_of(lot).last_likely is None
    assert "none likely" in text(owner_client.get(URL))


def test_without_a_forecast_the_nights_are_unknown(owner_client, lot):
    assert row_of(lot).nights is None
    assert "no forecast young enough to go by" in text(owner_client.get(URL))


def test_warmth_is_counted_from_the_woodlots_own_thermometer(owner_client, lot):
    # A freeze until the 15th at noon UTC, then 2 C to now: 23 hours of 2 C.
    start = datetime(2026, 3, 15, 0, tzinfo=UTC)
    readings.readings(readings.thermometer(lot), start, [-3.0] * 12 + [2.0] * 23)
    warmth = row_of(lot).warmth
    assert (warmth.froze, warmth.hours, warmth.thaw_degree_hours) == (True, 23, 46.0)
    assert "35 h measured" in text(owner_client.get(URL))


def test_no_hour_known_leaves_the_warmth_unknown(owner_client, lot):
    assert row_of(lot).warmth is None
    assert "unknown no hour is known" in text(owner_client.get(URL))


def test_loads_of_a_day_are_one_days_sugar_by_volume(lot):
    sap(lot, 14, litres=3000, brix=2.0)
    sap(lot, 14, litres=1000, brix=3.0)
    (day,) = row_of(lot).sugar
    # (3000 x 2 + 1000 x 3) / 4000.
    assert (day.date, day.brix, day.litres) == (date(2026, 3, 14), 2.25, 4000)


def test_five_days_of_sugar_show_its_slope(owner_client, lot):
    for number, brix in enumerate((2.2, 2.1, 2.1, 1.9, 1.7)):
        sap(lot, 10 + number, brix=brix)
    # Worked on paper in the unit tests: -0.12 a day, -0.19 to -0.05.
    assert row_of(lot).trend.slope == pytest.approx(-0.12)
    page = text(owner_client.get(URL))
    assert "-0.120 Brix a day -0.193 Brix a day to -0.047 Brix a day falling" in page


def test_four_days_of_sugar_are_not_enough(owner_client, lot):
    for day in range(10, 14):
        sap(lot, day)
    assert row_of(lot).trend is None
    assert "not enough yet: 5 days are needed" in text(owner_client.get(URL))


@pytest.mark.parametrize(
    ("at", "counted"),
    [
        (datetime(2026, 2, 24, 6, tzinfo=UTC), True),  # 21 days before tomorrow, in New York
        (datetime(2026, 2, 24, 4, tzinfo=UTC), False),  # still the 23rd there
        (FIXED_NOW + timedelta(hours=1), False),
    ],
)
def test_only_the_last_three_weeks_and_nothing_to_come_count(lot, at, counted):
    sugarhouse.sap_in(lot, at=at)
    assert bool(row_of(lot).sugar) is counted


def test_sap_of_unknown_sugar_and_bought_sap_are_no_word_on_a_woodlot(lot):
    sap(lot, 14, brix=None)
    sap(None, 14, brix=3.0)
    assert row_of(lot).sugar == ()


def test_the_last_week_says_what_may_come(lot):
    # 9 to 15 March: 700 L, 1400 L and five days of nothing; the 8th and today are outside.
    for day, litres in ((8, 9000), (9, 700), (15, 1400), (16, 5000)):
        sap(lot, day, litres=litres)
    expected = end(lot).sap
    assert (expected.litres.low, expected.litres.middle, expected.litres.high) == (0, 300, 1400)
    assert "the last seven days" in expected.source


def test_a_fit_to_the_own_sap_goes_before_the_last_week(lot, monkeypatch):
    woods.line(lot, planned_taps=100)
    forecast(lot, [freezing_for(14)] * 12)
    # A likelihood needs the two days before as well.
    readings.readings(readings.thermometer(lot), MIDNIGHT - 2 * DAY, FREEZES * 2)
    records = [
        DayYield(lot.pk, season, 0.8, 0.8 + 0.1 * (day % 3))
        for season in (2024, 2025)
        for day in range(20)
    ]
    fit = fit_yields(records)
    assert not isinstance(fit, Lacking)
    monkeypatch.setattr(runs, "fitted", lambda *_: fit)
    sap(lot, 15)
    expected, (row,) = end(lot).sap, end(lot).rows
    (tomorrow,) = [one for one in row.runs.sap if one.day == date(2026, 3, 17)]
    assert expected.litres.middle == tomorrow.litres > 0
    assert "the fit to your own sap" in expected.source


def test_a_day_is_worth_what_the_paper_says(owner_client, owner, lot):
    # Seven days of 4,323 L at 2.0 Brix: 43.23 to one is 100 L of syrup, at 10 dollars less 300.
    for day in range(9, 16):
        sap(lot, day, litres=4323)
    set_own(owner, syrup_price=10, day_cost=300)
    found = end(lot).worth
    assert (found.low, found.middle, found.high) == (700, 700, 700)
    page = text(owner_client.get(URL))
    assert "700 to 700 dollars" in page
    assert "it pays over the whole range" in page


@pytest.mark.parametrize(
    ("own", "missing"),
    [
        ({}, ["what syrup fetches (Settings)", "what a day costs you (Settings)"]),
        ({"syrup_price": 10}, ["what a day costs you (Settings)"]),
        ({"day_cost": 0}, ["what syrup fetches (Settings)"]),
    ],
)
def test_nothing_is_assumed_for_price_or_cost(owner_client, owner, lot, own, missing):
    sap(lot, 15)
    set_own(owner, **own)
    assert (end(lot).worth, end(lot).lacking) == (None, missing)
    page = text(owner_client.get(URL))
    assert f"cannot be said. Missing: {'; '.join(missing)}." in page


def test_a_week_without_sap_leaves_the_worth_unsaid(owner, lot):
    sap(lot, 1)
    set_own(owner, syrup_price=10, day_cost=300)
    assert end(lot).lacking == [
        "sap gathered in the last week",
        "sap with its sugar measured in the last week",
    ]


def test_the_caution_on_off_flavour_stands_on_the_page(owner_client, lot):
    assert "“buddy” off-flavour that no filter takes out" in text(owner_client.get(URL))


def test_pictures_stand_over_their_tables(owner_client, lot):
    forecast(lot, [freezing_for(3)] * 12)
    sap(lot, 15)
    page = owner_client.get(URL).content.decode()
    for spec, caption in (("freeze-nights-spec", "Nights at or under"), ("sugar-trend-spec", "21")):
        assert page.index(spec) < page.index(caption, page.index(spec))


def test_no_woodlot_says_what_to_do(owner_client):
    assert "Add a woodlot" in text(owner_client.get(URL))


def questions(client):
    cache.clear()
    with CaptureQueriesContext(connection) as seen:
        assert client.get(URL).status_code == 200
    return len(seen)


def test_questions_do_not_grow_with_woodlots_or_sap(owner_client, lot):
    forecast(lot, [freezing_for(3)])
    sap(lot, 10)
    before = questions(owner_client)
    for number in range(8):
        other = woods.woodlot(f"Lot {number}")
        forecast(other, [freezing_for(3)], model=f"model {number}")
        sap(other, 9 + number % 7)
    assert questions(owner_client) == before


def test_a_longer_list_of_woodlots_is_paged_and_the_worth_is_of_all(owner_client, owner):
    operation()
    for number in range(12):
        sap(woods.woodlot(f"Lot {number:02}"), 15, litres=100)
    response = owner_client.get(URL)
    assert len(response.context["rows"]) == 10
    assert response.context["end"].sap.litres.high == 1200

"""The page of days: opens whatever happened to the service, and says how old it is."""

import json
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from django.db import connection
from django.template.loader import render_to_string
from django.test import RequestFactory
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from apps.operation.queries import constants, current_operation
from apps.weather import charts, queries
from apps.weather.models import PACKED, ForecastRun, HourlySeries, RefreshAttempt
from apps.woods.models import Woodlot
from tests.factories import operation as people
from tests.factories import weather as made
from tests.factories.woods import woodlot
from tests.standin import StandIn

NOW = made.NOW
MIDNIGHT = datetime(2026, 3, 16, 4, tzinfo=UTC)
PAGE = reverse("weather:outlook")
REFRESH = reverse("weather:refresh")


@pytest.fixture
def standin(settings):
    with StandIn(today=NOW.date()) as running:
        made.every_service_at(settings, running.url)
        yield running


def forecast(lot, temps_c=None, *, fetched_at=NOW, **changes):
    run = made.run(fetched_at=fetched_at, **changes)
    hours = made.freezing_and_thawing(10) if temps_c is None else temps_c
    made.stored(run, lot, hours, start_at=MIDNIGHT)
    return run


def text(response):
    return " ".join(response.content.decode().split())


def test_before_anything_else_it_says_to_add_a_woodlot(owner_client):
    page = text(owner_client.get(PAGE))
    assert "No woodlots yet" in page
    assert "Refresh the weather now" not in page


def test_before_the_first_forecast_it_says_to_refresh(owner_client):
    woodlot()
    page = text(owner_client.get(PAGE))
    assert "No forecast yet. Refresh the weather to ask for all 1 woodlot at once." in page


def test_days_are_words_and_numbers_in_the_operations_units(owner_client):
    forecast(woodlot(), made.freezing_and_thawing(1) + [1.0] * 24 + [None] * 24 + [1.0] * 72)
    page = text(owner_client.get(PAGE))
    assert "1 of 5 known days, 1 unknown" in page
    # -5 C and 6 C.
    assert "low 23.0 °F" in page
    assert "high 42.8 °F" in page
    assert 'badge good">yes' in page
    assert "0 of 24 h known" in page


def test_metric_operations_read_celsius(owner_client):
    people.operation(unit_system="metric")
    forecast(woodlot())
    page = text(owner_client.get(PAGE))
    assert "low -5.0 °C" in page
    assert "°F" not in page.replace("US (gallons, inches, °F)", "")


def test_it_says_whose_forecast_it_is_and_on_what_limits(owner_client):
    forecast(woodlot(), attribution="Weather data by a service", licence_url="https://terms.test/")
    page = text(owner_client.get(PAGE))
    assert "Weather data by a service" in page
    assert 'href="https://terms.test/"' in page
    assert "model by hand" in page
    assert "30.0 °F" in page
    assert "common practice, no source" in page
    assert "non-commercial use" in page


def test_the_height_the_hours_were_moved_by_is_shown(owner_client):
    lot = woodlot(elevation_m=500.0, temperature_offset_c=-1.0)
    made.stored(made.run(), lot, [1.0] * 96, start_at=MIDNIGHT, elevation_used_m=400.0)
    page = text(owner_client.get(PAGE))
    assert "Moved from 1,312 ft" in page
    assert "to 1,640 ft" in page
    assert "-1.8 °F is added" in page


def test_an_unknown_height_is_said(owner_client):
    lot = woodlot()
    made.stored(made.run(), lot, [1.0] * 96, start_at=MIDNIGHT, elevation_used_m=None)
    assert "not corrected for height" in text(owner_client.get(PAGE))


@pytest.mark.parametrize(
    ("hours", "words"),
    [(2, "fresh"), (14, "from last night, 14 h old"), (30, "go by it with care, and refresh")],
)
def test_the_age_is_in_words_at_the_top(owner_client, hours, words):
    forecast(woodlot(), fetched_at=made.hours_ago(hours))
    assert words in text(owner_client.get(PAGE))


def test_four_days_old_the_days_are_withheld_and_the_page_says_why(owner_client):
    forecast(woodlot(), fetched_at=made.hours_ago(96))
    page = text(owner_client.get(PAGE))
    assert "4 days old: too old to go by" in page
    assert "a forecast this old misleads" in page
    assert 'badge good">yes' not in page


def test_with_every_provider_dead_the_page_opens_and_says_how_old_it_is(owner_client, settings):
    forecast(woodlot(), fetched_at=made.hours_ago(5))
    made.every_service_at(settings, "http://127.0.0.1:9")
    page = text(owner_client.post(REFRESH, follow=True))
    assert "fetched 5 h ago" in page
    assert "could not be reached" in page
    assert "What was stored before is kept." in page
    assert 'badge good">yes' in page


def test_after_a_restart_without_network_the_stored_days_are_there(owner_client, settings):
    forecast(woodlot())
    made.every_service_at(settings, "not an address")
    # The page reads the store alone: no provider is even made.
    assert 'badge good">yes' in text(owner_client.get(PAGE))


def test_one_woodlot_left_behind_says_its_own_age(owner_client):
    old, new = woodlot("Left behind"), woodlot("Up to date")
    forecast(old, fetched_at=made.hours_ago(30))
    forecast(new)
    page = text(owner_client.get(PAGE))
    assert "30 h old" in page
    assert "fetched just now" in page


def test_refresh_stores_and_says_so(owner_client, standin):
    woodlot()
    page = text(owner_client.post(REFRESH, follow=True))
    assert "Fresh hours for all woodlots: 1." in page
    assert {run.fetched_at for run in ForecastRun.objects.all()} == {NOW}
    assert "Open-Meteo" in page


@pytest.mark.parametrize("fault", ["bad_gateway", "nulls_all", "limit_hour", "mid_stream"])
def test_refresh_that_fails_says_why_and_keeps_what_was_there(owner_client, standin, fault):
    forecast(woodlot())
    standin.fail(fault)
    page = text(owner_client.post(REFRESH, follow=True))
    assert "Nothing new." in page
    assert RefreshAttempt.objects.get().outcome == "failed"
    assert 'badge good">yes' in page


def test_refresh_that_was_not_asked_says_why(owner_client):
    assert "add one first" in text(owner_client.post(REFRESH, follow=True))


def test_the_crew_may_refresh_too(crew_client, standin):
    woodlot()
    assert "Fresh hours" in text(crew_client.post(REFRESH, follow=True))


def test_refresh_is_a_post_and_the_page_a_get(owner_client):
    assert owner_client.get(REFRESH).status_code == 405
    assert owner_client.post(PAGE).status_code == 405


def test_strangers_are_sent_to_sign_in(client, db, fixed_clock):
    for response in (client.get(PAGE), client.post(REFRESH)):
        assert response.url.startswith(reverse("operation:sign_in"))


def test_demo_weather_is_marked_as_invented(owner_client, settings):
    settings.THAWLINE_DEMO = True
    forecast(woodlot())
    assert "Demo weather: invented." in text(owner_client.get(PAGE))


def test_real_weather_is_not_marked_as_invented(owner_client):
    forecast(woodlot())
    assert "invented" not in text(owner_client.get(PAGE))


def test_a_remark_of_the_checks_is_shown_with_its_woodlot(owner_client):
    lot = woodlot("North lot")
    note = {"kind": "missing_hours", "detail": "24 of 408 hours are missing.", "woodlot": lot.pk}
    forecast(lot, findings=[note])
    assert "North lot: 24 of 408 hours are missing." in text(owner_client.get(PAGE))


def test_the_woodlot_asked_for_is_the_one_drawn(owner_client):
    for name in ("First", "Second"):
        lot = woodlot(name)
        forecast(lot)
    response = owner_client.get(PAGE, {"woodlot": lot.pk})
    assert response.context["figure"].title == "Second: air temperature by hour"
    assert owner_client.get(PAGE).context["figure"].title.startswith("First")


@pytest.mark.parametrize("query", [{"woodlot": "x"}, {"woodlot": "999999"}, {"page": "x"}])
def test_a_bad_address_shows_the_first_page(owner_client, query):
    forecast(woodlot())
    response = owner_client.get(PAGE, query)
    assert response.status_code == 200
    assert response.context["figure"] is not None


def test_a_woodlot_that_is_withheld_says_so_when_asked_for(owner_client):
    lot = woodlot()
    forecast(lot, fetched_at=made.hours_ago(96))
    page = text(owner_client.get(PAGE, {"woodlot": lot.pk}))
    assert "Withheld: the forecast is 4 days old" in page


def figure(lot, unit_system="us"):
    tz = ZoneInfo("America/New_York")
    row = queries.freeze_thaw_days([lot], constants(), tz, NOW)[lot.pk]
    return charts.hours_about_freezing(row, constants(), unit_system, NOW)


def test_the_picture_draws_the_hours_gaps_and_both_limits(db):
    lot = woodlot()
    forecast(lot, [-5.0, None] + [1.0] * 94)
    spec = figure(lot).spec
    trace = spec["data"][0]
    assert trace["x"][:2] == ["2026-03-16T00:00", "2026-03-16T01:00"]
    assert trace["y"][:3] == [23.0, None, 33.8]
    assert trace["connectgaps"] is False
    limits = {line["name"]: line["y"] for line in spec["data"][1:]}
    assert limits["Thaw limit 36.0 °F"] == pytest.approx([35.96, 35.96])
    assert limits["Freeze limit 30.0 °F"] == pytest.approx([30.02, 30.02])


def test_the_picture_in_metric_units(db):
    lot = woodlot()
    forecast(lot)
    spec = figure(lot, "metric").spec
    assert spec["data"][0]["y"][0] == -5.0
    assert spec["layout"]["yaxis"]["title"]["text"] == "°C"


def test_the_table_under_the_picture_holds_every_hour_of_it(owner_client):
    lot = woodlot()
    forecast(lot, made.freezing_and_thawing(4))
    response = owner_client.get(PAGE)
    spec = json.loads(json.dumps(response.context["figure"].spec))
    assert len(response.context["chosen"].hours()) == len(spec["data"][0]["y"]) == 96
    assert text(response).count('<tr><th scope="row">') >= 96


def test_without_days_there_is_no_picture(db):
    assert figure(woodlot()) is None


def many(runs, numbers):
    lots = Woodlot.objects.bulk_create(
        Woodlot(name=f"Lot {number:04}", latitude=43.9, longitude=-75.3, elevation_m=400.0)
        for number in numbers
    )
    hours = np.ones(60, PACKED).tobytes()
    HourlySeries.objects.bulk_create(
        HourlySeries(run=run, woodlot=lot, start_at=MIDNIGHT, hours=60, packed=hours)
        for run in runs
        for lot in lots
    )


@pytest.mark.parametrize("query", [{}, {"page": "2"}])
def test_the_page_asks_the_database_the_same_at_ten_and_a_thousand(owner_client, query):
    runs = [made.run(fetched_at=made.hours_ago(hour)) for hour in range(8)]
    counts = []
    for numbers in (range(10), range(10, 60), range(60, 1000)):
        many(runs, numbers)
        with CaptureQueriesContext(connection) as captured:
            owner_client.get(PAGE, query)
        counts.append(len(captured))
    assert counts[0] == counts[1] == counts[2]


def test_a_thousand_woodlots_come_fifty_to_a_page(owner_client):
    for number in range(51):
        woodlot(f"Lot {number:02}")
    page = text(owner_client.get(PAGE))
    assert "Page 1 of 2" in page
    assert "Lot 50" not in page
    assert "Lot 50" in text(owner_client.get(PAGE, {"page": 2}))


def test_two_hundred_runs_cost_no_more_than_one(owner_client, django_assert_num_queries):
    lot = woodlot()
    forecast(lot)
    with CaptureQueriesContext(connection) as one:
        owner_client.get(PAGE)
    for hour in range(200):
        forecast(lot, fetched_at=made.hours_ago(hour + 1))
    with django_assert_num_queries(len(one)):
        owner_client.get(PAGE)


def strip_page(now=NOW):
    request = RequestFactory().get("/")
    strip = queries.weather_strip(constants(), ZoneInfo("America/New_York"), now)
    context = {"strip": strip, "operation": current_operation()}
    return " ".join(render_to_string("weather/_strip.html", context, request).split())


def test_the_strip_for_the_board_says_days_in_words(db, fixed_clock):
    forecast(woodlot())
    page = strip_page()
    assert "1 of 1" in page
    assert "Mon 16<" in page
    assert "fresh" in page
    assert PAGE in page


def test_the_strip_without_a_forecast_says_what_to_do(db):
    assert "No forecast yet" in strip_page()


def test_the_strip_never_shows_days_too_old_to_go_by(db):
    forecast(woodlot(), fetched_at=NOW - timedelta(days=4))
    page = strip_page()
    assert "too old to go by" in page
    assert "Mon 16<" not in page


def ensemble(lot, yes, no, model="model a", **changes):
    run = made.run(provider="open-meteo", product="ensemble", model=model, **changes)
    rows = [made.freezing_and_thawing(10)] * yes + [[3.0] * 240] * no
    made.stored(run, lot, rows, start_at=MIDNIGHT)


@pytest.mark.parametrize(
    ("yes", "no", "shown"),
    [
        (15, 5, "75 %"),
        (20, 0, "100 %"),
        (0, 20, "0 %"),
        (1, 149, "under 1 %"),
        (149, 1, "over 99 %"),
    ],
)
def test_a_chance_is_a_percentage_with_the_members_it_rests_on(owner_client, yes, no, shown):
    ensemble(woodlot(), yes, no)
    page = text(owner_client.get(PAGE))
    assert f">{shown}</span>" in page
    assert f"{yes + no} members</span>" in page


def test_a_single_forecast_has_words_instead(owner_client):
    forecast(woodlot())
    page = text(owner_client.get(PAGE))
    assert "one forecast</span>" in page
    assert " %</span>" not in page


def test_too_few_members_are_told_without_a_percentage(owner_client):
    ensemble(woodlot(), 9, 0)
    page = text(owner_client.get(PAGE))
    assert "only 9 members</span>" in page
    assert " %</span>" not in page


def test_days_beyond_the_seventh_say_low_confidence(owner_client):
    ensemble(woodlot(), 20, 0)
    days = text(owner_client.get(PAGE)).split('<table class="by-day">')[1].split("</table>")[0]
    # Ten days are stored, today the first.
    assert days.count("low confidence") == 3
    assert "low confidence" not in days.split("Mon 23 Mar")[0]


def test_every_model_behind_the_page_is_named_with_its_run(owner_client):
    lot = woodlot()
    ensemble(lot, 20, 0, "coarse", run_time=made.hours_ago(7), native_step_hours=6)
    ensemble(lot, 5, 5, "fine")
    page = text(owner_client.get(PAGE))
    assert "Models behind this page (2)" in page
    assert "model coarse, 20 members: run of about" in page
    assert "a value every 6 hours and the rest interpolated" in page
    assert "2 models, each model weighing the same" in page


def test_the_terms_of_every_service_and_their_order_are_told(owner_client, settings):
    woodlot()
    settings.WEATHER_SOURCES = ["nws", "met-norway"]
    page = text(owner_client.get(PAGE))
    assert "Asked in this order: nws, met-norway" in page
    for words in ("non-commercial use", "CC BY 4.0", "NLOD 2.0", "free for any purpose"):
        assert words in page


def test_how_each_service_answered_is_told(owner_client, standin, settings):
    settings.WEATHER_SOURCES = ["open-meteo-ensemble", "open-meteo", "met-norway"]
    settings.WEATHER_ENSEMBLE_MODELS = ["ncep_gefs_seamless"]
    woodlot()
    standin.fail("nulls_all", path="/v1/forecast")
    page = text(owner_client.post(REFRESH, follow=True))
    assert "open-meteo ncep_gefs_seamless: all woodlots asked for." in page
    assert "open-meteo best_match: failed." in page
    # The next in order was asked, and would not answer without a contact.
    assert "met-norway compact 2.0: failed." in page
    assert "THAWLINE_CONTACT" in page


def test_an_unknown_source_in_the_settings_is_told_and_nobody_is_asked(owner_client, settings):
    woodlot()
    settings.WEATHER_SOURCES = ["tea-leaves"]
    page = text(owner_client.post(REFRESH, follow=True))
    assert "names &#x27;tea-leaves&#x27;; known are open-meteo-ensemble" in page
    assert not RefreshAttempt.objects.exists()

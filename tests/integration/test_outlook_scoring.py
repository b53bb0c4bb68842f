"""Kept forecasts replayed and held against what came, from the store to the page.

The clock says 16 March 2026, 07:00 in New York. A forecast "of the 10th" is fetched at 11:00 UTC
that day and holds whole local days from it on.
"""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from apps.operation.queries import constants
from apps.outlook import scoring_queries
from apps.outlook.came import ARCHIVED, MEASURED, SAID_LATER, came
from apps.weather.models import HourlySeries
from tests.factories import readings, weather, woods
from tests.factories.operation import FIXED_NOW, operation

pytestmark = pytest.mark.django_db
URL = reverse("outlook:scores")
ZONE = ZoneInfo("America/New_York")
# Midnight in New York, before and after the clocks went forward on 8 March.
MIDNIGHT = {1: 5, 9: 4, 10: 4, 11: 4, 12: 4, 13: 4, 14: 4, 15: 4}
COLD_AND_WARM = [-5.0] * 12 + [6.0] * 12
ALWAYS_COLD = [-5.0] * 24


def midnight(day, month=3):
    return datetime(2026, month, day, MIDNIGHT.get(day, 5 if month < 3 else 4), tzinfo=UTC)


def forecast_of(day, lot, days, members=1, **changes):
    """A run fetched at 11:00 UTC of a March day whose hours begin at its local midnight."""
    fields = {"model": "members"} if members > 1 else {}
    run = weather.run(fetched_at=midnight(day).replace(hour=11), **fields | changes)
    hours = np.tile(np.concatenate(days), (members, 1))
    return weather.stored(run, lot, hours, start_at=midnight(day))


@pytest.fixture
def lot(db):
    operation()
    return woods.woodlot()


@pytest.fixture
def measured(lot):
    """Own readings of 10 to 15 March, freezing and thawing every day, -5 and 6 C."""
    readings.readings(readings.thermometer(lot), midnight(10), COLD_AND_WARM * 6)


def scores(*lots, seasons=(2026,), now=FIXED_NOW):
    return scoring_queries.scores(lots, seasons, constants(), ZONE, now)


def by_key(lot):
    return {(pair.date.day, pair.lead_days): pair for pair in scores(lot).pairs}


def test_a_forecast_is_scored_on_the_days_after_it_that_have_come(lot, measured):
    forecast_of(12, lot, [COLD_AND_WARM] * 6)
    # Today is partly over when stated, and the 16th and 17th have not come by the 16th.
    assert sorted(by_key(lot)) == [(13, 1), (14, 2), (15, 3)]


def test_what_was_stated_stands_beside_what_came(lot, measured):
    forecast_of(12, lot, [COLD_AND_WARM, [-3.0] * 12 + [4.0] * 12, *[COLD_AND_WARM] * 2])
    pair = by_key(lot)[13, 1]
    assert (pair.stated_minimum_c, pair.stated_maximum_c) == (-3.0, 4.0)
    assert (pair.minimum_c, pair.maximum_c, pair.came, pair.source) == (-5, 6, True, MEASURED)
    assert (pair.probability, pair.verdict) == (None, "yes")


def test_members_give_the_chance_the_page_gave(lot, measured):
    row = forecast_of(12, lot, [COLD_AND_WARM] * 4, members=12)
    hours = row.temps_c()
    hours[:3] = -5.0  # three of twelve never thaw
    HourlySeries.objects.filter(pk=row.pk).update(packed=hours.astype("<f4").tobytes())
    assert by_key(lot)[13, 1].probability == pytest.approx(0.75)


def test_the_first_forecast_of_a_day_is_the_one_scored(lot, measured):
    forecast_of(12, lot, [COLD_AND_WARM] * 3)
    later = weather.run(fetched_at=midnight(12).replace(hour=20))
    weather.stored(later, lot, ALWAYS_COLD * 3, start_at=midnight(12))
    assert by_key(lot)[13, 1].verdict == "yes"
    assert scores(lot).mornings == 1


def test_an_evening_forecast_belongs_to_its_local_day(lot, measured):
    # 02:00 UTC of the 13th is still the evening of the 12th in New York.
    run = weather.run(fetched_at=datetime(2026, 3, 13, 2, tzinfo=UTC))
    weather.stored(run, lot, COLD_AND_WARM * 4, start_at=midnight(12))
    assert (13, 1) in by_key(lot)


def test_a_forecast_fetched_after_now_is_left_out(lot, measured):
    # The demo's clock can be put back.
    run = weather.run(fetched_at=FIXED_NOW + timedelta(hours=1))
    weather.stored(run, lot, COLD_AND_WARM * 4, start_at=midnight(13))
    assert scores(lot).pairs == ()


def test_a_mixed_day_is_never_judged(lot):
    # Twelve hours measured, twelve said later: neither knows the twenty a day needs.
    readings.readings(readings.thermometer(lot), midnight(13), [-5.0] * 12)
    run = weather.run(fetched_at=midnight(15).replace(hour=11))
    weather.stored(run, lot, [6.0] * 12 + ALWAYS_COLD, start_at=midnight(13) + timedelta(hours=12))
    forecast_of(12, lot, [COLD_AND_WARM] * 4)
    assert (13, 1) not in by_key(lot)


def test_without_a_thermometer_the_later_word_of_the_service_judges(lot):
    forecast_of(12, lot, [COLD_AND_WARM] * 4)
    forecast_of(15, lot, [ALWAYS_COLD])
    run = weather.run(fetched_at=midnight(15).replace(hour=12), model="with yesterday")
    weather.stored(run, lot, ALWAYS_COLD * 3, start_at=midnight(13))
    pair = by_key(lot)[14, 2]
    assert (pair.source, pair.came, pair.verdict) == (SAID_LATER, False, "yes")


def test_a_forecast_never_judges_itself(lot):
    # Its hours to come are no word on what came.
    forecast_of(12, lot, [COLD_AND_WARM] * 4)
    assert scores(lot).pairs == ()


@pytest.fixture
def truths(lot):
    """The 13th known in three ways: 6 C measured, 5 C archived, 4 C said later."""
    readings.readings(readings.thermometer(lot), midnight(13), [6.0] * 24)
    temps = np.full(readings.winter_hours(2026), 5.0)
    readings.archive_winter(lot, 2026, temps)
    run = weather.run(fetched_at=midnight(14).replace(hour=11))
    return [weather.stored(run, lot, [4.0] * 48, start_at=midnight(13))]


@pytest.mark.parametrize(
    ("day", "source", "high"),
    [(13, MEASURED, 6.0), (12, ARCHIVED, 5.0)],
)
def test_measured_goes_before_archived_before_said_later(lot, truths, day, source, high):
    found = came([lot], midnight(12), constants(), FIXED_NOW, truths)[lot.pk]
    kind, judged = found.days(ZONE, -1.1, 2.2)[date(2026, 3, day)]
    assert (kind, judged.maximum_c) == (source, high)


def test_hours_are_counted_by_where_they_are_from(lot, truths):
    found = came([lot], midnight(13), constants(), FIXED_NOW - timedelta(days=1), truths)[lot.pk]
    # 55 hours from the midnight of the 13th to 11:00 UTC of the 15th.
    assert found.words == "24 h measured in the woods, 31 h from the archive"
    assert found.temps_c[:25].tolist() == [6.0] * 24 + [5.0]


def test_no_hour_known_is_said(lot):
    found = came([lot], midnight(13), constants(), FIXED_NOW)[lot.pk]
    assert found.words == "no hour is known"


def test_an_hour_sent_twice_is_their_mean_and_goes_before_an_import(lot):
    readings.imported(lot, midnight(13), [1.0, 2.0])
    device = readings.thermometer(lot)
    readings.reading(device, midnight(13), 3.0)
    readings.reading(device, midnight(13) + timedelta(minutes=30), 5.0)
    found = came([lot], midnight(13), constants(), FIXED_NOW)[lot.pk]
    assert found.by_source[MEASURED][:2].tolist() == [4.0, 2.0]


def test_said_hours_are_moved_to_the_woodlots_height(lot):
    run = weather.run(fetched_at=midnight(14))
    row = weather.stored(
        run, lot, [0.0] * 24, start_at=midnight(13), elevation_used_m=lot.elevation_m - 100
    )
    found = came([lot], midnight(13), constants(), FIXED_NOW, [row])[lot.pk]
    # 100 m higher at 6.5 C a kilometre.
    assert found.by_source[SAID_LATER][0] == pytest.approx(-0.65)


def test_ten_mornings_come_to_the_paper(owner_client, lot):
    """Ten forecasts of three days, a degree too warm at night: mean error +1.8 F."""
    device = readings.thermometer(lot)
    start = datetime(2026, 2, 20, 5, tzinfo=UTC)
    readings.readings(device, start, COLD_AND_WARM * 14)
    for number in range(10):
        run = weather.run(fetched_at=start + timedelta(days=number, hours=6))
        # Four days, as one with under 48 hours left would have been withheld that day.
        hours = ([-4.0] * 12 + [6.0] * 12) * 4
        weather.stored(run, lot, hours, start_at=start + timedelta(days=number))
    response = owner_client.get(URL)
    first, *_ = response.context["scores"].leads
    assert (first.low.bias_c, first.low.absolute_c, first.high.bias_c) == (1, 1, 0)
    assert first.calls.hits == 10
    page = " ".join(response.content.decode().split())
    assert "season 2026: 12 different days</strong>" in page
    assert 'measured in the woods <span class="source">Tamarack Hollow</span>' in page
    assert '<td class="number">1.8</td>' in page
    assert 'id="misses-spec"' in page
    assert "no chances stated" in page


def test_the_page_shows_the_lead_asked_for(owner_client, lot, measured):
    forecast_of(12, lot, [COLD_AND_WARM] * 6)
    response = owner_client.get(URL, {"lead": 2})
    assert [pair.date.day for pair in response.context["ahead"]] == [14]
    assert response.context["said_and_came"].title == "Said 2 days before, and what came"


@pytest.mark.parametrize("lead", ["0", "15", "x", "", "²", "-1"])
def test_a_lead_that_is_none_is_the_usual_one(owner_client, lot, lead):
    assert owner_client.get(URL, {"lead": lead}).context.get("lead") == 3


def test_a_few_days_are_not_enough_to_go_by(owner_client, lot, measured):
    forecast_of(12, lot, [COLD_AND_WARM] * 4)
    page = owner_client.get(URL).content.decode()
    assert "Not enough yet: under 10 different days at every lead." in page
    assert "Not enough yet: 0 stated chances of at least 50." in page


def test_no_kept_forecast_says_what_to_do(owner_client, lot):
    page = owner_client.get(URL).content.decode()
    assert "No forecast is kept of season 2026." in page
    assert "Refresh the weather once a day" in page


def test_no_woodlot_says_what_to_do(owner_client):
    assert "Add a woodlot" in owner_client.get(URL).content.decode()


def test_limits_set_against_each_other_take_no_page_down(owner_client, owner, lot, measured):
    from apps.operation import actions

    forecast_of(12, lot, [COLD_AND_WARM] * 4)
    for key, value in (("weather.thaw_c", -4.0), ("weather.freeze_c", 4.0)):
        actions.change_setting(key=key, value=value, now=FIXED_NOW, by=owner)
    assert owner_client.get(URL).status_code == 200


def queries(client):
    with CaptureQueriesContext(connection) as seen:
        client.get(URL)
    return len(seen)


def test_questions_do_not_grow_with_forecasts_or_woodlots(owner_client, lot, measured):
    forecast_of(10, lot, [COLD_AND_WARM] * 3)
    before = queries(owner_client)
    for day in (11, 12, 13, 14):
        forecast_of(day, lot, [COLD_AND_WARM] * 3)
        forecast_of(day, woods.woodlot(f"Lot {day}"), [COLD_AND_WARM] * 3)
    assert queries(owner_client) == before


def test_heights_that_cannot_be_leave_the_hours_unknown(lot):
    run = weather.run(fetched_at=midnight(14))
    row = weather.stored(run, lot, [0.0] * 24, start_at=midnight(13))
    lot.temperature_offset_c = 99.0
    found = came([lot], midnight(13), constants(), FIXED_NOW, [row])[lot.pk]
    assert np.isnan(found.by_source[SAID_LATER]).all()


def test_the_whole_score_of_a_months_forecasts_takes_few_questions(
    lot, measured, django_assert_max_num_queries
):
    for day in (10, 11, 12, 13):
        forecast_of(day, lot, [COLD_AND_WARM] * 4)
    with django_assert_max_num_queries(6):
        scores(lot)

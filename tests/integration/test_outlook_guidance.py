"""The start weighed on its page: from the store, with what is absent said and fallen back from.

The woods and seasons are those of tests/factories/outlook.py: 34 pair-hours, three working days.
"""

from datetime import date, timedelta

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from apps.operation.models import SettingValue
from apps.outlook.guidance import percent
from tests.factories import outlook as paper
from tests.factories import readings, tapping, weather, woods

pytestmark = pytest.mark.django_db
URL = reverse("outlook:start_date")
TODAY = date(2026, 2, 16)
FROZEN, WARM, SOFT, SPELL = (-9.0, -4.0), (-3.0, 6.0), (-6.0, 4.0), (-2.0, 9.0)
TEN_FROZEN = [FROZEN] * 11 + [WARM] * 5
SPELL_AT_HAND = [FROZEN] + [SPELL] * 3 + [FROZEN] * 12
FREEZE_THAW_INSIDE = [FROZEN] * 4 + [SOFT, FROZEN, SOFT] + [FROZEN] * 9


@pytest.fixture
def february(owner_client, settings):
    paper.stand_at(settings, paper.mid_february)
    return owner_client


@pytest.fixture
def lots(db):
    return paper.lots()


@pytest.fixture
def late_seasons(db):
    for year in range(2016, 2026):
        tapping.first_run(date(year, 3, 20) + timedelta(days=year - 2016))


def ensemble(lots, days, *, members=12, model="by hand"):
    """Members within half a degree of each other; two frozen days, then `days` from 16 February."""
    run = weather.run(fetched_at=paper.MIDNIGHT, product="ensemble", model=model)
    hours = [hour for low, high in [FROZEN, FROZEN, *days] for hour in [low] * 12 + [high] * 12]
    spread = np.linspace(-0.25, 0.25, members)[:, None] if members > 1 else np.zeros((1, 1))
    for lot in lots:
        start_at = paper.MIDNIGHT - timedelta(days=2)
        weather.stored(run, lot, np.array(hours) + spread, start_at=start_at)


def guidance(client):
    return client.get(URL).context["guidance"]


def text(client):
    return " ".join(client.get(URL).content.decode().split())


def set_to(key, value):
    SettingValue.objects.create(key=key, value=str(value), changed_at=paper.MIDNIGHT)


def test_without_a_forecast_the_past_alone_is_counted(february, lots, late_seasons):
    told = guidance(february)
    assert told.seen is None
    assert told.told.window is not None
    page = text(february)
    assert "No forecast fit to plan by: the past first runs alone are counted." in page
    assert "Past first runs: 10, recorded by you." in page


@pytest.mark.parametrize(
    ("days", "stage", "words"),
    [
        (TEN_FROZEN, "start now", "Start now: Mon 16"),
        (SPELL_AT_HAND, "wait out", "Wait the warm spell out: start Fri 20 to Mon 23 February."),
        (FREEZE_THAW_INSIDE, "plan", "Time to plan, but no first run is on record"),
    ],
)
def test_the_three_kinds_of_forecast_reach_the_page(february, lots, days, stage, words):
    ensemble(lots, days)
    assert guidance(february).told.stage == stage
    assert words in text(february)


def test_members_and_models_are_named(february, lots, late_seasons):
    ensemble(lots, TEN_FROZEN, members=12, model="one")
    ensemble(lots, TEN_FROZEN, members=8, model="two")
    page = text(february)
    assert "20 members of 2 models (one, two)" in page
    assert "the earliest woodlot left" in page


def test_a_single_forecast_gives_no_percentage(february, lots, late_seasons):
    ensemble(lots, TEN_FROZEN, members=1)
    page = text(february)
    assert {row.caught for row in guidance(february).rows} == {"no percentage: under ten members"}
    assert "Chance that it is every one: <strong>no percentage: under ten members" in page
    assert "Too few for a percentage." in page


def test_every_start_says_what_it_rests_on(february, lots, late_seasons):
    ensemble(lots, SPELL_AT_HAND)
    rows = guidance(february).rows
    first = rows[0]
    # Nothing is tallied today, so today itself is a day to start on; 12 of 34 hours are then done.
    assert first.row.start == TODAY
    assert first.warm_days == [
        (date(2026, 2, 17), percent(12 / 34)),
        (date(2026, 2, 18), percent(24 / 34)),
    ]
    assert first.row.missed == ()
    # Run days before anything is in cost 2,750 taps x 0.9 gal of 3.785 L each.
    assert rows[-1].litres[1] == pytest.approx(rows[-1].missed.high * 2750 * 0.9 * 3.785411784)


def test_what_waiting_costs_a_hole_is_not_known_until_the_owner_says(february, lots, late_seasons):
    assert "What each week costs is not known: no published share was found" in text(february)
    assert {row.lost for row in guidance(february).rows} == {None}
    set_to("start.ageing_high", 0.02)
    row = guidance(february).rows[0]
    assert row.lost == pytest.approx((0.02 * row.weeks, 0.02 * row.weeks))
    assert "your own figure" in text(february)


def test_fewer_than_three_recorded_dates_give_way_to_the_weather_and_say_so(february, lots):
    tapping.first_run(date(2024, 3, 3))
    for winter in (2023, 2024, 2025):
        hours = readings.winter_hours(winter)
        day = np.arange(hours) // 24
        mean = np.interp(day, [0, 50, 181], [-8.0, -8.0, 14.0])
        temps = mean + 6 * np.sin(2 * np.pi * (np.arange(hours) % 24) / 24)
        for lot in lots:
            readings.archive_winter(lot, winter, temps)
    told = guidance(february)
    assert told.past.source == "inferred"
    assert sorted(told.past.first_runs) == [2023, 2024, 2025]
    assert "inferred from past weather, because fewer than three are recorded" in text(february)


def test_with_no_past_weather_the_few_recorded_dates_are_used(february, lots):
    tapping.first_run(date(2024, 3, 3))
    told = guidance(february)
    assert (told.past.source, list(told.past.first_runs)) == ("recorded", [2024])


def test_with_nothing_to_go_by_it_says_so(february, lots):
    assert guidance(february).told.stage == "not known"
    assert "Cannot say: there is neither a forecast nor a past first run to go by." in text(
        february
    )


def test_taps_set_bring_the_ready_morning_forward(february, lots, late_seasons, owner):
    before = guidance(february).rows[0]
    line = lots[0].lines.get()
    tapping.tally(line, owner, 1150, tallied_on=date(2026, 2, 14), pair_hours=11.5)
    after = guidance(february).rows[0]
    assert after.row.work.ready_morning < before.row.work.ready_morning
    assert after.row.work.share_set(after.row.start) == pytest.approx(1150 / 2750)
    assert "Going on " in text(february)


def test_once_the_first_run_has_come_there_is_no_chance_left_to_weigh(february, lots, late_seasons):
    tapping.first_run(date(2026, 2, 15))
    assert guidance(february) is None
    assert "The first run has come; 2,750 taps are not set." in text(february)


def test_before_december_nothing_is_weighed(owner_client, settings, lots, late_seasons):
    paper.stand_at(settings, paper.summer)
    assert guidance(owner_client) is None
    assert "From 1 December on" in text(owner_client)


def test_without_planned_taps_it_says_what_it_needs(february):
    woods.woodlot("Bare")
    assert guidance(february) is None
    assert "Cannot say: no line has planned taps for season 2026." in text(february)


def test_settings_against_each_other_take_nothing_down(february, lots, late_seasons):
    set_to("start.warm_end_c", 0)
    assert guidance(february) is None


def test_what_would_change_the_answer_is_worked_out(february, lots):
    for year in range(2016, 2026):
        tapping.first_run(date(year, 2, 27) + timedelta(days=year - 2016))
    ensemble(lots, [FROZEN] * 16)
    told = guidance(february)
    names = {change.name for change in (*told.movers, *told.unmoved)}
    assert {"one pair more", "one pair fewer", "days ahead warmer by 2 °C (3.6 °F)"} <= names
    fewer = next(one for one in told.movers if one.name == "one pair fewer")
    assert fewer.days < 0
    assert "One pair fewer: the last day to start moves" in text(february)


def test_one_pair_cannot_be_one_fewer(february, lots, late_seasons):
    tapping.crew_plan(pairs=1)
    told = guidance(february)
    assert "one pair fewer" not in {one.name for one in (*told.movers, *told.unmoved)}


def test_the_woodlot_that_runs_earliest_is_first(february, lots, late_seasons):
    # Swamp Lot is the slowest to tap, but only its forecast runs.
    ensemble(lots[:2], [FROZEN] * 16, model="cold")
    ensemble(lots[2:], [FROZEN] * 2 + [SPELL] * 14, model="warm")
    told = guidance(february)
    assert [lot.name for lot in told.order] == ["Swamp Lot", "Tamarack Hollow", "Beech Ridge"]
    assert told.woodlot.name == "Swamp Lot"


def test_three_dates_of_its_own_put_a_woodlot_first(february, lots, late_seasons):
    for year in (2023, 2024, 2025):
        tapping.first_run(date(year, 2, 25), woodlot=lots[1])
    # The operation's own day of each season stands; the woodlot's is for the order alone.
    told = guidance(february)
    assert told.order[0].name == "Beech Ridge"
    assert told.order[0].first_run == date(2026, 2, 25)


def test_the_warmth_is_fitted_once_three_winters_have_a_date(february, lots):
    for year in (2023, 2024, 2025):
        tapping.first_run(date(year, 3, 10))
        hours = readings.winter_hours(year)
        day = np.arange(hours) // 24
        mean = np.interp(day, [0, 80, 181], [-9.0, -6.0, 14.0])
        temps = mean + 7 * np.sin(2 * np.pi * (np.arange(hours) % 24) / 24)
        for lot in lots:
            readings.archive_winter(lot, year, temps)
    told = guidance(february)
    assert told.setting.seasons == (2023, 2024, 2025)
    assert told.question.signs.first_run_degree_hours == told.setting.thaw_degree_hours
    assert "fitted to 3 of your own dates" in text(february)


def test_the_page_costs_the_same_for_three_woodlots_and_for_nine(february, lots, late_seasons):
    ensemble(lots, TEN_FROZEN)
    february.get(URL)
    counts = []
    for more in (0, 6):
        for number in range(more):
            lot = woods.woodlot(f"More {number}")
            woods.line(lot, "1", planned_taps=100)
        with CaptureQueriesContext(connection) as captured:
            february.get(URL)
        counts.append(len(captured))
    assert counts[0] == counts[1]


@pytest.mark.parametrize(
    ("share", "words"),
    [
        (None, "not known"),
        (0.0, "under 1 %"),
        (0.125, "12 %"),
        (0.8, "80 %"),
        (0.994, "over 99 %"),
        (1.0, "over 99 %"),
    ],
)
def test_shares_are_whole_percents_and_never_certain(share, words):
    assert percent(share) == words.replace(" %", "\u00a0%")

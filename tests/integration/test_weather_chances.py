"""Chances by hand: equal weight per model, enough full members, one source, nothing too old.

The rule is the usual reading of an ensemble (common practice, no source): members that meet it
over members known for the whole local day.
"""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from apps.operation.models import SettingValue
from apps.operation.queries import constants
from apps.weather import queries
from tests.factories import weather as made
from tests.factories.woods import woodlot

NEW_YORK = ZoneInfo("America/New_York")
NOW = made.NOW
MIDNIGHT = datetime(2026, 3, 16, 4, tzinfo=UTC)
YES, NO = made.freezing_and_thawing(10), [3.0] * 240

pytestmark = pytest.mark.django_db


def ensemble(lot, yes, no, model="model a", *, fetched_at=NOW, **changes):
    """`yes` members that freeze and thaw every day and `no` that stay warm."""
    run = made.run(
        provider="open-meteo", product="ensemble", model=model, fetched_at=fetched_at, **changes
    )
    return made.stored(run, lot, [YES] * yes + [NO] * no, start_at=MIDNIGHT)


def forecast(lot, temps=YES, **changes):
    run = made.run(provider="open-meteo", model="best_match", **changes)
    return made.stored(run, lot, temps, start_at=MIDNIGHT)


def chances(lot, now=NOW):
    return queries.day_chances([lot], constants(), NEW_YORK, now)[lot.pk]


def spoil(row, members, hours):
    temps = row.temps_c()
    temps[members, hours] = np.nan
    row.packed = temps.astype("<f4").tobytes()
    row.save()


@pytest.mark.parametrize(
    ("yes", "no", "probability"), [(31, 0, 1.0), (0, 31, 0.0), (10, 30, 0.25), (5, 5, 0.5)]
)
def test_a_chance_is_the_share_of_the_members(yes, no, probability):
    lot = woodlot()
    ensemble(lot, yes, no)
    day = chances(lot)[0]
    assert day.date == date(2026, 3, 16)
    assert (day.probability, day.yes, day.full, day.models) == (probability, yes, yes + no, 1)


def test_models_weigh_the_same_however_many_members_they_have():
    lot = woodlot()
    ensemble(lot, 40, 0, "large")
    ensemble(lot, 5, 15, "small")
    day = chances(lot)[0]
    # The mean of 40/40 and 5/20, not 45/60.
    assert day.probability == pytest.approx(0.625)
    assert (day.full, day.models) == (60, 2)


@pytest.mark.parametrize(("members", "shown"), [(9, False), (10, True)])
def test_under_ten_full_members_there_is_no_percentage(members, shown):
    lot = woodlot()
    ensemble(lot, members, 0)
    day = chances(lot)[0]
    assert (day.probability is not None, day.full) == (shown, members)


def test_a_member_with_an_hour_missing_is_not_counted_that_day_and_is_the_next():
    lot = woodlot()
    row = ensemble(lot, 10, 10)
    # Hour 5 of a member that has seen both already: counting it would favour yes.
    spoil(row, 0, 23)
    first, second = chances(lot)[:2]
    assert (first.yes, first.full) == (9, 19)
    assert (second.yes, second.full) == (10, 20)


def test_a_single_forecast_has_words_and_no_percentage():
    lot = woodlot()
    forecast(lot)
    day = chances(lot)[0]
    assert (day.probability, day.full, day.models, day.verdict) == (None, 0, 0, "yes")
    assert (day.minimum_c, day.maximum_c) == (-5.0, 6.0)
    assert (day.lowest_c, day.highest_c) == (None, None)


def test_the_words_beside_a_chance_are_those_of_the_forecast():
    lot = woodlot()
    forecast(lot, NO)
    ensemble(lot, 31, 0)
    day = chances(lot)[0]
    assert (day.probability, day.verdict) == (1.0, "no")


def test_low_and_high_are_the_middle_of_the_models_and_the_outermost_beside_them():
    lot = woodlot()
    rows = [[low] * 12 + [high] * 228 for low, high in ((-8, 1), (-4, 2), (-3, 9))]
    for model, count in (("a", 4), ("b", 8)):
        run = made.run(provider="open-meteo", product="ensemble", model=model)
        made.stored(run, lot, rows * count, start_at=MIDNIGHT)
    day = chances(lot)[0]
    assert (day.minimum_c, day.maximum_c) == (-4.0, 2.0)
    assert (day.lowest_c, day.highest_c) == (-8.0, 9.0)


def test_days_beyond_the_seventh_are_marked():
    lot = woodlot()
    ensemble(lot, 20, 0)
    days = chances(lot)
    assert [day.lead_days for day in days] == list(range(10))
    assert [day.low_confidence for day in days] == [False] * 7 + [True] * 3


def test_members_are_moved_to_the_woodlots_height_and_offset_once():
    lot = woodlot(elevation_m=500.0, temperature_offset_c=1.0)
    run = made.run(provider="open-meteo", product="ensemble", native_step_hours=3)
    made.stored(run, lot, [[2.0] * 100] * 12, start_at=MIDNIGHT, elevation_used_m=400.0)
    (model,) = queries.members([lot], constants(), NOW)[lot.pk]
    # 100 m up: 0.65 C colder; the stand is 1 C warmer.
    assert model.temps_c == pytest.approx(np.full((12, 100), 2.35), abs=1e-4)
    assert (model.native_step_hours, model.start_at, model.run) == (3, MIDNIGHT, run)


def test_members_without_an_ensemble_are_the_single_forecast_alone():
    lot, bare = woodlot(), woodlot("Bare")
    forecast(lot)
    found = queries.members([lot, bare], constants(), NOW)
    assert [model.gives_chances for model in found[lot.pk]] == [False]
    assert found[bare.pk] == []


def test_with_an_ensemble_the_single_forecast_is_no_member():
    lot = woodlot()
    forecast(lot)
    ensemble(lot, 20, 0)
    assert [model.product for model in queries.members([lot], constants(), NOW)[lot.pk]] == [
        "ensemble"
    ]


def test_a_model_too_old_to_go_by_is_left_out_of_the_pool():
    lot = woodlot()
    ensemble(lot, 0, 20, "old", fetched_at=made.hours_ago(73))
    ensemble(lot, 20, 0, "young")
    day = chances(lot)[0]
    assert (day.probability, day.models) == (1.0, 1)


def test_the_age_of_members_is_that_of_their_run():
    lot = woodlot()
    ensemble(lot, 20, 0, run_time=made.hours_ago(74))
    assert chances(lot) == []


def test_only_the_newest_run_of_a_model_counts():
    lot = woodlot()
    ensemble(lot, 0, 20, fetched_at=made.hours_ago(6))
    ensemble(lot, 20, 0, fetched_at=made.hours_ago(1))
    assert chances(lot)[0].probability == 1.0


def test_limits_set_against_each_other_give_no_chances():
    lot = woodlot()
    ensemble(lot, 20, 0)
    SettingValue.objects.create(key="weather.freeze_c", value="9.0", changed_at=NOW)
    assert chances(lot) == []


def test_members_spoilt_in_the_store_cost_only_their_model():
    lot = woodlot()
    spoilt = ensemble(lot, 20, 0, "spoilt")
    spoilt.packed = np.full((20, 240), 1e30, "<f4").tobytes()
    spoilt.save()
    ensemble(lot, 5, 15, "good")
    assert (chances(lot)[0].probability, chances(lot)[0].models) == (0.25, 1)


@pytest.mark.parametrize(
    ("start", "change", "hours"),
    [
        # Local midnights in New York before the changes of 2026 (tz database 2025).
        (datetime(2026, 3, 7, 5, tzinfo=UTC), date(2026, 3, 8), 23),
        (datetime(2026, 10, 31, 4, tzinfo=UTC), date(2026, 11, 1), 25),
    ],
)
@pytest.mark.parametrize("missing", [0, 1])
def test_a_member_is_whole_when_it_knows_all_hours_of_a_changed_day(start, change, hours, missing):
    lot, now = woodlot(), start + timedelta(hours=9)
    run = made.run(provider="open-meteo", product="ensemble", fetched_at=now)
    known = [-5.0] * (24 + hours - missing) + [None] * missing + [-5.0] * 48
    made.stored(run, lot, [known] * 12, start_at=start)
    days = {day.date: day.full for day in chances(lot, now)}
    assert days[change] == (0 if missing else 12)
    assert days[change + timedelta(days=1)] == 12


ORDER = ["open-meteo-ensemble", "open-meteo", "nws", "met-norway"]


def stored(lot, provider, product, age_hours=1, temps=YES):
    run = made.run(provider=provider, product=product, fetched_at=made.hours_ago(age_hours))
    return made.stored(run, lot, temps, start_at=MIDNIGHT)


@pytest.mark.parametrize(
    ("ages", "order", "chosen"),
    [
        ({"open-meteo": 1, "nws": 1, "met-norway": 1}, ORDER, "open-meteo"),
        ({"open-meteo": 1, "nws": 1}, ["nws", "open-meteo"], "nws"),
        # A fresh one before one of last night, whatever the order.
        ({"open-meteo": 12, "nws": 1}, ORDER, "nws"),
        ({"open-meteo": 30, "met-norway": 12}, ORDER, "met-norway"),
        # All too old: the youngest's age is the one to tell.
        ({"open-meteo": 90, "nws": 80}, ORDER, "nws"),
    ],
)
def test_days_are_of_one_source_the_first_that_is_young(settings, ages, order, chosen):
    settings.WEATHER_SOURCES = order
    products = {"open-meteo": "forecast", "nws": "gridpoints", "met-norway": "locationforecast"}
    lot = woodlot()
    for provider, age in ages.items():
        stored(lot, provider, products[provider], age)
    best = queries.latest_series([lot], NOW, NEW_YORK)[lot.pk]
    assert best.run.provider == chosen


def test_without_a_forecast_the_days_are_of_an_ensembles_control_run():
    lot = woodlot()
    ensemble(lot, 1, 19)
    row = queries.freeze_thaw_days([lot], constants(), NEW_YORK, NOW)[lot.pk]
    assert row.days[0].verdict == "yes"
    assert row.series.run.product == "ensemble"


def test_the_hours_between_six_hourly_values_stay_unknown():
    lot = woodlot()
    temps = [3.0] * 24 + [3.0, *[None] * 5] * 8
    run = made.run(provider="met-norway", product="locationforecast")
    made.stored(run, lot, temps, start_at=MIDNIGHT, coarse_from=24, coarse_step_hours=6)
    row = queries.freeze_thaw_days([lot], constants(), NEW_YORK, NOW)[lot.pk]
    assert [day.verdict for day in row.days] == ["no", "unknown", "unknown"]
    assert row.series.coarse_from_at == MIDNIGHT + timedelta(hours=24)


@pytest.mark.parametrize("offset_c", [99.0, -99.0])
def test_an_offset_that_cannot_be_leaves_its_woodlot_without_a_chance_and_no_other(offset_c):
    lot, other = woodlot(), woodlot("North ridge")
    for one in (lot, other):
        ensemble(one, 10, 10)
    # Past what the database takes: as a restored or hand-mended file may hold it.
    lot.temperature_offset_c = offset_c
    found = queries.members([lot, other], constants(), NOW)
    assert (len(found[lot.pk]), len(found[other.pk])) == (0, 1)

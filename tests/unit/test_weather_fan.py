"""The fan of members about freezing and the calendar of chances, by hand-made members."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from apps.operation.queries import Constants
from apps.weather.charts_fan import calendar, fan_about_freezing
from apps.weather.queries import ModelMembers
from apps.weather.queries.fan import fan

ZONE = ZoneInfo("America/New_York")
DAY = date(2026, 3, 16)
MIDNIGHT = datetime(2026, 3, 16, 4, tzinfo=UTC)
NAN = float("nan")


def model(temps_c, *, start_at=MIDNIGHT, name="one"):
    """Members as rows; the run and its age play no part here."""
    return ModelMembers(
        provider="made-up",
        product="ensemble",
        model=name,
        start_at=start_at,
        temps_c=np.array(temps_c, dtype=np.float64),
        run=None,
        native_step_hours=None,
        staleness=None,
    )


def steady(values, hours=24):
    return [[value] * hours for value in values]


def first(*models, days=1):
    return fan(models, ZONE, DAY, days).hours[0]


def test_bands_are_values_that_members_have():
    # Ten members of 0 to 9 C: 1 in 10 at or under 0, 1 in 4 at or under 2, half at or under 4.
    hour = first(model(steady(range(10))))
    assert (hour.low, hour.lower, hour.middle, hour.upper, hour.high) == (0, 2, 4, 7, 8)


def test_a_model_of_many_members_weighs_no_more_than_one_of_few():
    # Thirty at -5 and two at 5: half the weight each, so the upper half is the two.
    hour = first(model(steady([-5] * 30)), model(steady([5] * 2), name="two"))
    assert (hour.low, hour.middle, hour.upper) == (-5, -5, 5)


def test_a_member_without_the_hour_leaves_its_weight_to_its_model():
    values = steady([-5] * 10) + [[NAN] * 24] * 10
    hour = first(model(values), model(steady([5] * 10), name="two"))
    assert (hour.lower, hour.upper) == (-5, 5)


@pytest.mark.parametrize(("known", "shown"), [(9, 0), (10, 24)])
def test_an_hour_fewer_than_ten_members_know_is_left_out(known, shown):
    values = steady([1] * known) + [[NAN] * 24] * (12 - known)
    found = fan([model(values)], ZONE, DAY, 1)
    assert (len(found.hours) if found else 0) == shown


@pytest.mark.parametrize("models", [[], [model(steady([1]))], [model([[NAN] * 24] * 12)]])
def test_a_single_forecast_or_nothing_known_makes_no_fan(models):
    assert fan(models, ZONE, DAY, 1) is None


def test_only_the_local_days_asked_for_are_shown():
    long = model(steady([0] * 10, 96), start_at=MIDNIGHT - timedelta(days=1))
    found = fan([long], ZONE, DAY, 2)
    assert (found.hours[0].at, len(found.hours)) == (MIDNIGHT, 48)


@pytest.mark.parametrize(
    ("day", "hours"), [(date(2026, 3, 8), 23), (date(2026, 11, 1), 25), (DAY, 24)]
)
def test_a_day_of_the_clock_change_has_its_own_number_of_hours(day, hours):
    long = model(steady([0] * 10, 96), start_at=datetime(day.year, day.month, day.day, tzinfo=UTC))
    assert len(fan([long], ZONE, day, 1).hours) == hours


def test_a_model_begun_later_joins_where_it_begins():
    late = model(steady([9] * 10, 12), start_at=MIDNIGHT + timedelta(hours=12), name="late")
    hours = fan([model(steady([0] * 10)), late], ZONE, DAY, 1).hours
    assert [hour.high for hour in (hours[11], hours[12])] == [0, 9]


def figure(unit_system="metric"):
    found = fan([model(steady(range(-5, 6)))], ZONE, DAY, 1)
    return fan_about_freezing(found, "Beech Ledge", ZONE, Constants({}), unit_system)


def test_the_fan_draws_two_bands_the_middle_and_both_limits():
    names = [trace.get("name") for trace in figure().spec["data"] if trace.get("name")]
    assert names == [
        "8 members in 10",
        "5 members in 10",
        "Middle",
        "Thaw limit 2.2 °C",
        "Freeze limit -1.1 °C",
    ]


def test_the_fan_reads_in_the_operations_units_and_clock():
    middle = next(trace for trace in figure("us").spec["data"] if trace.get("name") == "Middle")
    # The middle of -5 to 5 C is 0 C, 32 F; the first hour is midnight in New York.
    assert (middle["y"][0], middle["x"][0]) == (32.0, "2026-03-16T00:00")


def test_the_fan_says_in_words_what_it_shows():
    drawn = figure()
    assert "Beech Ledge" in drawn.title
    assert "11 forecast members" in drawn.description


DATES = [DAY, DAY + timedelta(days=1)]


def test_the_calendar_puts_the_first_woodlot_on_top():
    drawn = calendar(DATES, {"Beech Ledge": [0.8, 0.254], "Cold Brook": [None, 1.0]})
    (squares,) = drawn.spec["data"]
    # Rows are drawn from the bottom up.
    assert squares["y"] == ["Cold Brook", "Beech Ledge"]
    assert squares["z"] == [[None, 100], [80, 25]]
    assert squares["text"] == [["?", "100"], ["80", "25"]]
    assert squares["x"] == ["Mon<br>16", "Tue<br>17"]


def test_no_chance_stated_draws_no_calendar():
    assert calendar(DATES, {"Beech Ledge": [None, None]}) is None
    assert calendar(DATES, {}) is None


def test_the_calendar_has_the_ten_days_a_phone_has_room_for():
    days = [DAY + timedelta(days=number) for number in range(15)]
    (squares,) = calendar(days, {"Beech Ledge": [0.5] * 15}).spec["data"]
    assert (len(squares["x"]), len(squares["z"][0])) == (10, 10)


@pytest.mark.parametrize("days", [-3, 3])
def test_a_model_that_ends_before_or_begins_after_the_days_shown_adds_nothing(days):
    here = model(steady(range(10)))
    elsewhere = model(steady([40] * 10), start_at=MIDNIGHT + timedelta(days=days), name="two")
    assert fan([here, elsewhere], ZONE, DAY, 1).hours == fan([here], ZONE, DAY, 1).hours

"""From stored hours to days: hand-checked, over both clock changes, moved once by height."""

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
# 00:00 on 16 March 2026 in New York, which is on daylight time since the 8th.
MIDNIGHT = datetime(2026, 3, 16, 4, tzinfo=UTC)

pytestmark = pytest.mark.django_db


def judged(lot, now=NOW):
    return queries.freeze_thaw_days([lot], constants(), NEW_YORK, now)[lot.pk]


def days_of(temps_c, *, start_at=MIDNIGHT, now=NOW, lot=None, **changes):
    lot = lot or woodlot()
    made.stored(made.run(fetched_at=now), lot, temps_c, start_at=start_at, **changes)
    return judged(lot, now).days


def words(days):
    return [day.verdict for day in days]


@pytest.mark.parametrize(
    ("low_c", "high_c", "verdict"),
    [
        (-5.0, 6.0, "yes"),
        # 30 and 36 F are -1.11 and 2.22 C; the limits in use are -1.1 and 2.2 C, included.
        (-1.1, 2.2, "yes"),
        (-1.09, 2.2, "no"),
        (-1.1, 2.19, "no"),
        (-8.0, -2.0, "no"),
        (1.0, 9.0, "no"),
    ],
)
def test_a_day_known_throughout_is_judged_by_its_extremes(low_c, high_c, verdict):
    day = days_of(made.freezing_and_thawing(3, low_c=low_c, high_c=high_c))[0]
    assert (day.date, day.verdict) == (date(2026, 3, 16), verdict)
    assert (day.minimum_c, day.maximum_c) == pytest.approx((low_c, high_c), abs=1e-6)
    assert (day.known_hours, day.full_hours) == (24, 24)


@pytest.mark.parametrize(
    ("hours", "verdict"),
    [
        # The freeze and the thaw are both seen: one more missing hour cannot undo them.
        ([-5.0] + [6.0] * 22 + [None], "yes"),
        # The missing hour may have been the freeze.
        ([None] + [6.0] * 23, "unknown"),
        ([-5.0] * 23 + [None], "unknown"),
        ([None] * 24, "unknown"),
        ([6.0] * 24, "no"),
    ],
)
def test_a_missing_hour_is_never_taken_for_no_freeze(hours, verdict):
    assert words(days_of(hours + [1.0] * 72))[0] == verdict


def test_days_that_the_hours_do_not_reach_are_unknown_not_no():
    days = days_of([1.0] * 60)
    assert words(days) == ["no", "no", "unknown"]
    assert (days[2].known_hours, days[2].full_hours) == (12, 24)


@pytest.mark.parametrize(
    ("now", "start", "changes_on", "full_hours"),
    [
        # Spring: 8 March 2026 has 23 hours in New York; autumn: 1 November 2026 has 25.
        ("2026-03-07T12:00", "2026-03-07T05:00", date(2026, 3, 8), 23),
        ("2026-03-08T08:00", "2026-03-08T05:00", date(2026, 3, 8), 23),
        ("2026-10-31T12:00", "2026-10-31T04:00", date(2026, 11, 1), 25),
        ("2026-11-01T12:00", "2026-11-01T04:00", date(2026, 11, 1), 25),
    ],
)
def test_the_days_of_a_clock_change_have_23_and_25_hours(now, start, changes_on, full_hours):
    now, start = (datetime.fromisoformat(word).replace(tzinfo=UTC) for word in (now, start))
    day = {day.date: day for day in days_of([1.0] * 96, start_at=start, now=now)}[changes_on]
    assert (day.known_hours, day.full_hours, day.verdict) == (full_hours, full_hours, "no")


def test_after_the_spring_change_the_freeze_before_midnight_belongs_to_the_day_before():
    # 9 March 2026 begins at 04:00Z, no longer at 05:00Z: the hour 03:00Z is still the 8th's.
    start = datetime(2026, 3, 8, 5, tzinfo=UTC)
    temps = [6.0] * 96
    temps[22] = -5.0
    days = days_of(temps, start_at=start, now=start)
    assert words(days)[:2] == ["yes", "no"]


def test_hours_are_moved_once_from_the_height_the_service_used():
    lot = woodlot(elevation_m=600.0)
    days = days_of([1.0] * 72, lot=lot, elevation_used_m=400.0)
    # 200 m higher at 6.5 C per km (ISO 2533): 1.3 C colder.
    assert days[0].maximum_c == pytest.approx(1.0 - 1.3, abs=1e-6)


def test_the_woodlots_own_offset_is_added_whatever_the_height():
    pocket = woodlot("Frost pocket", elevation_m=400.0, temperature_offset_c=-2.5)
    days = days_of([1.0] * 72, lot=pocket, elevation_used_m=400.0)
    assert days[0].minimum_c == pytest.approx(-1.5, abs=1e-6)


def test_a_height_that_was_not_given_moves_nothing():
    days = days_of([1.0] * 72, lot=woodlot(elevation_m=600.0), elevation_used_m=None)
    assert days[0].maximum_c == pytest.approx(1.0, abs=1e-6)


def test_the_owners_lapse_is_the_one_applied():
    SettingValue.objects.create(key="weather.lapse_c_per_m", value="0.01", changed_at=NOW)
    days = days_of([1.0] * 72, lot=woodlot(elevation_m=600.0), elevation_used_m=400.0)
    assert days[0].maximum_c == pytest.approx(-1.0, abs=1e-6)


def test_limits_that_contradict_each_other_are_said_and_nothing_breaks():
    for key, value in (("weather.freeze_c", "4"), ("weather.thaw_c", "1")):
        SettingValue.objects.create(key=key, value=value, changed_at=NOW)
    lot = woodlot()
    made.stored(made.run(), lot, [1.0] * 96)
    row = judged(lot)
    assert row.days == ()
    assert "must be under" in row.problem


def test_only_today_and_later_is_shown_and_at_most_fifteen_days():
    start = datetime(2026, 3, 15, tzinfo=UTC)
    days = days_of([1.0] * (17 * 24), start_at=start)
    assert days[0].date == date(2026, 3, 16)
    assert len(days) == 15
    # Asked from yesterday to 15 days ahead, every day shown is whole.
    assert {day.known_hours for day in days} == {24}


@pytest.mark.parametrize("zone", ["America/New_York", "Pacific/Auckland", "Asia/Kolkata", "UTC"])
@pytest.mark.parametrize("hour", [0, 11, 23])
def test_wherever_the_operation_is_the_days_shown_are_covered_whole(zone, hour):
    now = datetime(2026, 3, 20, hour, 30, tzinfo=UTC)
    start = datetime(2026, 3, 19, tzinfo=UTC)
    lot = woodlot()
    made.stored(made.run(fetched_at=now), lot, [1.0] * (17 * 24), start_at=start)
    days = queries.freeze_thaw_days([lot], constants(), ZoneInfo(zone), now)[lot.pk].days
    assert len(days) == 15
    assert all(day.known_hours == day.full_hours for day in days)


def test_the_tally_counts_known_days_and_unknown_ones_apart():
    lot = woodlot()
    hours = made.freezing_and_thawing(2) + [1.0] * 24 + [None] * 24 + [1.0] * 24
    made.stored(made.run(), lot, hours, start_at=MIDNIGHT)
    count = judged(lot).tally
    assert (count.yes, count.known, count.unknown) == (2, 4, 1)


def test_a_woodlot_without_a_forecast_says_what_to_do():
    row = judged(woodlot())
    assert (row.days, row.problem) == ((), "No forecast yet: refresh the weather.")


def test_the_newest_run_speaks_and_an_older_one_for_whom_it_left_out():
    both, one = woodlot("Both"), woodlot("One")
    old, new = made.run(fetched_at=made.hours_ago(6)), made.run()
    made.stored(old, both, [5.0] * 96)
    made.stored(old, one, [5.0] * 96)
    made.stored(new, both, [7.0] * 96)
    stored = queries.latest_series([both, one], NOW, NEW_YORK)
    assert {pk: series.run for pk, series in stored.items()} == {both.pk: new, one.pk: old}
    assert stored[both.pk].temps_c[0] == pytest.approx(7.0)


def test_hours_carry_the_height_correction_and_keep_their_gaps():
    lot = woodlot(elevation_m=500.0)
    temps = [1.0] * 96
    temps[3] = None
    made.stored(made.run(), lot, temps, start_at=MIDNIGHT, elevation_used_m=400.0)
    hours = judged(lot).hours()
    assert hours[0] == (MIDNIGHT, pytest.approx(0.35))
    assert hours[3] == (MIDNIGHT + timedelta(hours=3), None)
    assert len(hours) == 96


AGES = [
    (0, "fresh", "fetched just now"),
    (0.02, "fresh", "fetched 1 min ago"),
    (0.7, "fresh", "fetched 42 min ago"),
    (9, "fresh", "fetched 9 h ago"),
    (9.1, "recent", "from last night, 9 h old"),
    (14, "recent", "from last night, 14 h old"),
    (20, "recent", "from yesterday morning, 20 h old"),
    (24, "recent", "from yesterday morning, 24 h old"),
    (25, "old", "25 h old: go by it with care, and refresh"),
    (72, "old", "3 days old: go by it with care, and refresh"),
    (72.1, "withheld", "3 days old: too old to go by"),
    (96, "withheld", "4 days old: too old to go by"),
]


@pytest.mark.parametrize(("age_hours", "level", "words"), AGES)
def test_age_is_said_in_words_and_withheld_when_it_misleads(age_hours, level, words):
    far = NOW + timedelta(days=10)
    age = queries.staleness(NOW, made.hours_ago(age_hours), far, NEW_YORK)
    assert (age.level, age.words) == (level, words)
    assert age.withheld is (level == "withheld")


def test_the_evening_reads_the_morning_of_the_same_day_so():
    evening = datetime(2026, 3, 16, 23, tzinfo=UTC)
    fetched = datetime(2026, 3, 16, 12, tzinfo=UTC)
    age = queries.staleness(evening, fetched, evening + timedelta(days=9), NEW_YORK)
    assert age.words == "from this morning, 11 h old"


@pytest.mark.parametrize(
    ("left", "withheld"),
    [(timedelta(hours=48), False), (timedelta(hours=47), True), (-timedelta(hours=1), True)],
)
def test_with_under_48_hours_left_a_forecast_is_withheld(left, withheld):
    age = queries.staleness(NOW, NOW, NOW + left, NEW_YORK)
    assert age.withheld is withheld


def test_hours_left_are_counted_to_the_last_known_one():
    lot = woodlot()
    made.stored(made.run(), lot, [1.0] * 40 + [None] * 60)
    row = judged(lot)
    assert row.problem == "Withheld: the forecast is 0 min old, with under 48 hours left."


def test_all_hours_in_the_past_are_withheld():
    lot = woodlot()
    made.stored(made.run(), lot, [1.0] * 96, start_at=NOW - timedelta(days=10))
    assert judged(lot).staleness.level == "withheld"


def test_the_strip_counts_woodlots_by_day():
    high, low, bare = woodlot("High"), woodlot("Low"), woodlot("Bare")
    run = made.run()
    made.stored(run, high, made.freezing_and_thawing(9), start_at=MIDNIGHT)
    made.stored(run, low, [3.0] * 24 + [None] * 24 + [3.0] * 168, start_at=MIDNIGHT)
    strip = queries.weather_strip(constants(), NEW_YORK, NOW)
    counts = [(day.tally.yes, day.tally.known, day.tally.unknown) for day in strip.days]
    assert counts == [(1, 2, 0), (1, 1, 1)] + [(1, 2, 0)] * 5
    assert (strip.days[0].minimum_c, strip.days[0].maximum_c) == (-5.0, 6.0)
    assert (strip.run, strip.without, bare.pk) == (run, 1, bare.pk)


def test_an_empty_strip_has_nothing_to_go_by():
    strip = queries.weather_strip(constants(), NEW_YORK, NOW)
    assert (strip.days, strip.run, strip.without) == ((), None, 0)


def test_the_strip_says_the_age_of_its_oldest_part():
    first, second = woodlot("First"), woodlot("Second")
    made.stored(made.run(fetched_at=made.hours_ago(30)), first, [1.0] * 200)
    made.stored(made.run(), second, [1.0] * 200)
    assert queries.weather_strip(constants(), NEW_YORK, NOW).staleness.level == "old"


@pytest.mark.parametrize("count", [1, 40])
def test_the_strip_asks_the_database_the_same_whatever_the_number(count, django_assert_num_queries):
    run = made.run()
    for number in range(count):
        made.stored(run, woodlot(f"Lot {number}"), [1.0] * 96)
    in_use = constants()
    with django_assert_num_queries(4):
        queries.weather_strip(in_use, NEW_YORK, NOW)


def test_published_station_hours_give_the_counted_days(settings):
    """Whately MA, March 2015 (macleish, CC0): 14 days within the limits, counted independently."""
    path = settings.BASE_DIR / "fixtures/open_data/hourly/macleish_whately_2015.csv"
    stamps, temps = np.loadtxt(path, delimiter=",", skiprows=1, dtype=str, unpack=True)
    first = datetime.fromisoformat(stamps[0].replace("Z", "+00:00"))
    hours = np.array([float(word) if word else np.nan for word in temps])
    begin = datetime(2015, 3, 1, 5, tzinfo=UTC)
    at = int((begin - first) / timedelta(hours=1))
    lot, yes = woodlot(), 0
    for part in range(3):
        start = begin + timedelta(days=11 * part)
        piece = hours[at + 264 * part : at + 264 * part + 360]
        made.stored(made.run(fetched_at=start), lot, piece, start_at=start)
        days = judged(lot, start + timedelta(hours=1)).days[: 11 if part < 2 else 9]
        yes += sum(day.verdict == "yes" for day in days)
    assert yes == 14

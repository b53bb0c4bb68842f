"""The hours gone by, joined a second time by pandas from the same rows.

Two joins are in use: `winter.gone_by` (measured, else the newest run that knows the hour) for
tonight's likelihood, and `came.came` (measured, archived, said later) for judging forecasts.
"""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest

from apps.operation.queries import constants
from apps.outlook.came import ARCHIVED, MEASURED, SAID_LATER, SOURCES, came
from apps.outlook.winter import DAYS_OF_ENSEMBLES, gone_by
from tests.factories import readings, weather, woods
from tests.factories.operation import FIXED_NOW, operation

pytestmark = pytest.mark.django_db
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
START = datetime(2026, 3, 1, 0, tzinfo=UTC)
NAN = float("nan")
# The ends of the inhabited clock, a half-hour zone, and both ways of daylight saving.
ZONES = ("America/New_York", "America/St_Johns", "Europe/Berlin", "Pacific/Auckland", "Asia/Tokyo")


@pytest.fixture
def lot(db):
    operation()
    return woods.woodlot()


def by_chance(seed, hours, missing=0.2):
    rng = np.random.default_rng(seed)
    values = np.round(rng.normal(0, 6, hours), 1)
    values[rng.random(hours) < missing] = NAN
    # Stored in four bytes.
    return values.astype(np.float32).astype(np.float64)


def series(start_at, values):
    return pd.Series(values, pd.date_range(start_at, periods=len(values), freq="h"))


def run_of(lot, fetched_at, values, *, start_at, members=1, model="by hand"):
    run = weather.run(fetched_at=fetched_at, model=model)
    weather.stored(run, lot, [values] * members, start_at=start_at)
    return series(start_at, values)


def joined(lot, until=FIXED_NOW, start_at=START):
    found = gone_by([lot], start_at, constants(), until)[lot.pk]
    return found, series(found.hours.start_at, found.hours.temps_c)


@pytest.mark.parametrize("seed", range(3))
def test_measured_goes_before_the_newest_run_that_knows_the_hour(lot, seed):
    told = pd.Series(dtype=float)
    for day in range(1, 12):
        start_at = START + day * DAY
        said = run_of(lot, start_at + 6 * HOUR, by_chance(seed * 50 + day, 60), start_at=start_at)
        # A later run has the word on what it knows.
        told = said.combine_first(told)
    seen = by_chance(seed + 900, 24 * 6, missing=0.4)
    device = readings.thermometer(lot)
    for hour in np.flatnonzero(~np.isnan(seen)):
        readings.reading(device, START + int(hour) * HOUR, float(seen[hour]))
    found, ours = joined(lot)
    theirs = series(START, seen).combine_first(told).reindex(ours.index)
    pd.testing.assert_series_equal(ours, theirs, check_freq=False)
    assert found.measured == series(START, seen).count()
    assert found.forecast == theirs.count() - found.measured


def test_hours_to_come_are_not_gone_by(lot):
    run_of(lot, FIXED_NOW - HOUR, np.zeros(48), start_at=FIXED_NOW - 4 * HOUR)
    _, ours = joined(lot)
    assert ours.index[-1] == pd.Timestamp(FIXED_NOW) - pd.Timedelta(hours=1)
    assert ours.count() == 4


@pytest.mark.parametrize(
    ("days_ago", "members", "known"),
    [
        (DAYS_OF_ENSEMBLES - 1, 12, True),
        (DAYS_OF_ENSEMBLES + 1, 12, False),
        # A single forecast is small: it is read however old.
        (DAYS_OF_ENSEMBLES + 5, 1, True),
    ],
)
def test_old_ensembles_are_not_read_and_old_single_runs_are(lot, days_ago, members, known):
    fetched_at = FIXED_NOW - days_ago * DAY
    run_of(lot, fetched_at, np.zeros(24), start_at=fetched_at - 6 * HOUR, members=members)
    found, _ = joined(lot)
    assert (found.forecast > 0) is known


def test_of_two_kinds_on_a_day_the_single_run_stands_for_it(lot):
    start_at = FIXED_NOW.replace(hour=0) - DAY
    run_of(lot, start_at + 8 * HOUR, [1.0] * 24, start_at=start_at)
    run_of(lot, start_at + 9 * HOUR, [9.0] * 24, start_at=start_at, members=12, model="many")
    _, ours = joined(lot)
    assert ours[start_at] == 1.0


def test_nothing_known_is_no_hour_and_not_nought_degrees(lot):
    found, ours = joined(lot)
    assert (found.measured, found.forecast, ours.count()) == (0, 0, 0)


def test_a_start_in_the_time_to_come_has_no_hours(lot):
    found, ours = joined(lot, start_at=FIXED_NOW.replace(minute=0) + 3 * HOUR)
    assert (len(ours), found.measured, found.forecast) == (0, 0, 0)


def days_of(lot, zone, start_at, until, said=()):
    found = came([lot], start_at, constants(), until, said)[lot.pk]
    return found.days(ZoneInfo(zone), -1.1, 2.2)


def by_local_day(hours, zone):
    """Known hours, least and most of each local day, by pandas' own calendar."""
    return hours.tz_convert(zone).groupby(lambda at: at.date()).agg(["count", "min", "max"])


@pytest.mark.parametrize("zone", ZONES)
@pytest.mark.parametrize("month", [3, 4, 9, 11])
def test_days_are_those_of_the_local_calendar_through_every_clock_change(lot, zone, month):
    start_at = datetime(2025, month, 1, 0, tzinfo=UTC)
    values = by_chance(month, 24 * 30, missing=0.08)
    readings.imported(lot, start_at, [None if np.isnan(one) else one for one in values])
    ours = days_of(lot, zone, start_at, start_at + 30 * DAY)
    theirs = by_local_day(series(start_at, values), zone)
    complete = theirs[theirs["count"] >= 20]
    assert set(ours) == set(complete.index)
    for day, (source, judged) in ours.items():
        row = complete.loc[day]
        assert source == MEASURED
        assert (judged.known_hours, judged.minimum_c, judged.maximum_c) == (
            row["count"], pytest.approx(row["min"]), pytest.approx(row["max"]),
        )  # fmt: skip


@pytest.mark.parametrize("seed", range(3))
def test_each_day_is_of_the_first_source_that_knows_twenty_hours(lot, seed):
    start_at, zone, days = datetime(2025, 3, 2, 5, tzinfo=UTC), "America/New_York", 12
    hours = [by_chance(seed * 10 + number, 24 * days, 0.15) for number in range(3)]
    readings.imported(lot, start_at, [None if np.isnan(one) else one for one in hours[0]])
    winter = np.full(readings.winter_hours(2025), NAN)
    place = (start_at - readings.winter_start(2025)) // HOUR
    winter[place : place + 24 * days] = hours[1]
    readings.archive_winter(lot, 2025, winter)
    run = weather.run(fetched_at=start_at + days * DAY)
    said = [weather.stored(run, lot, hours[2], start_at=start_at)]
    tables = [by_local_day(series(start_at, one), zone)["count"] >= 20 for one in hours]
    ours = days_of(lot, zone, start_at, start_at + days * DAY, said)
    for day in tables[0].index:
        told = [source for source, full in zip(SOURCES, tables, strict=True) if full[day]]
        assert ours.get(day, (None,))[0] == (told[0] if told else None)


def test_every_winter_between_the_first_and_the_last_is_read(lot):
    for winter in (2023, 2024, 2025):
        readings.archive_winter(lot, winter)
    found = days_of(lot, "America/New_York", datetime(2022, 12, 1, 5, tzinfo=UTC), FIXED_NOW)
    assert {day.year for day in found} == {2022, 2023, 2024, 2025}
    assert {source for source, _ in found.values()} == {ARCHIVED}


def test_an_archive_of_another_model_tells_nothing(lot):
    readings.archive_winter(lot, 2025, model="another")
    start_at = datetime(2024, 12, 1, 5, tzinfo=UTC)
    assert days_of(lot, "America/New_York", start_at, start_at + 30 * DAY) == {}


def test_the_newest_word_on_an_hour_stands(lot):
    start_at = datetime(2026, 3, 10, 4, tzinfo=UTC)
    rows = []
    for later, value in ((1, 1.0), (2, 2.0)):
        run = weather.run(fetched_at=start_at + later * DAY)
        rows.append(weather.stored(run, lot, [value] * 24 * later, start_at=start_at))
    found = came([lot], start_at, constants(), FIXED_NOW, rows)[lot.pk]
    # The second run's hours of the first day lie over the first run's.
    assert found.by_source[SAID_LATER][:48].tolist() == [2.0] * 48


def test_hours_after_the_end_asked_for_tell_nothing(lot):
    start_at = datetime(2026, 3, 10, 4, tzinfo=UTC)
    readings.readings(readings.thermometer(lot), start_at, [1.0] * 72)
    found = came([lot], start_at, constants(), start_at + DAY)[lot.pk]
    assert found.temps_c.tolist() == [1.0] * 24

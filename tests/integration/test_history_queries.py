"""Past winters at a woodlot's own height, own records before the archive, first runs by origin."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from apps.domain.sap_run import DayWeather
from apps.operation.queries import constants
from apps.weather import queries
from apps.weather.queries import climate as past
from tests.factories import readings as made
from tests.factories.woods import woodlot

pytestmark = pytest.mark.django_db
NEW_YORK = ZoneInfo("America/New_York")


def winter_of_thaws_from(first, winter=2025):
    """Hard frozen up to a day, then five nights of frost and five hours of warmth each day."""
    hours = made.winter_hours(winter)
    temps_c = np.full(hours, -12.0)
    start = made.winter_start(winter)
    shift = (datetime.combine(first, datetime.min.time(), UTC) - start) // timedelta(hours=1)
    day = [-3.0] * 15 + [9.0] * 9
    temps_c[shift:] = np.resize(day, hours - shift)
    return temps_c


@pytest.mark.parametrize(
    ("used_m", "moved_c"),
    [
        # By hand: 6.5 C per km, so 300 m are 1.95 C (ISO 2533, 1975).
        (400.0, -5.0),
        (700.0, -5.0 + 1.95),
        (100.0, -5.0 - 1.95),
        (None, -5.0),
    ],
)
def test_archive_hours_are_moved_to_the_height_of_the_woodlot(used_m, moved_c):
    lot = woodlot(elevation_m=400.0)
    made.archive_winter(lot, 2025, [-5.0] * 48, elevation_used_m=used_m)
    hours = queries.history_hours(lot)[2025]
    assert hours.temps_c == pytest.approx([moved_c] * 48, abs=1e-6)
    assert (hours.own, hours.source) == (False, "made-up archive, era5_seamless")


def test_the_offset_of_the_woodlot_is_added_to_the_archive_and_not_to_own_records():
    lot = woodlot(temperature_offset_c=-1.5)
    made.archive_winter(lot, 2024)
    made.imported(lot, made.winter_start(2025), [-5.0] * made.winter_hours(2025))
    found = queries.history_hours(lot)
    assert found[2024].temps_c.min() == pytest.approx(-6.5)
    assert found[2025].temps_c.min() == pytest.approx(-5.0)


@pytest.mark.parametrize(("share", "own"), [(0.85, True), (0.75, False)])
def test_an_own_record_stands_for_a_winter_once_it_holds_enough_and_is_never_spliced(share, own):
    lot = woodlot()
    made.archive_winter(lot, 2025, np.full(made.winter_hours(2025), -5.0))
    hours = made.winter_hours(2025)
    made.imported(lot, made.winter_start(2025), [1.0] * int(share * hours))
    found = queries.history_hours(lot)[2025]
    assert found.own == own
    assert set(found.temps_c[np.isfinite(found.temps_c)]) == ({1.0} if own else {-5.0})


def test_only_the_pinned_model_is_history(settings):
    lot = woodlot()
    made.archive_winter(lot, 2025)
    settings.WEATHER_ARCHIVE_MODEL = "era5_land"
    assert queries.history_hours(lot) == {}


def test_history_of_many_woodlots_takes_no_more_questions_than_of_one():
    lots = [woodlot(f"Lot {number}") for number in range(12)]
    for lot in lots:
        made.archive_winter(lot, 2025, [1.0])
    counts = []
    for some in (lots[:1], lots):
        with CaptureQueriesContext(connection) as captured:
            found = queries.histories(some, constants())
        assert all(2025 in winters for winters in found.values())
        counts.append(len(captured))
    assert counts[0] == counts[1] <= 4


def test_days_of_a_winter_run_from_december_to_may_by_the_local_clock():
    lot = woodlot()
    made.archive_winter(lot, 2025)
    days = queries.history_hours(lot)[2025].days(NEW_YORK)
    assert (days.dates[0], days.dates[-1]) == (date(2024, 12, 1), date(2025, 5, 31))
    assert len(days.dates) == 182
    assert np.isfinite(days.minimum_c).all()


def test_a_day_with_under_twenty_hours_stays_unknown():
    lot = woodlot()
    temps_c = np.full(made.winter_hours(2025), -5.0)
    # 10 December, local: five hours of it missing leave nineteen.
    temps_c[10 * 24 + 5 : 10 * 24 + 10] = np.nan
    made.archive_winter(lot, 2025, temps_c)
    days = queries.history_hours(lot)[2025].days(NEW_YORK)
    unknown = [day for day, low in zip(days.dates, days.minimum_c, strict=True) if np.isnan(low)]
    assert unknown == [date(2024, 12, 10)]


def test_without_own_dates_the_first_run_is_that_of_the_weekly_rule():
    lot = woodlot()
    made.archive_winter(lot, 2025, winter_of_thaws_from(date(2025, 3, 10)))
    run = queries.inferred_first_runs(queries.history_hours(lot), NEW_YORK, {})[2025]
    assert run.basis == "weekly rule"
    assert date(2025, 3, 10) <= run.date <= date(2025, 3, 31)


def test_one_warm_day_in_january_is_no_first_run():
    lot = woodlot()
    temps_c = winter_of_thaws_from(date(2025, 3, 10))
    january = (datetime(2025, 1, 15, 15, tzinfo=UTC) - made.winter_start(2025)) // timedelta(
        hours=1
    )
    temps_c[january : january + 8] = 9.0
    made.archive_winter(lot, 2025, temps_c)
    run = queries.inferred_first_runs(queries.history_hours(lot), NEW_YORK, {})[2025]
    assert run.date >= date(2025, 3, 10)


def test_a_winter_that_never_thaws_has_no_first_run():
    lot = woodlot()
    made.archive_winter(lot, 2025, np.full(made.winter_hours(2025), -12.0))
    run = queries.inferred_first_runs(queries.history_hours(lot), NEW_YORK, {})[2025]
    assert run.date is None


def test_three_own_dates_set_the_warmth_that_a_first_run_takes():
    lot = woodlot()
    firsts = {winter: date(winter, 3, day) for winter, day in ((2022, 4), (2023, 8), (2024, 14))}
    for winter, first in {**firsts, 2025: date(2025, 3, 20)}.items():
        made.archive_winter(lot, winter, winter_of_thaws_from(first, winter))
    own = {winter: first + timedelta(days=2) for winter, first in firsts.items()}
    runs = queries.inferred_first_runs(queries.history_hours(lot), NEW_YORK, own)
    assert {run.basis for run in runs.values()} == {"fitted"}
    # Made alike but for the day the thaws begin, so the same two days of warmth hold for all.
    assert {
        winter: (run.date - own[winter]).days for winter, run in runs.items() if winter in own
    } == {
        2022: 0,
        2023: 0,
        2024: 0,
    }
    assert runs[2025].date == date(2025, 3, 22)


def test_own_dates_of_winters_nobody_has_hours_of_fit_nothing():
    lot = woodlot()
    made.archive_winter(lot, 2025, winter_of_thaws_from(date(2025, 3, 10)))
    own = {winter: date(winter, 3, 1) for winter in (2010, 2011, 2012)}
    run = queries.inferred_first_runs(queries.history_hours(lot), NEW_YORK, own)[2025]
    assert run.basis == "weekly rule"


def test_an_own_record_begun_after_new_year_infers_no_first_run():
    lot = woodlot()
    start = made.winter_start(2025) + timedelta(days=36)
    made.imported(lot, start, [-5.0] * (made.winter_hours(2025) - 36 * 24))
    found = queries.history_hours(lot)
    assert (list(found), found[2025].own) == ([2025], True)
    # Its days are there, unknown before the record begins, and so is the first of January.
    runs = queries.inferred_first_runs(found, NEW_YORK, {})
    assert runs[2025].date is None


def climate_of(lot):
    return past.climate(queries.history_hours(lot), constants(), NEW_YORK)


def test_weeks_count_freeze_thaw_days_over_the_known_days_of_all_winters():
    lot = woodlot()
    made.archive_winter(lot, 2024)
    made.archive_winter(lot, 2025, np.full(made.winter_hours(2025), -5.0))
    shown = climate_of(lot)
    assert len(shown.weeks) == 26
    counted = [(week.freeze_thaw_days, week.known_days) for week in shown.weeks]
    # 29 February 2024 is an eighth day of the thirteenth week.
    assert counted == [(8, 15) if week == 12 else (7, 14) for week in range(26)]
    assert shown.weeks[0].share == 0.5
    assert [row.winter for row in shown.winters] == [2025, 2024]


def test_a_week_without_a_known_day_has_no_share():
    assert past.WeekOfWinters(date(2026, 12, 1), 0, 0).share is None


@pytest.mark.parametrize(
    ("day", "week"),
    [
        (date(2024, 12, 1), 0),
        (date(2024, 12, 7), 0),
        (date(2024, 12, 8), 1),
        # By hand: 28 February is day 89 from 1 December, in the thirteenth week.
        (date(2025, 2, 28), 12),
        (date(2024, 2, 29), 12),
        (date(2025, 3, 2), 13),
        (date(2024, 3, 2), 13),
        (date(2025, 5, 31), 25),
        (date(2024, 5, 31), 25),
    ],
)
def test_weeks_line_up_over_years_with_and_without_a_leap_day(day, week):
    assert past.day_of_winter(day) // 7 == week


def days_with_highs(start, highs):
    dates = tuple(start + timedelta(days=n) for n in range(len(highs)))
    values = np.array(highs, dtype=np.float64)
    return DayWeather(dates, values - 8, values, values - 4, np.clip(values, 0, None))


@pytest.mark.parametrize(
    ("start", "highs", "spells"),
    [
        (date(2025, 1, 10), [0, 4.4, 0, 5], 0),
        (date(2025, 1, 10), [0, 4.4, 4.4, 0], 1),
        (date(2025, 1, 10), [5, 5, 5, 5], 1),
        (date(2025, 1, 10), [5, 5, np.nan, 5, 5], 2),
        (date(2025, 1, 10), [4.39, 5, 0, 5, 5], 1),
        (date(2025, 2, 28), [5, 5, 5], 1),
        (date(2025, 3, 1), [5, 5, 5], 0),
    ],
)
def test_a_warm_spell_is_two_warm_days_running_begun_before_march(start, highs, spells):
    assert past._warm_spells(days_with_highs(start, highs)) == spells

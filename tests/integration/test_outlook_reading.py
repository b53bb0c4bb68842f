"""What is read from the records and the stored forecast before anything is planned."""

from datetime import date, timedelta
from zoneinfo import ZoneInfo

import pytest

from apps.operation.models import SettingValue
from apps.operation.queries import constants
from apps.outlook import charts, forecast, queries
from apps.outlook.queries import Asked
from apps.outlook.verdict import verdict
from tests.factories import operation as people
from tests.factories import outlook as paper
from tests.factories import tapping, woods
from tests.factories.outlook import FREEZE_THAW, steady

pytestmark = pytest.mark.django_db
ZONE = ZoneInfo("America/New_York")
NOW = paper.mid_february()
TODAY = date(2026, 2, 16)
COLDEST_ALLOWED_C = -12.22  # 10 F


@pytest.fixture
def lots(db):
    return paper.lots()


@pytest.fixture
def ten_seasons(db):
    paper.ten_seasons()


@pytest.fixture
def sol(db):
    return people.crew()


def read(lots, now=NOW, hours_per_day=6) -> forecast.Forecast:
    return forecast.read(
        lots, hours_per_day=hours_per_day, constants=constants(), zone=ZONE, now=now
    )


def change(key, value) -> None:
    SettingValue.objects.create(key=key, value=str(value), changed_at=NOW)


def start(today=TODAY, now=NOW, **asked) -> queries.StartDate:
    return queries.start_date(
        today=today, now=now, zone=ZONE, constants=constants(), asked=Asked(**asked)
    )


def counted_back():
    """With nothing weighed, as before December."""
    return verdict(start(), None)


def days(rows):
    return [row.date.day for row in rows]


def test_nothing_in_store_is_nothing_known(lots):
    seen = read(lots)
    assert (seen.run, seen.until, seen.ruled_out, seen.freeze_thaw) == (None, None, (), ())
    assert [name for name, _ in seen.problems] == [lot.name for lot in lots]


def test_no_woodlots_need_no_forecast(db):
    assert read([]) == forecast.Forecast()


def test_the_reach_is_the_last_day_whose_working_hours_are_all_there(lots):
    # The last day breaks off at 15 local, one hour short of 16.
    paper.forecast(lots, [steady(-6)] * 3 + [steady(-6)[:15]])
    assert read(lots).until == date(2026, 2, 18)


@pytest.mark.parametrize(
    ("temp_c", "cold"), [(COLDEST_ALLOWED_C, []), (COLDEST_ALLOWED_C - 0.01, [16, 17, 18])]
)
def test_the_cold_limit_is_compared_at_a_hundredth(lots, temp_c, cold):
    paper.forecast(lots, [steady(temp_c)] * 3)
    assert days(read(lots).ruled_out) == cold


def test_the_owners_own_cold_limit_is_used(lots):
    change("tapping.cold_limit_c", -5)
    paper.forecast(lots, [steady(-6)] * 3)
    assert days(read(lots).ruled_out) == [16, 17, 18]


def test_cold_is_judged_at_the_woodlots_own_height(lots):
    # 200 m up at 0.65 C per 100 m is 1.3 C colder: -11.5 there is -12.8 here.
    paper.forecast(lots, [steady(-11.5)] * 3, elevation_used_m=200.0)
    assert days(read(lots).ruled_out) == [16, 17, 18]


def test_days_gone_by_are_neither_ruled_out_nor_thawing(lots):
    paper.forecast(lots, [steady(-20)] + [FREEZE_THAW] + [steady(-20)] * 4)
    seen = read(lots, now=NOW + timedelta(days=2))
    assert (days(seen.ruled_out), days(seen.freeze_thaw)) == ([18, 19, 20, 21], [])


def test_thaws_name_the_woodlots_they_are_expected_in(lots):
    paper.forecast(lots[:1], [FREEZE_THAW] * 3)
    paper.forecast(lots[1:], [steady(-6)] * 3, fetched_at=paper.MIDNIGHT + timedelta(hours=1))
    assert {day.woodlots for day in read(lots).freeze_thaw} == {("Tamarack Hollow",)}


def test_a_day_known_to_thaw_somewhere_is_not_unknown(lots):
    holed = [float("nan"), *steady(-6)[1:]]
    paper.forecast(lots[:1], [FREEZE_THAW] + [holed] * 2)
    paper.forecast(lots[1:], [holed] * 3, fetched_at=paper.MIDNIGHT + timedelta(hours=1))
    seen = read(lots)
    assert date(2026, 2, 16) not in seen.unknown_days
    assert date(2026, 2, 17) in seen.unknown_days


def test_the_age_told_is_that_of_the_oldest_series_in_use(lots):
    paper.forecast(lots[:1], [steady(-6)] * 9, fetched_at=NOW - timedelta(hours=30))
    paper.forecast(lots[1:], [steady(-6)] * 9, fetched_at=NOW - timedelta(hours=1))
    assert read(lots).run.fetched_at == NOW - timedelta(hours=30)


def test_a_withheld_woodlot_is_a_problem_and_the_others_are_used(lots):
    paper.forecast(lots[:1], [steady(-20)] * 9, fetched_at=NOW - timedelta(hours=80))
    paper.forecast(lots[1:], [steady(-6)] * 9)
    seen = read(lots)
    assert [name for name, _ in seen.problems] == ["Tamarack Hollow"]
    assert (seen.ruled_out, seen.until) == ((), date(2026, 2, 24))


def test_without_work_there_are_no_days_to_speak_of(ten_seasons):
    told = counted_back()
    assert (told.first_day, told.last_morning, told.days_beyond_forecast) == (None, None, 0)
    assert (told.thaws, told.page.days_exactly, told.page.days_late) == ([], None, 0)
    assert not told.page.all_in


def test_without_a_ready_morning_the_days_are_those_worked_forward(lots):
    # 34 pair-hours from Mon 16: three days, ready on Thu 19.
    page = start()
    assert (page.first_day, page.last_morning) == (TODAY, date(2026, 2, 19))


@pytest.mark.parametrize(("begun", "first"), [(False, date(2026, 2, 18)), (True, TODAY)])
def test_once_begun_tapping_goes_on_at_once(lots, ten_seasons, sol, begun, first):
    if begun:
        tapping.tally(lots[0].lines.get(), sol, 10, tallied_on=date(2026, 2, 14))
    assert start().first_day == first


def test_a_thaw_on_the_ready_morning_finds_every_tap_in(lots, ten_seasons):
    # Start Fri 20, ready Tue 24: of the thaws on Mon 23 and Tue 24 only the first counts.
    paper.forecast(lots, [steady(-6)] * 7 + [FREEZE_THAW] * 2 + [steady(-6)] * 3)
    assert days(counted_back().thaws) == [23]


def test_a_day_with_a_tally_is_spent(lots, ten_seasons, sol):
    tapping.tally(lots[0].lines.get(), sol, 10, tallied_on=TODAY)
    assert start().first_day == TODAY + timedelta(days=1)


@pytest.mark.parametrize(("hours", "believed"), [(0.1, False), (0.5, False), (5.0, True)])
def test_a_first_day_cut_short_is_no_measure_of_the_days_to_come(lots, sol, hours, believed):
    tapping.tally(lots[0].lines.get(), sol, 10, pair_hours=hours)
    assert start().answer.forward.hours_are_observed is believed


def test_a_pace_nobody_keeps_is_taken_for_a_slip(lots, sol):
    # 150 taps in six minutes would be 1,500 an hour: the planned 100 stand.
    tapping.tally(lots[0].lines.get(), sol, 150, pair_hours=0.1)
    (line,) = (lot.line for lot in start().lots if lot.progress.begun)
    assert (line.pace, line.pace_is_observed) == (100, False)


def test_the_owners_own_paces_are_used(lots):
    change("tapping.pace_bare", 115)
    by_name = {lot.progress.woodlot.name: lot.line for lot in start().lots}
    assert by_name["Tamarack Hollow"].pair_hours == pytest.approx(10.0)


def test_a_woodlot_without_lines_is_left_out_by_name(lots, ten_seasons):
    bare = woods.woodlot("Alder Bottom")
    page = start()
    assert [lot.progress.woodlot for lot in page.lots_left_out] == [bare]
    assert not page.all_in


def test_past_runs_come_in_order_with_the_chosen_marked(lots, ten_seasons):
    rows = start().past_runs
    assert [row.row.season for row in rows[:4]] == [2017, 2018, 2020, 2023]
    assert [row.row.season for row in rows if row.chosen] == [2020]
    assert counted_back().missed == (2017, 2018)


def test_no_first_runs_make_no_picture(lots):
    assert charts.first_runs(counted_back()) is None


def test_first_runs_alone_are_drawn_without_taps_to_set(ten_seasons):
    names = [trace["name"] for trace in charts.first_runs(counted_back()).spec["data"]]
    assert names == ["First sap gathered"]


def test_the_picture_names_each_line_in_words(lots, ten_seasons):
    names = [trace["name"] for trace in charts.first_runs(counted_back()).spec["data"]]
    assert names[1:] == ["Every tap in, 24 Feb", "Tapping, 18 Feb to 23 Feb"]

"""The tapping plan against calendars counted on paper, printed guidelines and the chill chart."""

import csv
from datetime import date, timedelta
from io import StringIO

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.domain import tapping
from apps.domain.errors import DomainError, OutOfRange
from apps.domain.tapping import BackPlanInput, ReforecastInput, SnowPaces, WoodlotWork
from apps.domain.units import celsius_from_fahrenheit, fahrenheit_from_celsius, kmh_from_mph

NAN = float("nan")
SUNDAYS = frozenset({6})


def inches(depth):
    return depth * 25.4 / 1000


def work(taps, snow_in=0.0, name="North", observed=None):
    return WoodlotWork(name, taps, inches(snow_in), observed)


def plan(*woodlots, ready=date(2026, 2, 16), **options):
    return tapping.back_plan(BackPlanInput(woodlots, ready, **options))


class TestPace:
    # 100, 80, 60 taps per pair-hour at 12 and 24 in, both in the middle: common practice.
    @pytest.mark.parametrize(
        ("snow_in", "pace"),
        [
            (0, 100),
            (11.99, 100),
            (12, 80),
            (12.01, 80),
            (18, 80),
            (23.99, 80),
            (24, 80),
            (24.01, 60),
        ],
    )
    def test_the_middle_pace_includes_both_its_limits(self, snow_in, pace):
        assert tapping.pace_taps_per_pair_hour(inches(snow_in)) == pace

    @pytest.mark.parametrize(
        "depth_m", [12 * 0.0254, 0.3048, 12 * 25.4 / 1000, 24 * 0.0254, 0.6096]
    )
    def test_a_typed_limit_holds_whichever_way_it_was_converted(self, depth_m):
        assert tapping.pace_taps_per_pair_hour(depth_m) == 80

    def test_paces_are_settings(self):
        paces = SnowPaces(120, 90, 40, 0.2, 0.5)
        found = [tapping.pace_taps_per_pair_hour(depth, paces) for depth in (0.1, 0.2, 0.5, 0.51)]
        assert found == [120, 90, 90, 40]

    @pytest.mark.parametrize("depth_m", [-0.01, 5.01, NAN])
    def test_impossible_snow_is_refused(self, depth_m):
        with pytest.raises(OutOfRange, match="snow_depth_m"):
            tapping.pace_taps_per_pair_hour(depth_m)

    @given(st.floats(0, 5), st.floats(0, 5))
    def test_deeper_snow_is_never_faster(self, one, other):
        shallow, deep = sorted((one, other))
        pace = tapping.pace_taps_per_pair_hour
        assert pace(deep) <= pace(shallow)


class TestBackPlan:
    # 16 February 2026 is a Monday. Each start was counted back on a paper calendar.
    @pytest.mark.parametrize(
        ("woodlots", "options", "working", "start"),
        [
            # 1,200 taps / 100 = 12 pair-hours = one day of two pairs for six hours.
            ([work(1200)], {"lost_days": 0}, 1, date(2026, 2, 14)),
            ([work(1201)], {"lost_days": 0}, 2, date(2026, 2, 13)),
            ([work(1200)], {"lost_days": 2}, 1, date(2026, 2, 12)),
            ([work(1200)], {"lost_days": 0, "rest_weekdays": frozenset()}, 1, date(2026, 2, 15)),
            # 12 in: 2,880 / 80 = 36 h = 3 days; 24.1 in: 1,440 / 60 = 24 h = 2 days.
            ([work(2880, 12)], {"lost_days": 0}, 3, date(2026, 2, 12)),
            ([work(1440, 24.1)], {"lost_days": 0}, 2, date(2026, 2, 13)),
            # 8,600 taps at the light pace: 86 h = 7.17 days -> 8, plus 2 lost, over one Sunday.
            ([work(8600)], {}, 8, date(2026, 2, 4)),
            # Woodlots are summed before rounding up: 6 h + 6 h is one day, not two.
            ([work(600), work(480, 12)], {"lost_days": 0}, 1, date(2026, 2, 14)),
            # 0.1 + 0.2 of a day's hours: binary fractions cost no further day.
            ([work(10), work(20)], {"lost_days": 0, "hours_per_day": 0.5}, 1, date(2026, 2, 14)),
            ([work(1200)], {"lost_days": 0, "pairs": 1}, 2, date(2026, 2, 13)),
            ([work(1200, observed=50.0)], {"lost_days": 0}, 2, date(2026, 2, 13)),
            # Saturday and Sunday off: Friday is the last day.
            (
                [work(1200)],
                {"lost_days": 0, "rest_weekdays": frozenset({5, 6})},
                1,
                date(2026, 2, 13),
            ),
        ],
    )
    def test_working_days_count_back_over_the_calendar(self, woodlots, options, working, start):
        found = plan(*woodlots, **options)
        assert (found.working_days, found.start_date) == (working, start)

    def test_every_tap_is_in_by_the_ready_morning(self):
        found = plan(work(1200), ready=date(2026, 2, 18))
        assert found.last_tapping_day == date(2026, 2, 17)
        assert [day.date.day for day in found.calendar] == [14, 15, 16, 17]
        assert [day.kind for day in found.calendar] == ["lost", "rest", "lost", "tapping"]

    def test_the_arithmetic_of_each_woodlot_is_shown(self):
        found = plan(work(800, 18, "Ridge"), work(90, 30, "Gully", observed=45.0))
        assert [(line.name, line.pace, line.pair_hours) for line in found.woodlots] == [
            ("Ridge", 80, 10),
            ("Gully", 45, 2),
        ]
        assert [line.pace_is_observed for line in found.woodlots] == [False, True]
        assert (found.pair_hours, found.pair_hours_per_day) == (12, 12)

    def test_nothing_left_to_tap_needs_no_day(self):
        found = plan(work(0))
        assert (found.start_date, found.last_tapping_day, found.calendar) == (
            date(2026, 2, 16),
            None,
            (),
        )

    # Three working days before Thursday 19 February, with two lost days allowed.
    @pytest.mark.parametrize(
        ("reach", "blocked", "lost", "start"),
        [
            (None, [], 2, date(2026, 2, 13)),
            # The forecast reaches everything: its own days, no allowance.
            (date(2026, 2, 18), [], 0, date(2026, 2, 16)),
            (date(2026, 2, 18), [date(2026, 2, 17)], 0, date(2026, 2, 14)),
            # It ends on the 16th: the 17th and 18th are allowed for, the rest is read from it.
            (date(2026, 2, 16), [], 2, date(2026, 2, 13)),
            (date(2026, 2, 16), [date(2026, 2, 14)], 2, date(2026, 2, 12)),
            (date(2026, 2, 17), [], 1, date(2026, 2, 14)),
            (date(2026, 2, 1), [date(2026, 1, 30)], 2, date(2026, 2, 13)),
        ],
    )
    def test_ruled_out_days_replace_the_allowance_inside_the_reach(
        self, reach, blocked, lost, start
    ):
        found = plan(
            work(3600),
            ready=date(2026, 2, 19),
            blocked_days=frozenset(blocked),
            forecast_until=reach,
        )
        assert (found.working_days, found.lost_days, found.start_date) == (3, lost, start)

    def test_a_ruled_out_day_is_shown_as_such(self):
        found = plan(
            work(1200),
            ready=date(2026, 2, 19),
            blocked_days=frozenset({date(2026, 2, 18)}),
            forecast_until=date(2026, 2, 19),
        )
        assert [day.kind for day in found.calendar] == ["tapping", "ruled out"]
        assert found.last_tapping_day == date(2026, 2, 17)

    @given(
        taps=st.integers(1, 20_000),
        lost=st.integers(0, 5),
        reach=st.none() | st.integers(1, 30),
        blocked=st.sets(st.integers(1, 30)),
        rest=st.sets(st.integers(0, 6), max_size=3),
    )
    def test_no_day_is_both_ruled_out_and_allowed_for(self, taps, lost, reach, blocked, rest):
        ready = date(2026, 3, 1)
        until = None if reach is None else ready - timedelta(days=reach)
        days = {ready - timedelta(days=n) for n in blocked}
        found = plan(
            work(taps),
            ready=ready,
            lost_days=lost,
            rest_weekdays=frozenset(rest),
            blocked_days=frozenset(day for day in days if until and day <= until),
            forecast_until=until,
        )
        kinds = [day.kind for day in found.calendar]
        assert kinds.count("tapping") == found.working_days
        assert all(until is None or d.date > until for d in found.calendar if d.kind == "lost")
        assert all(d.date in days for d in found.calendar if d.kind == "ruled out")
        assert kinds.count("lost") == found.lost_days <= lost
        steps = zip(found.calendar, [*found.calendar[1:], None], strict=True)
        assert all((b.date if b else ready) - a.date == timedelta(days=1) for a, b in steps)

    @given(st.integers(0, 9000), st.integers(0, 3000), st.integers(0, 4))
    def test_more_taps_never_start_later(self, taps, more, lost):
        few, many = (plan(work(n), lost_days=lost) for n in (taps, taps + more))
        assert many.start_date <= few.start_date

    @pytest.mark.parametrize(
        ("options", "match"),
        [
            ({"pairs": 0}, "pairs"),
            ({"hours_per_day": 25}, "hours_per_day"),
            ({"lost_days": -1}, "lost_days"),
            ({"rest_weekdays": frozenset({7})}, "rest_weekdays must be between 0 and 6, not 7"),
            ({"rest_weekdays": frozenset(range(7))}, "at least one weekday"),
            ({"blocked_days": frozenset({date(2026, 2, 3)})}, "forecast_until None"),
            (
                {
                    "blocked_days": frozenset({date(2026, 2, 3)}),
                    "forecast_until": date(2026, 2, 2),
                },
                "2026-02-03 does",
            ),
        ],
    )
    def test_an_impossible_plan_is_named(self, options, match):
        with pytest.raises(DomainError, match=match):
            plan(work(100), **options)

    @pytest.mark.parametrize(
        "make",
        [
            lambda: work(-1),
            lambda: work(1, 300),
            lambda: work(1, observed=0.0),
            lambda: SnowPaces(light=0),
            lambda: SnowPaces(middle_from_m=0.5, deep_over_m=0.4),
        ],
    )
    def test_impossible_work_is_refused(self, make):
        with pytest.raises(OutOfRange):
            make()


class TestWarmSpell:
    def found(self, *days):
        return tapping.runs_before_ready(plan(work(3600), ready=date(2026, 2, 19)), days)

    def test_runs_between_start_and_ready_are_named_with_the_start_after(self):
        found = self.found(
            date(2026, 2, 14), date(2026, 2, 12), date(2026, 2, 13), date(2026, 2, 19)
        )
        assert found.days == (date(2026, 2, 13), date(2026, 2, 14))
        assert found.start_after == date(2026, 2, 16)  # the 15th is a Sunday

    def test_a_run_on_the_last_day_leaves_the_ready_morning(self):
        assert self.found(date(2026, 2, 18)).start_after == date(2026, 2, 19)

    def test_without_a_run_there_is_nothing_to_wait_for(self):
        assert self.found(date(2026, 2, 1)) == tapping.RunsBeforeReady((), None)


class TestReforecast:
    # Monday 9 February 2026 is the next day; counted forward on paper.
    @pytest.mark.parametrize(
        ("woodlots", "per_day", "working", "finish"),
        [
            ([work(600)], 12, 1, date(2026, 2, 9)),
            ([work(600, observed=50.0)], 12, 1, date(2026, 2, 9)),
            ([work(601, observed=50.0)], 12, 2, date(2026, 2, 10)),
            # 400 / 40 = 10 h under way, 2,000 / 80 = 25 h at the planned pace: 35 / 5 = 7 days.
            ([work(400, observed=40.0), work(2000, 12)], 5, 7, date(2026, 2, 16)),
            ([work(0)], 12, 0, None),
        ],
    )
    def test_days_left_follow_the_pace_seen_so_far(self, woodlots, per_day, working, finish):
        found = tapping.reforecast(ReforecastInput(tuple(woodlots), date(2026, 2, 9), per_day))
        assert (found.working_days, found.finish_date) == (working, finish)
        assert found.ready_morning == (finish or date(2026, 2, 8)) + timedelta(days=1)

    def test_days_ruled_out_and_sundays_are_skipped(self):
        evening = ReforecastInput(
            (work(2400),), date(2026, 2, 13), 12, blocked_days=frozenset({date(2026, 2, 14)})
        )
        assert tapping.reforecast(evening).finish_date == date(2026, 2, 16)

    @pytest.mark.parametrize("per_day", [0, NAN])
    def test_a_day_without_an_hour_of_work_is_refused(self, per_day):
        with pytest.raises(OutOfRange, match="pair_hours_per_day"):
            ReforecastInput((work(1),), date(2026, 2, 9), per_day)

    @given(st.integers(1, 5000), st.floats(20, 200), st.integers(0, 4))
    def test_counting_back_from_the_finish_returns_the_days(self, taps, pace, pairs):
        hours = 6.0 * (pairs + 1)
        forward = tapping.reforecast(
            ReforecastInput((work(taps, observed=pace),), date(2026, 2, 9), hours)
        )
        backward = plan(
            work(taps, observed=pace), ready=forward.ready_morning, pairs=pairs + 1, lost_days=0
        )
        assert backward.working_days == forward.working_days
        assert backward.last_tapping_day == forward.finish_date
        assert backward.start_date == date(2026, 2, 9)


FIRST_RUNS = {
    2016: date(2016, 2, 3),
    2017: date(2017, 2, 18),
    2018: date(2018, 2, 20),
    2019: date(2019, 3, 14),
    2020: date(2020, 3, 2),
    2021: date(2021, 3, 9),
    2022: date(2022, 2, 16),
    2023: date(2022, 12, 30),
    2024: date(2024, 2, 9),
    2025: date(2025, 3, 5),
}


class TestSeasons:
    @pytest.mark.parametrize(
        ("day", "season", "place"),
        [
            (date(2025, 11, 30), 2025, 364),
            (date(2025, 12, 1), 2026, 0),
            (date(2025, 12, 31), 2026, 30),
            (date(2026, 1, 1), 2026, 31),
            (date(2026, 3, 1), 2026, 90),
            (date(2024, 3, 1), 2024, 91),
        ],
    )
    def test_a_season_begins_on_1_december_and_is_named_by_its_spring(self, day, season, place):
        assert (tapping.season_of(day), tapping.days_from_december(day)) == (season, place)

    # Sorted by hand: 30 Dec, 3 Feb, 9 Feb, 16 Feb, 18 Feb, 20 Feb, 2 Mar, 5 Mar, 9 Mar, 14 Mar.
    @pytest.mark.parametrize(
        ("k", "ready"),
        [
            (0, date(2025, 12, 30)),
            (1, date(2026, 2, 3)),
            (2, date(2026, 2, 9)),
            (3, date(2026, 2, 16)),
            # 2 March of leap 2020 is day 92 from 1 December: 3 March in 2026.
            (6, date(2026, 3, 3)),
            (9, date(2026, 3, 14)),
        ],
    )
    def test_ready_by_the_next_earliest_after_the_accepted_misses(self, k, ready):
        found = tapping.ready_morning_from_history(FIRST_RUNS, k, 2026)
        assert (found.date, found.k, found.n) == (ready, k, 10)
        assert [season for season, _ in found.ordered][:3] == [2023, 2016, 2024]

    @pytest.mark.parametrize(
        ("ready", "missed"),
        [
            (date(2025, 12, 30), []),
            (date(2025, 12, 31), [2023]),
            (date(2026, 2, 9), [2016, 2023]),
            (date(2026, 2, 10), [2016, 2023, 2024]),
            (date(2026, 3, 15), sorted(FIRST_RUNS)),
        ],
    )
    def test_a_season_is_missed_only_strictly_before_the_ready_morning(self, ready, missed):
        assert tapping.seasons_missed(FIRST_RUNS, ready, 2026) == missed

    @given(
        st.dictionaries(st.integers(1990, 2030), st.integers(0, 150), min_size=1, max_size=25),
        st.data(),
    )
    def test_the_ready_morning_misses_at_most_what_was_accepted(self, places, data):
        runs = {year: date(year - 1, 12, 1) + timedelta(days=n) for year, n in places.items()}
        k = data.draw(st.integers(0, len(runs) - 1))
        ready = tapping.ready_morning_from_history(runs, k, 2027)
        missed = tapping.seasons_missed(runs, ready.date, 2027)
        later = tapping.seasons_missed(runs, ready.date + timedelta(days=1), 2027)
        assert len(missed) <= k < len(later)

    @pytest.mark.parametrize(
        ("call", "match"),
        [
            (lambda: tapping.ready_morning_from_history({}, 0, 2026), "at least one"),
            (lambda: tapping.ready_morning_from_history(FIRST_RUNS, 10, 2026), "between 0 and 9"),
            (lambda: tapping.ready_morning_from_history(FIRST_RUNS, -1, 2026), "accept_missing"),
            (
                lambda: tapping.ready_morning_from_history({2026: date(2025, 3, 1)}, 0, 2026),
                "between 2025-12-01 and 2026-11-30",
            ),
            (lambda: tapping.seasons_missed(FIRST_RUNS, date(2025, 2, 1), 2026), "ready_morning"),
        ],
    )
    def test_impossible_history_is_named(self, call, match):
        with pytest.raises(DomainError, match=match):
            call()


# US National Weather Service wind chill chart (2001), F by mph.
CHILL_CHART = """\
T_F,5,10,15,20,25,30,40,60
40,36,34,32,30,29,28,27,25
30,25,21,19,17,16,15,13,10
20,13,9,6,4,3,1,-1,-4
10,1,-4,-7,-9,-11,-12,-15,-19
0,-11,-16,-19,-22,-24,-26,-29,-33
-5,-16,-22,-26,-29,-31,-33,-36,-40
-25,-40,-47,-51,-55,-58,-60,-64,-69
"""


def chart_cells():
    for row in csv.DictReader(StringIO(CHILL_CHART)):
        temp_f = float(row.pop("T_F"))
        yield from ((temp_f, float(mph), float(chill)) for mph, chill in row.items())


class TestCold:
    @pytest.mark.parametrize(("temp_f", "mph", "chill_f"), list(chart_cells()))
    def test_wind_chill_rounds_to_the_weather_service_chart(self, temp_f, mph, chill_f):
        chill_c = tapping.wind_chill_c(celsius_from_fahrenheit(temp_f), kmh_from_mph(mph))
        assert round(fahrenheit_from_celsius(chill_c)) == chill_f

    def test_wind_chill_in_celsius_agrees_with_environment_canada(self):
        # -10 C at 20 km/h is -18 (Environment Canada, 2001); printed to the degree.
        assert round(tapping.wind_chill_c(-10.0, 20.0)) == -18

    @pytest.mark.parametrize(
        ("temp_c", "wind_kmh", "chill_c"),
        [(-10.0, 0.0, -10.0), (-10.0, 4.828, -10.0), (10.1, 40.0, 10.1), (25.0, 0.0, 25.0)],
    )
    def test_calm_or_mild_air_has_no_wind_chill(self, temp_c, wind_kmh, chill_c):
        assert tapping.wind_chill_c(temp_c, wind_kmh) == chill_c

    @pytest.mark.parametrize(
        ("temp_c", "wind_kmh"), [(NAN, 20.0), (-10.0, NAN), (NAN, NAN), (20.0, NAN), (NAN, 0.0)]
    )
    def test_an_unknown_hour_has_an_unknown_chill(self, temp_c, wind_kmh):
        assert np.isnan(tapping.wind_chill_c(temp_c, wind_kmh))

    @given(st.floats(-50, 10), st.floats(5, 150), st.floats(0, 50))
    def test_more_wind_is_never_warmer_and_never_warmer_than_the_air(self, temp_c, wind, more):
        chill = tapping.wind_chill_c(temp_c, wind)
        # 1e-9 is the rounding of the formula where two winds are nearly the same. The fit
        # itself crosses the air temperature by up to half a degree near 10 C and light wind.
        assert tapping.wind_chill_c(temp_c, wind + more) <= chill + 1e-9
        assert chill <= temp_c + 0.5

    @pytest.mark.parametrize(
        ("temp_f", "mph", "verdict"),
        [
            (10.0, 0.0, 0),
            (9.9, 0.0, 1),
            (10.0, 20.0, 0),  # chart: -9
            (10.0, 25.0, 1),  # chart: -11
            (9.0, NAN, 1),  # cold enough whatever the wind
            (20.0, NAN, -1),
            (NAN, 5.0, -1),
        ],
    )
    def test_an_hour_is_too_cold_under_either_limit(self, temp_f, mph, verdict):
        temps_c = np.array([celsius_from_fahrenheit(temp_f)])
        assert tapping.too_cold(temps_c, np.array([kmh_from_mph(mph)])).tolist() == [verdict]

    @pytest.mark.parametrize(
        ("temps_c", "ruled_out"),
        [
            ([-20.0] * 6, True),
            ([-20.0] * 3 + [-2.0] * 3, True),
            ([-20.0] * 2 + [-2.0] * 4, False),
            ([-20.0] * 3 + [NAN] * 3, True),
            ([-20.0] * 2 + [NAN] * 4, False),
            ([-2.0] * 3, False),
            ([NAN] * 3, False),
        ],
    )
    def test_a_day_is_ruled_out_only_when_unknown_hours_could_not_save_it(self, temps_c, ruled_out):
        found = tapping.judge_work_hours(np.array(temps_c), np.zeros(len(temps_c)), 4)
        assert found.ruled_out is ruled_out
        assert found.workable + found.too_cold + found.unknown == len(temps_c)

    @pytest.mark.parametrize(
        "call",
        [
            lambda: tapping.wind_chill_c(-91.0, 5.0),
            lambda: tapping.wind_chill_c(0.0, -1.0),
            lambda: tapping.ColdLimits(air_c=21),
            lambda: tapping.ColdLimits(wind_chill_c=-81),
            lambda: tapping.judge_work_hours(np.zeros(3), np.zeros(4), 4),
            lambda: tapping.judge_work_hours(np.zeros(3), np.zeros(3), 0),
        ],
    )
    def test_impossible_weather_and_limits_are_refused(self, call):
        with pytest.raises(DomainError):
            call()


class TestGuideline:
    @pytest.mark.parametrize(
        ("rule_set", "diameter_cm", "taps"),
        [
            # Quebec M-35.1, r. 8.1, article 6 (2023): 0-23, 23.1-39, 39.1 and over.
            ("quebec private", 23.0, 0),
            ("quebec private", 23.05, 0),
            ("quebec private", 23.1, 1),
            ("quebec private", 39.0, 1),
            ("quebec private", 39.1, 2),
            # Quebec, r. 2, article 3: under 20, 20-39, 40-59, 60-79, 80 and over.
            ("quebec public", 19.9, 0),
            ("quebec public", 20, 1),
            ("quebec public", 40, 2),
            ("quebec public", 60, 3),
            ("quebec public", 80, 4),
            # Maple Syrup in the Classroom, slide 5.2: conservative <12, 12-18, 18+ in.
            ("conservative", 11.9 * 2.54, 0),
            ("conservative", 12 * 2.54, 1),
            ("conservative", 17.9 * 2.54, 1),
            ("conservative", 18 * 2.54, 2),
            ("conservative", 40 * 2.54, 2),
            # The same slide: traditional 10-15, 15-20, 20-25, 25+ in.
            ("traditional", 9.9 * 2.54, 0),
            ("traditional", 10 * 2.54, 1),
            ("traditional", 15 * 2.54, 2),
            ("traditional", 20 * 2.54, 3),
            ("traditional", 25 * 2.54, 4),
        ],
    )
    def test_taps_follow_the_printed_classes(self, rule_set, diameter_cm, taps):
        assert tapping.taps_for_diameter(diameter_cm, rule_set) == taps

    def test_a_tape_around_the_trunk_gives_the_diameter(self):
        # 38 in around is 12.1 in across and carries one tap (kaitoridge.com, printed to 0.1 in).
        diameter = tapping.diameter_cm_from_circumference(38 * 2.54)
        assert round(diameter / 2.54, 1) == 12.1
        assert tapping.taps_for_diameter(diameter) == 1

    @given(st.sampled_from(sorted(tapping.RULE_SETS)), st.floats(1, 299), st.floats(0, 1))
    def test_a_thicker_tree_never_carries_fewer_taps(self, rule_set, diameter_cm, more):
        taps = tapping.taps_for_diameter
        assert taps(diameter_cm, rule_set) <= taps(diameter_cm + more, rule_set)

    def test_every_rule_set_names_its_source(self):
        assert all(len(rule.source) > 20 for rule in tapping.RULE_SETS.values())

    @pytest.mark.parametrize(
        "call",
        [
            lambda: tapping.taps_for_diameter(0.5),
            lambda: tapping.taps_for_diameter(301),
            lambda: tapping.taps_for_diameter(30, "unwritten"),
            lambda: tapping.diameter_cm_from_circumference(2),
        ],
    )
    def test_an_impossible_tree_or_rule_is_refused(self, call):
        with pytest.raises(DomainError):
            call()

"""Tapping plans replayed day by day, a recorded week, and the full wind-chill chart."""

import csv
from datetime import date, timedelta
from io import StringIO
from math import ceil

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.domain import tapping
from apps.domain.tapping import BackPlanInput, ColdLimits, ReforecastInput, SnowPaces, WoodlotWork
from apps.domain.units import celsius_from_fahrenheit, fahrenheit_from_celsius, kmh_from_mph

DAY = timedelta(days=1)
NAN = float("nan")
READY = date(2026, 2, 20)

woodlots = st.lists(
    st.builds(
        WoodlotWork,
        name=st.sampled_from(["North", "Ridge", "Gully", "Home"]),
        taps_left=st.integers(0, 4000),
        snow_depth_m=st.floats(0, 1.5),
        observed_pace=st.none() | st.floats(30, 150),
    ),
    max_size=5,
).map(tuple)
rests = st.sets(st.integers(0, 6), max_size=4).map(frozenset)


@st.composite
def plans(draw):
    reach = draw(st.none() | st.integers(1, 25))
    until = None if reach is None else READY - reach * DAY
    away = draw(st.sets(st.integers(1, 40), max_size=12))
    blocked = frozenset(READY - n * DAY for n in away if reach is not None and n >= reach)
    return BackPlanInput(
        draw(woodlots),
        READY,
        pairs=draw(st.integers(1, 4)),
        hours_per_day=draw(st.sampled_from([4, 5.5, 6, 8])),
        rest_weekdays=draw(rests),
        lost_days=draw(st.integers(0, 4)),
        blocked_days=blocked,
        forecast_until=until,
    )


def replay(plan, found):
    """Work through the calendar a day at a time; the pair-hours still to do each evening."""
    left, evenings = found.pair_hours, []
    for day in found.calendar:
        if day.kind == "tapping":
            assert day.date.weekday() not in plan.rest_weekdays
            assert day.date not in plan.blocked_days
            left -= plan.pairs * plan.hours_per_day
        evenings.append(left)
    return evenings


class TestReplay:
    @given(plans())
    def test_working_the_plan_taps_everything_by_the_ready_morning(self, plan):
        evenings = replay(plan, tapping.back_plan(plan))
        assert not evenings or evenings[-1] <= 1e-6

    @given(plans())
    def test_a_plan_asks_for_no_day_more_than_it_needs(self, plan):
        found = tapping.back_plan(plan)
        evenings = replay(plan, found)
        if found.working_days:
            assert evenings[-1] > -plan.pairs * plan.hours_per_day - 1e-6
        # The day the plan starts on is itself a day of work, or one that may be lost.
        assert not found.calendar or found.calendar[0].kind in ("tapping", "lost")

    @given(plans())
    def test_the_calendar_is_every_day_up_to_the_eve(self, plan):
        found = tapping.back_plan(plan)
        dates = [day.date for day in found.calendar]
        assert dates == [found.start_date + n * DAY for n in range(len(dates))]
        assert not dates or dates[-1] == READY - DAY

    @given(plans())
    def test_hours_are_those_of_the_woodlots(self, plan):
        found = tapping.back_plan(plan)
        by_hand = 0.0
        for work in plan.woodlots:
            inches = round(work.snow_depth_m / 0.0254, 6)
            planned = 100 if inches < 12 else 80 if inches <= 24 else 60
            by_hand += work.taps_left / (work.observed_pace or planned)
        # 1e-9: sums in another order.
        assert found.pair_hours == pytest.approx(by_hand, rel=1e-9)
        assert found.working_days == ceil(round(by_hand / found.pair_hours_per_day, 9))

    @given(plans())
    def test_allowing_for_more_lost_days_never_starts_later(self, plan):
        starts = [
            tapping.back_plan(
                BackPlanInput(
                    plan.woodlots,
                    READY,
                    pairs=plan.pairs,
                    rest_weekdays=plan.rest_weekdays,
                    lost_days=lost,
                    blocked_days=plan.blocked_days,
                    forecast_until=plan.forecast_until,
                )
            ).start_date
            for lost in range(5)
        ]
        assert starts == sorted(starts, reverse=True)

    @given(plans(), st.integers(1, 3))
    def test_a_second_pair_never_starts_earlier(self, plan, more):
        found = [
            tapping.back_plan(BackPlanInput(plan.woodlots, READY, pairs=pairs)).start_date
            for pairs in (plan.pairs, plan.pairs + more)
        ]
        assert found[0] <= found[1]

    @given(plans(), st.integers(-30, 30))
    def test_without_rest_or_forecast_a_later_ready_morning_moves_the_start_as_much(
        self, plan, days
    ):
        def start(ready):
            plain = BackPlanInput(plan.woodlots, ready, rest_weekdays=frozenset())
            return tapping.back_plan(plain).start_date

        assert start(READY + days * DAY) - start(READY) == days * DAY


class TestRuledOut:
    # One pair of woodlots, 24 pair-hours = two working days before Friday 20 February 2026.
    # Written day by day from the start: T tapping, L lost, R rest, X ruled out.
    @pytest.mark.parametrize(
        ("lost", "reach", "blocked", "letters"),
        [
            (0, None, [], "TT"),
            (1, None, [], "LTT"),
            (2, None, [], "LLTT"),
            (4, None, [], "LLRLLTT"),
            (2, date(2026, 2, 19), [], "TT"),
            (2, date(2026, 2, 19), [date(2026, 2, 19)], "TTX"),
            (2, date(2026, 2, 19), [date(2026, 2, 18)], "TXT"),
            (2, date(2026, 2, 19), [date(2026, 2, n) for n in (17, 18, 19)], "TRTXXX"),
            (2, date(2026, 2, 18), [], "TTL"),
            (1, date(2026, 2, 17), [], "TLT"),
            (0, date(2026, 2, 17), [date(2026, 2, 17)], "TT"),
            (2, date(2026, 2, 17), [date(2026, 2, 17)], "TRTXLL"),
        ],
    )
    def test_each_day_is_used_once(self, lost, reach, blocked, letters):
        found = tapping.back_plan(
            BackPlanInput(
                (WoodlotWork("North", 2400, 0),),
                READY,
                lost_days=lost,
                blocked_days=frozenset(blocked),
                forecast_until=reach,
            )
        )
        names = {"tapping": "T", "lost": "L", "rest": "R", "ruled out": "X"}
        assert "".join(names[day.kind] for day in found.calendar) == letters


class TestRecordedWeek:
    """A week of invented tallies: 2,000 taps in 24 in of snow, two pairs, six hours planned."""

    # Taps made each day and pair-hours worked, Monday to Thursday; then, from the taps left and
    # the averages so far, the days left and the finish, by hand. Planned: 2,000 / 80 = 25 h.
    WEEK = (
        (date(2026, 2, 9), 300, 5, 60, 1700, 6, date(2026, 2, 16)),
        (date(2026, 2, 10), 500, 8, 61.5, 1200, 3, date(2026, 2, 13)),
        (date(2026, 2, 11), 450, 8, 59.5, 750, 2, date(2026, 2, 13)),
        (date(2026, 2, 12), 750, 11, 62.5, 0, 0, None),
    )

    @pytest.mark.parametrize("evening", range(4))
    def test_each_evening_moves_the_finish(self, evening):
        so_far = self.WEEK[: evening + 1]
        day, _, _, pace, left, working, finish = so_far[-1]
        hours = sum(row[2] for row in so_far)
        observed = sum(row[1] for row in so_far) / hours
        assert observed == pytest.approx(pace, abs=0.5)
        found = tapping.reforecast(
            ReforecastInput(
                (WoodlotWork("North", left, 0.6096, observed),), day + DAY, hours / (evening + 1)
            )
        )
        assert (found.working_days, found.finish_date) == (working, finish)

    def test_a_woodlot_not_begun_keeps_its_planned_pace(self):
        evening = ReforecastInput(
            (WoodlotWork("North", 100, 0.6, 50.0), WoodlotWork("Ridge", 160, 0.6)),
            date(2026, 2, 10),
            12,
        )
        found = tapping.reforecast(evening)
        assert [line.pair_hours for line in found.woodlots] == [2, 2]
        assert [line.pace_is_observed for line in found.woodlots] == [True, False]

    @given(woodlots, st.floats(1, 40), rests)
    def test_the_finish_is_a_working_day_with_the_work_before_it(self, lots, per_day, rest):
        found = tapping.reforecast(ReforecastInput(lots, date(2026, 2, 9), per_day, rest))
        if found.finish_date is None:
            assert found.pair_hours == 0
            return
        span = (found.finish_date - date(2026, 2, 9)).days + 1
        worked = [date(2026, 2, 9) + n * DAY for n in range(span)]
        worked = [day for day in worked if day.weekday() not in rest]
        assert found.finish_date in worked
        assert len(worked) == found.working_days


# US National Weather Service wind chill chart (2001), the rows not in test_tapping.
CHART = """\
T_F,5,10,15,20,25,30,40,60
35,31,27,25,24,23,22,20,17
25,19,15,13,11,9,8,6,3
15,7,3,0,-2,-4,-5,-8,-11
5,-5,-10,-13,-15,-17,-19,-22,-26
-10,-22,-28,-32,-35,-37,-39,-43,-48
-15,-28,-35,-39,-42,-44,-46,-50,-55
-20,-34,-41,-45,-48,-51,-53,-57,-62
"""


class TestChill:
    @pytest.mark.parametrize(
        "row", list(csv.DictReader(StringIO(CHART))), ids=lambda row: row["T_F"]
    )
    def test_a_row_of_the_chart_comes_out_whole(self, row):
        temp_c = celsius_from_fahrenheit(float(row["T_F"]))
        speeds = [float(mph) for mph in row if mph != "T_F"]
        chill_c = tapping.wind_chill_c(
            np.full(len(speeds), temp_c), np.array([kmh_from_mph(mph) for mph in speeds])
        )
        printed = [float(row[f"{mph:g}"]) for mph in speeds]
        assert np.rint(fahrenheit_from_celsius(chill_c)).tolist() == printed

    # Environment Canada's own form of the index (2001), km/h and C: 13.12 + 0.6215 T
    # - 11.37 v^0.16 + 0.3965 T v^0.16. Its rounded constants move it by up to 0.1 C.
    @given(st.floats(-40, 10), st.floats(5, 100))
    def test_both_published_forms_agree(self, temp_c, wind_kmh):
        rise = wind_kmh**0.16
        canada = 13.12 + 0.6215 * temp_c - 11.37 * rise + 0.3965 * temp_c * rise
        assert tapping.wind_chill_c(temp_c, wind_kmh) == pytest.approx(canada, abs=0.1)

    @given(st.floats(-50, 9), st.floats(0, 1), st.floats(0, 120))
    def test_warmer_air_never_feels_colder(self, temp_c, warmer, wind_kmh):
        chill = tapping.wind_chill_c
        assert chill(temp_c, wind_kmh) <= chill(temp_c + warmer, wind_kmh) + 1e-9

    def test_arrays_keep_their_shape(self):
        assert tapping.wind_chill_c(np.zeros((2, 3)), np.full((2, 3), 20.0)).shape == (2, 3)

    def test_the_usual_limits_are_ten_and_minus_ten_fahrenheit(self):
        limits = ColdLimits()
        shown = [round(fahrenheit_from_celsius(c), 6) for c in (limits.air_c, limits.wind_chill_c)]
        assert shown == [10, -10]

    @given(
        st.lists(st.floats(-40, 20) | st.just(NAN), min_size=1, max_size=10),
        st.floats(0, 60),
        st.floats(1, 10),
    )
    def test_learning_an_unknown_hour_never_takes_back_a_ruled_out_day(self, temps, wind, needed):
        temps_c, winds = np.array(temps), np.full(len(temps), wind)
        before = tapping.judge_work_hours(temps_c, winds, needed)
        for learned_c in (-39.0, 15.0):
            learned = np.where(np.isnan(temps_c), learned_c, temps_c)
            after = tapping.judge_work_hours(learned, winds, needed)
            assert after.unknown == 0
            assert not (before.ruled_out and not after.ruled_out)

    @given(
        st.lists(st.floats(-40, 20), min_size=1, max_size=10), st.floats(0, 60), st.floats(0, 20)
    )
    def test_looser_limits_never_rule_out_more_hours(self, temps, wind, looser):
        temps_c, winds = np.array(temps), np.full(len(temps), wind)
        strict = tapping.too_cold(temps_c, winds, ColdLimits(-5.0, -15.0))
        loose = tapping.too_cold(temps_c, winds, ColdLimits(-5.0 - looser, -15.0 - looser))
        assert (loose <= strict).all()


class TestPacesAndHistory:
    @given(st.floats(0, 2), st.floats(0.1, 1), st.floats(0, 0.9))
    def test_the_two_limits_belong_to_the_middle(self, depth_m, middle_m, gap_m):
        paces = SnowPaces(3, 2, 1, middle_m, middle_m + gap_m)
        pace = tapping.pace_taps_per_pair_hour
        assert pace(middle_m, paces) == pace(middle_m + gap_m, paces) == 2
        assert pace(depth_m, paces) in (1, 2, 3)

    @given(st.dictionaries(st.integers(1990, 2030), st.integers(0, 364), min_size=2, max_size=20))
    def test_accepting_more_misses_never_means_earlier(self, places):
        runs = {year: date(year - 1, 12, 1) + n * DAY for year, n in places.items()}
        mornings = [
            tapping.ready_morning_from_history(runs, k, 2027).date for k in range(len(runs))
        ]
        assert mornings == sorted(mornings)

    @given(st.dictionaries(st.integers(1990, 2030), st.integers(0, 200), max_size=20), st.randoms())
    def test_the_order_rows_came_in_does_not_matter(self, places, shuffler):
        runs = {year: date(year - 1, 12, 1) + n * DAY for year, n in places.items()}
        shuffled = list(runs.items())
        shuffler.shuffle(shuffled)
        ready = date(2027, 2, 1)
        assert tapping.seasons_missed(runs, ready, 2027) == tapping.seasons_missed(
            dict(shuffled), ready, 2027
        )
        if runs:
            assert tapping.ready_morning_from_history(
                runs, 0, 2027
            ) == tapping.ready_morning_from_history(dict(shuffled), 0, 2027)

    @given(st.dates(date(1950, 1, 1), date(2100, 12, 31)))
    def test_a_date_is_found_again_from_its_place(self, day):
        season, place = tapping.season_of(day), tapping.days_from_december(day)
        assert date(season - 1, 12, 1) + place * DAY == day
        assert 0 <= place <= 365

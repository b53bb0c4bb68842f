"""The window to start in: hand-made forecasts of the three kinds the trade speaks of, and the rest.

The three kinds (common practice, no source): about ten frozen days with 40 F (4.4 C) at the end of
them mean start now; freeze-thaw days inside a ten-day forecast mean time to plan; a warm spell two
days off is waited out. Monday 16 February 2026; 1,200 taps a day.
"""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from apps.domain import sap_run as sr
from apps.domain import start_guidance as sg
from apps.domain.errors import OutOfRange
from apps.domain.start_guidance import Past, Question
from apps.domain.tapping import BackPlanInput, WoodlotWork

DAY = timedelta(days=1)
TODAY = date(2026, 2, 16)
FROZEN, WARM, SOFT = (-9.0, -4.0), (-3.0, 6.0), (-6.0, 4.0)
SPELL = (-2.0, 9.0)
ONE, THIRTY = 1, 30
# By 26 February half of these had come; of the late ones none before 20 March.
IN_SEASON = Past({2016 + n: date(2016 + n, 2, 18) + 2 * n * DAY for n in range(10)}, "recorded")
LATE = Past({2016 + n: date(2016 + n, 3, 20) + 2 * n * DAY for n in range(10)}, "recorded")


def ahead(*days, members=THIRTY):
    """The days from today on, two frozen ones before them; members within 0.3 C of each other."""
    temps = np.array([FROZEN, FROZEN, *days], dtype=float)
    spread = np.linspace(-0.3, 0.3, members)[:, None] if members > 1 else np.zeros((1, 1))
    dates = [TODAY + (n - 2) * DAY for n in range(len(temps))]
    return sr.days_from_extremes(dates, temps[:, 0] + spread, temps[:, 1] + spread)


def asked(weather=None, past=None, days=5, **changes):
    work = (WoodlotWork("North", days * 1200, 0.0),)
    reach = TODAY + (len(weather.dates) - 3) * DAY if weather else None
    plan = BackPlanInput(work, TODAY, lost_days=0, forecast_until=reach)
    seen = sg.look_ahead([weather], TODAY) if weather else None
    return Question(TODAY, TODAY + DAY, 2026, plan, seen, past, **changes)


def told(*args, **changes):
    return sg.recommend(asked(*args, **changes))


def kinds(guidance):
    return [reason.kind for reason in guidance.reasons]


TEN_FROZEN = [FROZEN] * 11 + [WARM] * 4
FREEZE_THAW_INSIDE = [FROZEN] * 4 + [SOFT, FROZEN, SOFT] + [FROZEN] * 8
SPELL_AT_HAND = [FROZEN] * 2 + [SPELL] * 3 + [FROZEN] * 10


class TestTenFrozenDaysThenWarm:
    @pytest.mark.parametrize("members", [ONE, THIRTY])
    @pytest.mark.parametrize("past", [None, IN_SEASON])
    @pytest.mark.parametrize("days", [2, 5, 8])
    def test_means_start_now(self, members, past, days):
        guidance = told(ahead(*TEN_FROZEN, members=members), past, days)
        assert guidance.stage == "start now"
        assert guidance.window.first == TODAY + DAY
        assert kinds(guidance)[0] == "frozen then warm"
        assert guidance.reasons[0].day == TODAY + 11 * DAY

    def test_every_tap_is_in_before_the_warm_day(self):
        guidance = told(ahead(*TEN_FROZEN))
        assert guidance.row(guidance.window.last).work.ready_morning <= TODAY + 11 * DAY

    @pytest.mark.parametrize("frozen", [9, 10, 11, 12, 13])
    def test_about_ten_will_do(self, frozen):
        days = [FROZEN] * frozen + [WARM] * (16 - frozen)
        assert told(ahead(*days)).stage == "start now"

    @pytest.mark.parametrize("frozen", [6, 14])
    def test_other_numbers_are_no_sign(self, frozen):
        days = [FROZEN] * frozen + [WARM] * (17 - frozen)
        assert "frozen then warm" not in kinds(told(ahead(*days), LATE))

    def test_mild_days_at_the_end_are_not_yet_warm(self):
        days = [FROZEN] * 11 + [(-3.0, 3.0)] * 4
        assert "frozen then warm" not in kinds(told(ahead(*days), IN_SEASON))

    def test_long_before_the_season_it_is_no_sign(self):
        guidance = told(ahead(*TEN_FROZEN), LATE)
        assert "frozen then warm" not in kinds(guidance)
        assert guidance.stage != "start now"


class TestFreezeThawDaysInside:
    @pytest.mark.parametrize("members", [ONE, THIRTY])
    @pytest.mark.parametrize("past", [None, LATE])
    def test_mean_time_to_plan(self, members, past):
        guidance = told(ahead(*FREEZE_THAW_INSIDE, members=members), past)
        assert guidance.stage == "plan"
        reason = next(one for one in guidance.reasons if one.kind == "freeze-thaw ahead")
        assert reason.day == TODAY + 4 * DAY

    def test_beyond_the_days_to_plan_by_they_say_nothing(self):
        days = [FROZEN] * 12 + [SOFT, FROZEN, SOFT]
        assert "freeze-thaw ahead" not in kinds(told(ahead(*days), LATE))


class TestWarmSpellTwoDaysOff:
    @pytest.mark.parametrize("members", [ONE, THIRTY])
    @pytest.mark.parametrize("past", [None, LATE, IN_SEASON])
    def test_is_waited_out(self, members, past):
        guidance = told(ahead(*SPELL_AT_HAND, members=members), past)
        assert guidance.stage == "wait out" or guidance.window.first > TODAY + 4 * DAY
        assert guidance.window.first > TODAY + 4 * DAY
        assert guidance.row(guidance.window.first).clear

    @pytest.mark.parametrize("past", [None, IN_SEASON])
    def test_starting_at_once_is_the_runner_up(self, past):
        guidance = told(ahead(*SPELL_AT_HAND), past)
        assert guidance.stage == "wait out"
        assert guidance.runner_up.start == TODAY + DAY
        assert ("spell waited out", TODAY + 2 * DAY) in [
            (one.kind, one.day) for one in guidance.reasons
        ]

    @pytest.mark.parametrize("past", [None, IN_SEASON])
    def test_even_the_first_run_is_waited_out_when_cold_follows(self, past):
        days = [FROZEN] + [(-3.0, 14.0)] * 4 + [FROZEN] * 10
        guidance = told(ahead(*days), past)
        assert max(row.caught or 0 for row in guidance.rows) < 0.5
        assert (guidance.stage, kinds(guidance)) == ("wait out", ["spell waited out"])
        assert guidance.window.first > TODAY + 4 * DAY

    def test_with_half_the_taps_in_before_it_the_crew_goes_on(self):
        assert told(ahead(*SPELL_AT_HAND), IN_SEASON, set_share=0.6).stage != "wait out"

    def test_a_spell_the_forecast_sees_no_end_of_is_not_waited_out(self):
        days = [FROZEN] * 2 + [SPELL] * 13
        guidance = told(ahead(*days), IN_SEASON, days=8)
        assert (guidance.stage, kinds(guidance)) == ("late", ["too late"])
        assert guidance.window == sg.Window(TODAY + DAY, TODAY + DAY)

    def test_further_off_it_is_not_waited_out(self):
        days = [FROZEN] * 4 + [SPELL] * 3 + [FROZEN] * 8
        assert told(ahead(*days), IN_SEASON).stage != "wait out"


class TestPastAlone:
    # Ready by 24 February three of ten first runs have come, and by then on average fewer taps
    # are missing than that: the share caught is what the window goes by.
    def test_the_window_is_the_last_with_enough_caught(self):
        guidance = told(past=IN_SEASON, days=2)
        rows = {row.start: row for row in guidance.rows}
        last = guidance.window.last
        later = min(start for start in rows if start > last)
        assert rows[last].caught >= 0.8 > rows[later].caught

    def test_nothing_in_sight_means_no_hurry(self):
        guidance = told(past=Past({2020: date(2020, 4, 20)}, "recorded"))
        assert (guidance.stage, kinds(guidance)[-1]) == ("wait", "nothing in sight")

    @pytest.mark.parametrize(("past", "presses"), [(IN_SEASON, True), (LATE, False)])
    def test_good_to_the_end_of_the_list_nothing_presses(self, past, presses):
        guidance = told(past=past, days=2)
        assert guidance.presses is presses
        assert ("last good start" in kinds(guidance)) is presses

    def test_without_a_window_nothing_presses(self):
        assert told().presses is False

    def test_with_all_of_the_past_gone_by_it_is_late(self):
        guidance = told(past=Past({2020: date(2020, 1, 20)}, "inferred"))
        assert guidance.stage == "late"
        assert guidance.rows[0].missed == (2020,)

    def test_where_the_best_is_under_what_is_wanted_the_best_counts(self):
        # Half have come by the day after tomorrow, the others come in a month.
        past = Past({2020: date(2020, 2, 17), 2021: date(2021, 3, 25)}, "recorded")
        guidance = told(past=past)
        assert guidance.rows[0].caught == 0.5
        assert guidance.window.last > TODAY + 10 * DAY

    def test_wanting_more_never_starts_later(self):
        lasts = [
            told(past=IN_SEASON, days=3, wanted=wanted).window.last
            for wanted in (0.5, 0.6, 0.7, 0.8, 0.9, 1.0)
        ]
        assert lasts == sorted(lasts, reverse=True)


class TestNothingKnown:
    def test_without_forecast_or_past_nothing_is_told(self):
        guidance = told()
        assert (guidance.stage, guidance.window, guidance.runner_up) == ("not known", None, None)
        assert kinds(guidance) == ["nothing in sight"]
        assert {row.chance.weight for row in guidance.rows} == {None}

    def test_with_no_day_to_work_on_there_are_no_starts(self):
        question = asked(ahead(*[FROZEN] * 25))
        blocked = frozenset(TODAY + n * DAY for n in range(25))
        plan = replace(question.plan, blocked_days=blocked, forecast_until=TODAY + 24 * DAY)
        guidance = sg.recommend(replace(question, plan=plan))
        assert (guidance.stage, guidance.rows, guidance.window) == ("not known", (), None)

    def test_signs_alone_can_say_start_and_wait_out(self):
        # Twenty days of work reach beyond the forecast, so no chance is known.
        start = told(ahead(*TEN_FROZEN[:13]), days=20)
        assert (start.stage, start.window.last) == ("start now", TODAY + DAY)
        quiet = told(ahead(*[FROZEN] * 12), days=20)
        assert (quiet.stage, kinds(quiet)) == ("not known", ["nothing in sight"])


class TestMembersAlone:
    def test_the_last_start_before_a_first_run_they_see(self):
        days = [FROZEN] * 4 + [(-3.0, 8.0)] * 9
        guidance = told(ahead(*days), days=2)
        assert kinds(guidance)[0] == "last good start"
        first_run = asked(ahead(*days)).first_run.day_reached(0.5)
        assert guidance.row(guidance.window.last).work.ready_morning <= first_run

    def test_no_start_before_it_is_late(self):
        days = [FROZEN] * 4 + [(-3.0, 8.0)] * 9
        assert told(ahead(*days), days=9).stage == "late"


class TestWindow:
    def test_starts_that_meet_a_spell_half_tapped_are_left_out(self):
        days = [FROZEN] * 5 + [SPELL, FROZEN] + [FROZEN] * 8
        guidance = told(ahead(*days), IN_SEASON, days=3)
        assert all(
            guidance.row(row.start).clear
            for row in guidance.rows
            if guidance.window.holds(row.start)
        )

    def test_a_spell_no_start_avoids_is_named(self):
        days = [FROZEN] * 3 + [SPELL, FROZEN] * 6
        guidance = told(ahead(*days), IN_SEASON, days=6)
        assert "spell met" in kinds(guidance)
        assert guidance.row(guidance.window.last).warm_days

    def test_half_tapped_means_some_in_and_some_out(self):
        days = [FROZEN] * 3 + [SPELL] + [FROZEN] * 11
        row = told(ahead(*days), LATE, days=4).row(TODAY + 2 * DAY)
        assert [(day.date, day.share_set) for day in row.warm_days] == [
            (TODAY + 3 * DAY, 0.25),
            (TODAY + 4 * DAY, 0.5),  # the day after still runs on the warmth of its eve
        ]
        assert told(ahead(*days), LATE, days=4).row(TODAY + 7 * DAY).clear

    def test_an_open_window_begins_tomorrow_and_leaves_time(self):
        stages = {}
        for day in range(20):
            past = Past({2020: date(2020, 2, 20) + 2 * day * DAY}, "recorded")
            guidance = told(past=past)
            stages.setdefault(guidance.stage, []).append(guidance)
        assert stages.keys() >= {"start now", "open", "plan", "wait"}
        for guidance in stages["open"]:
            assert guidance.window.first == TODAY + DAY < guidance.window.last

    def test_a_row_not_listed_is_none(self):
        assert told(past=LATE).row(TODAY + 6 * DAY) is None  # a Sunday

    @pytest.mark.parametrize("wanted", [-0.1, 1.1, float("nan")])
    def test_an_impossible_share_wanted_is_refused(self, wanted):
        with pytest.raises(OutOfRange):
            asked(wanted=wanted)

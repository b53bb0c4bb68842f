"""Sap at risk, what would change the answer, and which woodlot first, by hand."""

from dataclasses import replace
from datetime import date, timedelta
from itertools import permutations

import numpy as np
import pytest

from apps.domain import start_guidance as sg
from apps.domain.errors import DomainError, OutOfRange
from apps.domain.start_guidance import AgeingShares, DaySeen, Past, Question, Seen, WoodlotRun
from apps.domain.tapping import BackPlanInput, WoodlotWork

DAY = timedelta(days=1)
TODAY = date(2026, 2, 16)
PAST = Past({2020 + n: date(2020 + n, 3, 10) + n * DAY for n in range(5)}, "recorded")


def seen(runs):
    """Members of equal weight with these run days."""
    runs = np.array(runs, dtype=bool)
    size, days = runs.shape
    told = tuple(DaySeen(TODAY + n * DAY, size, 0.0, 0.0, 0.0, 0.0) for n in range(days))
    return Seen(told, np.full(size, 1 / size), np.full(size, days), np.full(size, -1), runs)


def plan(days=2, **changes):
    work = (WoodlotWork("North", days * 1200, 0.0),)
    return BackPlanInput(work, TODAY, **{"lost_days": 0} | changes)


def start(days=2, after=0):
    return sg.possible_starts(plan(days), TODAY + after * DAY)[0]


class TestRunsMissed:
    def test_a_run_day_is_missed_by_the_taps_not_in(self):
        # Two days of work from today: none in today, half tomorrow, all from then on.
        told = sg.runs_missed(seen([[1, 1, 1, 1]] * 10), start())
        assert (told.low, told.middle, told.high, told.a_range) == (1.5, 1.5, 1.5, True)

    def test_the_range_is_that_of_the_members(self):
        # Member n of ten has n run days, all of them before anything is in.
        runs = [[1] * n + [0] * (10 - n) for n in range(1, 11)]
        told = sg.runs_missed(seen(runs), start(after=11))
        assert (told.low, told.middle, told.high) == (1, 5, 9)

    def test_one_forecast_has_no_range(self):
        assert not sg.runs_missed(seen([[1, 0]]), start()).a_range

    def test_waiting_longer_never_misses_less(self):
        runs = np.random.default_rng(2).random((12, 15)) < 0.4
        missed = [sg.runs_missed(seen(runs), start(3, after)).middle for after in range(12)]
        assert missed == sorted(missed)


class TestAgeing:
    def question(self, past=PAST):
        return Question(TODAY, TODAY + DAY, 2026, plan(), None, past)

    def test_weeks_run_from_the_ready_morning_to_the_likely_first_run(self):
        # The third of five is 12 March (2022: no leap day); ready on Wednesday 18 February.
        assert self.question().first_run.day_reached(0.5) == date(2026, 3, 12)
        assert sg.weeks_waited(self.question().first_run, start()) == pytest.approx(22 / 7)

    def test_a_first_run_before_all_is_in_leaves_no_hole_waiting(self):
        assert sg.weeks_waited(self.question().first_run, start(after=40)) == 0

    def test_without_a_likely_day_the_weeks_are_unknown(self):
        assert sg.weeks_waited(self.question(past=None).first_run, start()) is None

    def test_the_owners_range_is_taken_by_the_week_and_never_beyond_all(self):
        shares = AgeingShares(0.01, 0.02)
        assert shares.lost(3) == pytest.approx((0.03, 0.06))
        assert shares.lost(80) == (0.8, 1.0)

    @pytest.mark.parametrize(
        ("low", "high", "error"),
        [(-0.1, 0.5, OutOfRange), (0.1, 1.5, OutOfRange), (0.3, 0.2, DomainError)],
    )
    def test_an_impossible_range_is_refused(self, low, high, error):
        with pytest.raises(error):
            AgeingShares(low, high)


class TestChanges:
    def question(self, **changes):
        given = {"past": PAST, "plan": plan(6)} | changes
        return Question(TODAY, TODAY + DAY, 2026, seen=None, **given)

    def changed(self, **changes):
        base = self.question()
        told = sg.recommend(base)
        return sg.what_changes(told, [("tried", replace(base, **changes))])[0]

    def test_a_second_crew_moves_the_last_day_later(self):
        change = self.changed(plan=plan(6, pairs=4))
        # Six days of work become three.
        assert (change.changes, change.days, change.days_moved) == (True, 3, 3)

    def test_half_the_crew_moves_it_earlier(self):
        change = self.changed(plan=plan(6, pairs=1))
        assert change.days < 0
        assert change.days_moved == -change.days

    def test_the_same_again_changes_nothing(self):
        assert not self.changed().changes

    def test_losing_the_window_is_a_change_without_days(self):
        change = self.changed(past=None)
        assert (change.changes, change.days, change.days_moved) == (True, None, None)
        assert (change.window, change.stage) == (None, "not known")

    def test_nothing_known_either_way_is_no_change(self):
        base = self.question(past=None)
        (change,) = sg.what_changes(sg.recommend(base), [("again", base)])
        assert (change.changes, change.days) == (False, 0)


class TestWoodlotOrder:
    def lots(self):
        return [
            WoodlotRun("Ridge", date(2026, 3, 5), 100, 10),
            WoodlotRun("Gully", date(2026, 3, 6), 60, 10),
            WoodlotRun("Home", date(2026, 3, 6), 80, 10),
            WoodlotRun("North", date(2026, 3, 7), 100, 10),
            WoodlotRun("Far", None, 100, 10),
            WoodlotRun("Bog", None, 100, 10),
        ]

    def test_earliest_first_then_the_quicker_then_the_name(self):
        names = [lot.name for lot in sg.woodlot_order(self.lots())]
        # North is two days after Ridge, so it is no longer of its group.
        assert names == ["Ridge", "Home", "Gully", "North", "Bog", "Far"]

    def test_the_order_they_come_in_does_not_matter(self):
        expected = sg.woodlot_order(self.lots())
        for shuffled in permutations(self.lots()):
            assert sg.woodlot_order(shuffled) == expected

    def test_no_woodlots_have_no_order(self):
        assert sg.woodlot_order([]) == ()

    @pytest.mark.parametrize(("pace", "hours"), [(0, 10), (100, -1)])
    def test_impossible_work_is_refused(self, pace, hours):
        with pytest.raises(OutOfRange):
            WoodlotRun("Ridge", None, pace, hours)

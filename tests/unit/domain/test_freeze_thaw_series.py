"""Many series, whole years and odd arrays: counts that must hold whatever the weather was."""

from calendar import isleap
from datetime import UTC, date, datetime, timedelta, timezone
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.domain import freeze_thaw as ft

NEW_YORK = ZoneInfo("America/New_York")
EST = timezone(timedelta(hours=-5))
NAN = float("nan")
START = datetime(2026, 3, 6, 5, tzinfo=UTC)

SPECIAL_C = np.array([NAN, NAN, 0.0, -1.1, 2.2, 0.01, -0.01])


def members(seed, count, hours):
    """Seeded weather around freezing, one hour in four missing or on a limit."""
    draw = np.random.default_rng(seed)
    temps_c = np.round(draw.normal(0, 3, (count, 1)) + draw.normal(0, 3, (count, hours)), 2)
    special = draw.random(temps_c.shape) < 0.25
    return np.where(special, draw.choice(SPECIAL_C, temps_c.shape), temps_c)


seeds = st.integers(0, 2**32 - 1)
ensembles = st.builds(members, seeds, st.just(3), st.integers(1, 120))


def days_of(hours, tz=NEW_YORK, start=START):
    return ft.local_day_edges(start, hours, tz)


def pencil_verdict(known, full_hours, freeze_c=-1.1, thaw_c=2.2):
    """The verdict read off a list of known hours, as one would do it by hand."""
    froze = any(round(t, 2) <= freeze_c for t in known)
    thawed = any(round(t, 2) >= thaw_c for t in known)
    if froze and thawed:
        return "yes"
    return "no" if len(known) == full_hours else "unknown"


class TestYears:
    ZONES = ("America/New_York", "America/Toronto", "America/Halifax", "America/Chicago", "UTC")

    @pytest.mark.parametrize("zone", ZONES)
    @pytest.mark.parametrize("year", [2015, 2020, 2024, 2026, 2028])
    def test_a_year_has_its_days_and_hours(self, zone, year):
        # 365 or 366 days of 24 hours: the hour lost in spring comes back in autumn.
        tz = ZoneInfo(zone)
        start = datetime(year, 1, 1, tzinfo=tz).astimezone(UTC)
        count = 366 if isleap(year) else 365
        edges = ft.local_day_edges(start, 24 * count, tz)
        assert len(edges) == count
        assert sum(day.full_hours for day in edges) == 24 * count
        assert (edges[0].date, edges[-1].date) == (date(year, 1, 1), date(year, 12, 31))

    # Dates on which US clocks change: second Sunday of March, first Sunday of November (Energy
    # Policy Act of 2005, section 110), read off a printed calendar.
    @pytest.mark.parametrize(
        ("short", "long"),
        [
            (date(2015, 3, 8), date(2015, 11, 1)),
            (date(2019, 3, 10), date(2019, 11, 3)),
            (date(2023, 3, 12), date(2023, 11, 5)),
            (date(2024, 3, 10), date(2024, 11, 3)),
            (date(2025, 3, 9), date(2025, 11, 2)),
            (date(2026, 3, 8), date(2026, 11, 1)),
            (date(2027, 3, 14), date(2027, 11, 7)),
        ],
    )
    def test_one_day_a_year_is_short_and_one_long(self, short, long):
        start = datetime(short.year, 1, 1, 5, tzinfo=UTC)
        edges = ft.local_day_edges(start, 8760, NEW_YORK)
        odd = {day.date: day.full_hours for day in edges if day.full_hours != 24}
        assert odd == {short: 23, long: 25}

    @pytest.mark.parametrize("step", [1, 2, 3, 6, 12])
    def test_longer_steps_find_the_same_dates(self, step):
        hourly = ft.local_day_edges(START, 228, NEW_YORK)
        stepped = ft.local_day_edges(START, 228 // step, NEW_YORK, step)
        assert [day.date for day in stepped] == [day.date for day in hourly]
        assert [day.full_hours for day in stepped] == [day.full_hours for day in hourly]

    @given(st.integers(1, 300), st.integers(1, 12))
    def test_edges_never_leave_a_gap(self, values, step):
        edges = ft.local_day_edges(START, values, NEW_YORK, step)
        assert [day.start_index for day in edges[1:]] == [day.stop_index for day in edges[:-1]]
        assert (edges[0].start_index, edges[-1].stop_index) == (0, values)


class TestEnsembles:
    @given(ensembles)
    def test_members_together_are_judged_as_each_alone(self, temps_c):
        days = days_of(temps_c.shape[1])
        together = ft.judge_summary(ft.summarise_days(temps_c, days))
        for member, verdicts in zip(temps_c, together, strict=True):
            alone = ft.judge_days(member, START, NEW_YORK)
            words = {"yes": 1, "no": 0, "unknown": -1}
            assert [words[day.verdict] for day in alone] == verdicts.tolist()

    @given(ensembles)
    def test_verdicts_equal_those_read_off_the_hours(self, temps_c):
        for member in temps_c:
            found = ft.judge_days(member, START, NEW_YORK)
            for day, verdict in zip(days_of(member.size), found, strict=True):
                hours = member[day.start_index : day.stop_index].tolist()
                known = [t for t in hours if t == t]
                assert verdict.verdict == pencil_verdict(known, day.full_hours)

    @given(ensembles)
    def test_known_and_missing_hours_make_up_the_day(self, temps_c):
        summary = ft.summarise_days(temps_c, days_of(temps_c.shape[1]))
        assert (summary.known_hours + summary.missing_hours == summary.full_hours).all()
        crossing = summary.hours_above_0 + summary.hours_below_0
        assert (crossing <= summary.known_hours).all()

    @given(ensembles)
    def test_extremes_are_unknown_exactly_when_no_hour_is_known(self, temps_c):
        summary = ft.summarise_days(temps_c, days_of(temps_c.shape[1]))
        unknown = summary.known_hours == 0
        assert np.array_equal(np.isnan(summary.minimum_c), unknown)
        assert np.array_equal(np.isnan(summary.maximum_c), unknown)

    @given(ensembles, st.integers(1, 500).map(lambda n: n / 100))
    def test_colder_air_never_has_fewer_freezing_or_more_thawing_hours(self, temps_c, colder):
        days = days_of(temps_c.shape[1])
        warm, cold = (ft.summarise_days(t, days) for t in (temps_c, temps_c - colder))
        assert (cold.hours_below_0 >= warm.hours_below_0).all()
        assert (cold.hours_above_0 <= warm.hours_above_0).all()

    @given(ensembles)
    def test_signs_turned_round_turn_the_hours_round(self, temps_c):
        days = days_of(temps_c.shape[1])
        one, other = (ft.summarise_days(t, days) for t in (temps_c, -temps_c))
        assert np.array_equal(one.hours_above_0, other.hours_below_0)
        assert np.array_equal(one.minimum_c, -other.maximum_c, equal_nan=True)

    @pytest.mark.parametrize(
        "reshaped",
        [
            lambda t: np.asfortranarray(t),
            lambda t: t[::1, ::1].astype(np.float32),
            lambda t: np.repeat(t, 2, axis=1)[:, ::2],
            lambda t: np.ascontiguousarray(t.T).T,
        ],
    )
    def test_how_an_array_lies_in_memory_does_not_matter(self, reshaped):
        # Quarter degrees are exact in single precision too.
        temps_c = np.random.default_rng(1).integers(-40, 40, (6, 100)) / 4
        days = days_of(100)
        plain, other = (ft.summarise_days(t, days) for t in (temps_c, reshaped(temps_c)))
        assert np.array_equal(plain.minimum_c, other.minimum_c)
        assert np.array_equal(plain.hours_above_0, other.hours_above_0)
        assert np.array_equal(ft.count_cycles(temps_c), ft.count_cycles(reshaped(temps_c)))
        assert ft.find_cycles(temps_c).rows() == ft.find_cycles(reshaped(temps_c)).rows()

    def test_the_arrays_given_are_left_as_they_were(self):
        temps_c = np.random.default_rng(2).normal(0, 5, (4, 72))
        before = temps_c.copy()
        ft.summarise_days(temps_c, days_of(72))
        ft.find_cycles(temps_c)
        ft.longest_thaw_hours(temps_c)
        assert np.array_equal(temps_c, before)


def thinned(seed):
    """24 members of two days, each day of each member whole or with an hour missing."""
    temps_c = np.nan_to_num(members(seed, 24, 48))
    temps_c[np.random.default_rng(seed).random(24) < 0.5, 7] = NAN
    return temps_c


class TestMemberShares:
    @given(st.builds(thinned, seeds))
    def test_shares_count_full_members_only(self, temps_c):
        days = ft.local_day_edges(datetime(2026, 3, 3, 5, tzinfo=UTC), 48, EST)
        summary = ft.summarise_days(temps_c, days)
        for index, share in enumerate(ft.member_shares(summary)):
            full = [m for m in temps_c[:, 24 * index : 24 * index + 24] if not np.isnan(m).any()]
            yes = sum(pencil_verdict(m.tolist(), 24) == "yes" for m in full)
            assert (share.yes, share.full) == (yes, len(full))
            assert share.share == (yes / len(full) if len(full) >= 10 else None)

    def test_a_day_only_partly_in_the_forecast_has_no_full_member(self):
        summary = ft.summarise_days(np.zeros((30, 20)), days_of(20))
        (share,) = ft.member_shares(summary)
        assert (share.full, share.share) == (0, None)


class TestHalfAHundredth:
    # Rounded to 0.01 C with halves to even, 0.005 is 0 and so is -0.005.
    @pytest.mark.parametrize(
        ("temp_c", "above", "below"),
        [(0.005, 0, 0), (0.00501, 1, 0), (-0.005, 0, 0), (-0.00501, 0, 1), (0.0, 0, 0)],
    )
    def test_exactly_half_is_neither_above_nor_below(self, temp_c, above, below):
        temps_c = np.full(24, temp_c)
        days = ft.local_day_edges(datetime(2026, 3, 3, 5, tzinfo=UTC), 24, EST)
        summary = ft.summarise_days(temps_c, days)
        assert (summary.hours_above_0[0], summary.hours_below_0[0]) == (24 * above, 24 * below)
        assert int(ft.longest_thaw_hours(temps_c)) == 24 * above
        thaw_first = np.concatenate((temps_c, np.full(3, -1.0), np.full(3, 1.0), temps_c))
        (cycle,) = ft.find_cycles(thaw_first).rows()
        assert cycle.thaw_hours == 3 + 24 * above
        assert cycle.freeze_hours == 3 + 24 * below


class TestCycleSeries:
    def test_series_of_one_hour_each_are_kept_apart(self):
        temps_c = np.array([[3.0], [-1.0], [3.0]])
        assert ft.longest_thaw_hours(temps_c).tolist() == [1, 0, 1]
        assert ft.count_cycles(temps_c).tolist() == [0, 0, 0]

    @pytest.mark.parametrize("shape", [(0,), (3, 0), (0, 24), (2, 0, 24)])
    def test_no_hours_or_no_series_have_no_cycles(self, shape):
        temps_c = np.empty(shape)
        assert ft.count_cycles(temps_c).shape == ft.longest_thaw_hours(temps_c).shape == shape[:-1]
        assert ft.find_cycles(temps_c).rows() == []

    @given(ensembles)
    def test_counting_and_finding_agree(self, temps_c):
        found = ft.find_cycles(temps_c)
        per_series = np.bincount(found.series, minlength=len(temps_c))
        assert per_series.tolist() == ft.count_cycles(temps_c).tolist()

    @given(ensembles)
    def test_cycles_follow_one_another_without_overlap(self, temps_c):
        rows = ft.find_cycles(temps_c).rows()
        for before, after in pairwise(rows):
            if before.series == after.series:
                assert before.thaw_index + before.thaw_hours <= after.freeze_index
        assert all(row.freeze_hours >= 3 and row.thaw_hours >= 3 for row in rows)
        assert all(row.depth_c < 0 for row in rows)

    @given(ensembles)
    def test_no_thaw_of_a_cycle_is_longer_than_the_longest(self, temps_c):
        longest = ft.longest_thaw_hours(temps_c)
        rows = ft.find_cycles(temps_c).rows()
        assert all(row.thaw_hours <= longest[row.series] for row in rows)

    @given(ensembles)
    def test_losing_an_hour_never_lengthens_a_thaw(self, temps_c):
        lost = temps_c.copy()
        lost[:, temps_c.shape[1] // 2] = NAN
        assert (ft.longest_thaw_hours(lost) <= ft.longest_thaw_hours(temps_c)).all()

    # A sine of a day about the freezing point: one cycle a day after the first freeze, counted
    # from the curve itself. Amplitude 6 C, lowest at hour 4, highest at hour 16.
    @pytest.mark.parametrize(
        ("mean_c", "cycles", "hours_above"), [(0, 4, 11), (7, 0, 24), (-7, 0, 0)]
    )
    def test_a_daily_swing_makes_a_cycle_a_day(self, mean_c, cycles, hours_above):
        hours = np.arange(4 * 24)
        temps_c = mean_c + 6 * np.sin(2 * np.pi * (hours - 10) / 24)
        assert int(ft.count_cycles(temps_c)) == cycles
        assert int(ft.longest_thaw_hours(temps_c[:24])) == hours_above


class TestMonths:
    @staticmethod
    def count(temps_c, start):
        return ft.count_months(np.asarray(temps_c, dtype=float), start, EST)

    @pytest.mark.parametrize(("known", "complete"), [(20, 1), (19, 0), (24, 1), (0, 0)])
    def test_a_day_counts_from_twenty_known_hours(self, known, complete):
        hours = [-5.0] * (known // 2) + [5.0] * (known - known // 2) + [NAN] * (24 - known)
        (month,) = self.count(hours, datetime(2026, 2, 1, 5, tzinfo=UTC))
        assert month.complete_days == complete
        assert month.crossing_days == complete
        assert len(month.limit_dates) == complete

    @pytest.mark.parametrize(
        ("low", "high", "crossing", "within"),
        [
            (-1.1, 2.2, 1, 1),
            (-0.01, 0.01, 1, 0),
            (0.0, 5.0, 0, 0),
            (-5.0, 0.0, 0, 0),
            (-1.1, 2.19, 1, 0),
        ],
    )
    def test_the_strict_rule_and_the_limits_are_counted_apart(self, low, high, crossing, within):
        (month,) = self.count([low] * 12 + [high] * 12, datetime(2026, 2, 1, 5, tzinfo=UTC))
        assert (month.crossing_days, len(month.limit_dates)) == (crossing, within)

    def test_a_cycle_falls_in_the_month_of_the_third_hour_of_its_thaw(self):
        # The thaw begins two hours before midnight: its third hour is in February.
        hours = [-3.0] * 22 + [3.0] * 2 + [3.0] * 24
        january, february = self.count(hours, datetime(2026, 1, 31, 5, tzinfo=UTC))
        assert (january.cycles, february.cycles) == (0, 1)

    def test_a_freeze_carries_over_into_the_next_month(self):
        hours = [-3.0] * 24 + [0.0] * 5 + [3.0] * 19
        january, february = self.count(hours, datetime(2026, 1, 31, 5, tzinfo=UTC))
        assert (january.cycles, february.cycles) == (0, 1)

    def test_the_longest_thaw_is_cut_at_the_month_edge(self):
        hours = [3.0] * 48
        january, february = self.count(hours, datetime(2026, 1, 31, 5, tzinfo=UTC))
        assert (january.longest_thaw_hours, february.longest_thaw_hours) == (24, 24)

    @pytest.mark.parametrize(("year", "days"), [(2024, 29), (2026, 28)])
    def test_february_has_its_days(self, year, days):
        months = self.count([1.0] * 24 * (31 + days + 31), datetime(year, 1, 1, 5, tzinfo=UTC))
        assert [month.complete_days for month in months] == [31, days, 31]
        assert [(month.year, month.month) for month in months] == [(year, n) for n in (1, 2, 3)]

    def test_the_same_month_of_two_years_is_two_months(self):
        hours = [1.0] * (24 * 366)
        months = self.count(hours, datetime(2025, 6, 15, 5, tzinfo=UTC))
        assert [(m.year, m.month) for m in months][:: len(months) - 1] == [(2025, 6), (2026, 6)]

    def test_no_hours_have_no_months(self):
        assert self.count([], datetime(2026, 1, 31, 5, tzinfo=UTC)) == []

    def test_the_limits_are_settings(self):
        start = datetime(2026, 2, 1, 5, tzinfo=UTC)
        hours = np.array([-2.0] * 12 + [4.0] * 12)
        counts = [
            len(ft.count_months(hours, start, EST, ft.Limits(freeze, thaw))[0].limit_dates)
            for freeze, thaw in ((-2.0, 4.0), (-2.01, 4.0), (-2.0, 4.01))
        ]
        assert counts == [1, 0, 0]

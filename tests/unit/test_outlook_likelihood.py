"""The days ahead from members laid over the hours gone by, on hours made by hand."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from apps.domain import freeze_thaw as ft
from apps.domain import sap_run as sr
from apps.outlook.likelihood import DAYS_SHOWN, Span, local_midnight, run_days
from apps.outlook.strip import strip

ZONE = ZoneInfo("America/New_York")
TODAY = date(2026, 3, 16)
NOW = datetime(2026, 3, 16, 11, tzinfo=UTC)
MIDNIGHT = local_midnight(TODAY, ZONE)
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
NOTHING = Span(MIDNIGHT, np.empty(0))


def wave(days, low=-4.0, high=7.0, members=1):
    """Whole local days, coldest at three and warmest at fifteen hours."""
    hours = np.arange(24 * days)
    middle, swing = (low + high) / 2, (high - low) / 2
    one = middle - swing * np.cos(2 * np.pi * (hours - 3) / 24)
    return np.tile(one, (members, 1))


def model(days_before=2, days=12, members=12, **weather):
    return Span(MIDNIGHT - days_before * DAY, wave(days_before + days, members=members, **weather))


def ahead(*models, past=NOTHING, now=NOW):
    return run_days(models, past, today=TODAY, zone=ZONE, now=now, freeze_c=-1.1)


def test_ten_days_from_today_on():
    days = ahead(model())
    assert [day.date for day in days] == [TODAY + at * DAY for at in range(DAYS_SHOWN)]
    assert [day.lead_days for day in days] == list(range(10))
    assert [day.unsure for day in days] == [False] * 7 + [True] * 3


def test_a_day_is_told_as_the_arithmetic_tells_it():
    (day, *_) = ahead(model())
    edges = ft.local_day_edges(MIDNIGHT - 2 * DAY, 72, ZONE)
    alone = sr.run_probability(sr.days_from_hours(wave(3)[0], edges))[-1]
    assert day.likelihood.probability == pytest.approx(alone)
    assert day.word == "high"
    assert day.likelihood.members == 12
    assert day.coldest_c == pytest.approx(-4.0)
    # Two days of a wave from -4 to 7 C, hour by hour.
    assert day.thaw_degree_hours == pytest.approx(2 * np.maximum(wave(1), 0).sum())


def test_one_forecast_gives_a_word_and_no_percentage():
    (day, *_) = ahead(model(members=1))
    assert (day.word, day.likelihood.percentage, day.likelihood.members) == ("high", None, 1)


def test_models_weigh_alike_whatever_their_members():
    warm, cold = model(members=40), model(members=10, low=-9.0, high=-4.0)
    (day, *_) = ahead(warm, cold)
    (alone, *_) = ahead(warm)
    assert day.likelihood.probability == pytest.approx(alone.likelihood.probability / 2)
    assert (day.likelihood.members, day.likelihood.models) == (50, 2)


def test_a_forecast_from_yesterday_leaves_today_unknown_and_tomorrow_known():
    days = ahead(model(days_before=1))
    assert [day.word for day in days[:2]] == [None, "high"]
    assert days[0].likelihood.members == 0
    # The night itself is known all the same.
    assert days[0].freezes is True


def test_hours_measured_before_it_make_today_known():
    past = Span(MIDNIGHT - 2 * DAY, wave(1)[0])
    days = ahead(model(days_before=1), past=past)
    assert days[0].word == "high"


def test_what_was_measured_stands_over_what_was_forecast():
    past = Span(MIDNIGHT - 2 * DAY, wave(2, low=-25.0, high=-12.0)[0])
    assert ahead(model(), past=past)[0].word == "low"


def test_hours_to_come_are_never_taken_from_the_past():
    past = Span(MIDNIGHT - 2 * DAY, wave(12, low=-25.0, high=-12.0)[0])
    assert ahead(model(), past=past)[9].word == "high"


def test_an_hour_nobody_measured_keeps_its_forecast():
    gap = wave(2)[0]
    gap[30] = np.nan
    assert ahead(model(), past=Span(MIDNIGHT - 2 * DAY, gap))[0].word == "high"


def test_a_day_beyond_the_forecast_is_unknown():
    last = ahead(model(days=9))[9]
    assert (last.word, last.thaw_degree_hours, last.coldest_c) == (None, None, None)
    assert (last.freezes, last.known) == (None, 0)


def test_a_missing_hour_leaves_its_member_out():
    members = wave(14, members=12)
    members[:5, 60] = np.nan
    (today, *_) = ahead(Span(MIDNIGHT - 2 * DAY, members))
    assert (today.likelihood.members, today.known) == (7, 7)


@pytest.mark.parametrize(("low", "froze"), [(-1.10, 12), (-1.1049, 12), (-1.09, 0)])
def test_a_night_freezes_at_the_limit_compared_at_hundredths(low, froze):
    assert ahead(model(low=low))[3].froze == froze


def test_half_the_members_make_a_freeze():
    cold, warm = wave(14, members=5), wave(14, low=1.0, members=5)
    (day, *_) = ahead(Span(MIDNIGHT - 2 * DAY, np.vstack((cold, warm))))
    assert (day.froze, day.known, day.freezes) == (5, 10, True)


def test_the_weekly_rule_counts_the_winter_so_far():
    new_year = local_midnight(date(2026, 1, 1), ZONE)
    frozen, thawing = wave(45, low=-12.0, high=-4.0)[0], wave(29)[0]
    days = ahead(model(), past=Span(new_year, np.concatenate((frozen, thawing))))
    week = days[0].week
    # To 18 March: 29 days of thaw gone by and three ahead.
    assert week.crossings == 32
    assert week.start <= TODAY <= week.end
    assert week.producing is True
    assert week.unknown_days == 0


def test_the_weekly_rule_is_unknown_without_the_winter():
    week = ahead(model())[0].week
    assert week.producing is None
    assert week.unknown_days > 60


@pytest.mark.parametrize("zone", ["America/New_York", "Europe/Helsinki", "Asia/Kolkata"])
@pytest.mark.parametrize("today", [date(2026, 3, 7), date(2026, 3, 28), date(2026, 10, 31)])
def test_days_hold_through_a_clock_change(zone, today):
    here = ZoneInfo(zone)
    start_at = local_midnight(today - 3 * DAY, here)
    temps = np.tile(np.array([-4.0] * 12 + [7.0] * 12), 20)[None, :]
    days = run_days(
        [Span(start_at, temps)], NOTHING, today=today, zone=here, now=start_at, freeze_c=-1.1
    )
    assert [day.date for day in days] == [today + at * DAY for at in range(DAYS_SHOWN)]
    assert {day.word for day in days} == {"high"}


@pytest.mark.parametrize(
    ("zone", "hour"), [("America/New_York", 4), ("Europe/London", 0), ("Asia/Kolkata", 19)]
)
def test_a_local_day_begins_on_a_whole_hour(zone, hour):
    start = local_midnight(TODAY, ZoneInfo(zone))
    assert (start.hour, start.minute, start.utcoffset()) == (hour, 0, timedelta())


@pytest.mark.parametrize(
    ("shift", "expected"),
    [(0, [1, 2, 3]), (1, [None, 1, 2]), (-1, [2, 3, None]), (-9, [None] * 3), (9, [None] * 3)],
)
def test_a_span_is_laid_on_another_start(shift, expected):
    laid = Span(MIDNIGHT + shift * HOUR, np.array([1.0, 2.0, 3.0])).laid_on(MIDNIGHT, 3)
    assert [None if np.isnan(value) else value for value in laid] == expected


def test_bars_stand_on_one_line_and_grow_with_the_chance():
    days = ahead(model(), model(low=-9.0, high=-4.0))
    drawn = strip(days)
    assert len(drawn.bars) == 10
    assert drawn.width == 360
    for bar, day in zip(drawn.bars, days, strict=True):
        assert bar.top + bar.height == drawn.base_line
        assert bar.height == round(48 * day.likelihood.percentage)
        assert bar.word == {"low": "low", "medium": "med", "high": "high"}[day.word]


def test_a_word_without_a_percentage_has_its_own_height():
    (bar, *_) = strip(ahead(model(members=1))).bars
    assert (bar.word, bar.height) == ("high", 40)


def test_an_unknown_day_has_no_bar():
    (bar, *_) = strip(ahead(model(days_before=1))).bars
    assert (bar.word, bar.height) == ("?", 0)

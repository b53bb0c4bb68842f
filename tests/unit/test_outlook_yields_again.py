"""Sap and weather put together by woodlot and day, as the fit of litres to the likelihood takes it.

Weather is made by hand: freezing to noon and thawing after it, which makes every day alike.
"""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest

from apps.domain.sap_run.likelihood import DAYS_BEFORE
from apps.domain.sap_run.yields import MOST_LITRES_PER_TAP
from apps.outlook.likelihood import Span
from apps.outlook.sap_expected import day_yields

ZONE = ZoneInfo("America/New_York")
DAY = timedelta(days=1)
LOT, TAPS, SEASON = 7, 100, 2025
START = datetime(2025, 2, 20, 5, tzinfo=UTC)


def hours(days=40, *, start_at=START):
    return Span(start_at, np.resize([-5.0] * 12 + [6.0] * 12, days * 24))


def yields(sap, *, taps=TAPS, span=None):
    weather = {LOT: {SEASON: span or hours()}}
    counted = {SEASON: {LOT: taps} if taps else {}}
    return day_yields({(LOT, SEASON): sap}, counted, weather, ZONE)


def march(**litres):
    return {date(2025, 3, int(day[1:])): value for day, value in litres.items()}


def test_a_day_between_without_sap_brought_none():
    found = yields(march(d1=200.0, d4=100.0))
    assert [one.litres_per_tap for one in found] == [2.0, 0.0, 0.0, 1.0]


def test_nothing_is_told_of_days_before_the_first_and_after_the_last_sap():
    assert len(yields(march(d5=10.0, d9=10.0))) == 5
    assert len(yields(march(d5=10.0))) == 1


def test_days_go_on_over_the_change_of_the_clocks():
    # The 9th of March 2025 had 23 hours in New York; a day is still a day.
    found = yields(march(d8=100.0, d9=200.0, d10=300.0))
    assert [one.litres_per_tap for one in found] == [1.0, 2.0, 3.0]


@pytest.mark.parametrize("taps", [0, None])
def test_without_known_taps_there_is_no_rate(taps):
    assert yields(march(d1=100.0), taps=taps) == []


def test_without_weather_of_the_season_there_is_no_likelihood():
    sap = {(LOT, SEASON): march(d1=100.0)}
    assert day_yields(sap, {SEASON: {LOT: TAPS}}, {LOT: {2024: hours()}}, ZONE) == []
    assert day_yields(sap, {SEASON: {LOT: TAPS}}, {}, ZONE) == []


def test_a_day_of_unknown_weather_is_left_out_and_not_taken_for_cold():
    span = hours()
    # Twelve hours of the 5th of March, 24 h from 05:00 UTC.
    at = int((datetime(2025, 3, 5, 5, tzinfo=UTC) - START) / timedelta(hours=1))
    span.temps_c[at : at + 12] = np.nan
    found = yields(march(d1=100.0, d9=100.0), span=span)
    # Its own likelihood is unknown, and that of the two days after, which look back on it.
    assert len(found) == 9 - 1 - DAYS_BEFORE


@pytest.mark.parametrize(("factor", "kept"), [(1.0, True), (1.01, False)])
def test_more_than_any_tap_gives_is_a_mistyped_load(factor, kept):
    sap = march(d1=100.0, d2=TAPS * MOST_LITRES_PER_TAP * factor, d3=100.0)
    assert len(yields(sap)) == (3 if kept else 2)


def test_woodlots_and_seasons_are_told_apart():
    other, before = 8, 2024
    sap = {
        (LOT, SEASON): march(d1=100.0),
        (other, SEASON): march(d1=100.0),
        (LOT, before): {date(2024, 3, 1): 100.0},
    }
    weather = {
        LOT: {SEASON: hours(), before: hours(start_at=datetime(2024, 2, 20, 5, tzinfo=UTC))},
        other: {SEASON: hours()},
    }
    taps = {SEASON: {LOT: 100, other: 50}, before: {LOT: 200}}
    found = {
        (one.woodlot, one.season): one.litres_per_tap
        for one in day_yields(sap, taps, weather, ZONE)
    }
    assert found == {(LOT, SEASON): 1.0, (other, SEASON): 2.0, (LOT, before): 0.5}


@pytest.mark.parametrize("seed", range(3))
def test_rates_are_those_of_a_pandas_calendar(seed):
    rng = np.random.default_rng(seed)
    at = pd.to_datetime("2025-03-01") + pd.to_timedelta(rng.permutation(25)[:12], "D")
    days = pd.Series(np.round(rng.uniform(10, 400, 12), 1), at)
    filled = days.sort_index().asfreq("D", fill_value=0.0) / TAPS
    found = yields({day.date(): value for day, value in days.items()})
    assert [one.litres_per_tap for one in found] == pytest.approx(filled.tolist())

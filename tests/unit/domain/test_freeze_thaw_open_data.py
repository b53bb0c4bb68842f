"""The three open hourly records against the expected counts, and against pandas.

Expected counts: fixtures/open_data/freeze_thaw_expected.csv, two independent countings of CC0
records (macleish 2015, LaGuardia 2013, JFK 2023; see ATTRIBUTION.md there). No tolerance: counts.
"""

from datetime import UTC, date, timedelta, timezone
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest

from apps.domain import freeze_thaw as ft
from apps.domain.errors import DomainError

OPEN_DATA = Path(__file__).parents[3] / "fixtures" / "open_data"
SITES = ["macleish_whately_2015", "nyc_lga_2013", "nyc_jfk_2023"]
EST = timezone(timedelta(hours=-5))
NEW_YORK = ZoneInfo("America/New_York")


def read_hours(site):
    """The record on a regular grid of UTC hours: hours without a row are missing too."""
    table = pd.read_csv(OPEN_DATA / "hourly" / f"{site}.csv", parse_dates=["time_utc"])
    return table.set_index("time_utc")["temp_c"].asfreq("h")


def expected_rows(site):
    table = pd.read_csv(OPEN_DATA / "freeze_thaw_expected.csv")
    return table[table["site"] == site].reset_index(drop=True)


@pytest.fixture(scope="module", params=SITES)
def site(request):
    return request.param


@pytest.fixture(scope="module")
def hours(site):
    return read_hours(site)


@pytest.fixture(scope="module")
def months(hours):
    return ft.count_months(hours.to_numpy(), hours.index[0].to_pydatetime(), EST)


@pytest.mark.parametrize(
    ("column", "count"),
    [
        ("complete_days", lambda month: month.complete_days),
        ("days_tmin_lt0_tmax_gt0", lambda month: month.crossing_days),
        ("days_tmin_le_-1.1_tmax_ge_2.2", lambda month: len(month.limit_dates)),
        ("cycles_3h", lambda month: month.cycles),
        ("longest_thaw_h", lambda month: month.longest_thaw_hours),
    ],
)
def test_monthly_counts_equal_the_expected_table(site, months, column, count):
    expected = expected_rows(site)
    # LaGuardia's record begins an hour into 1 January, so no row of another year precedes it.
    assert [(m.year, m.month) for m in months] == list(
        zip(expected["year"], expected["month"], strict=True)
    )
    assert [count(month) for month in months] == expected[column].tolist()


def test_first_freeze_thaw_day_after_mid_january_equals_the_expected_table(site, months):
    year = int(site[-4:])
    days = [day for month in months for day in month.limit_dates]
    first = min(day for day in days if date(year, 1, 16) <= day <= date(year, 6, 30))
    assert {first.isoformat()} == set(expected_rows(site)["first_ft_date_after_jan15"].dropna())


def test_civil_local_days_equal_the_expected_table(site, hours):
    civil = ft.count_months(hours.to_numpy(), hours.index[0].to_pydatetime(), NEW_YORK)
    counts = {(month.year, month.month): len(month.limit_dates) for month in civil}
    for row in expected_rows(site).itertuples():
        assert counts[row.year, row.month] == row.days_ft_civil_local


def test_daily_figures_equal_pandas_grouping_by_local_date(hours):
    days = ft.local_day_edges(hours.index[0].to_pydatetime(), hours.size, NEW_YORK)
    summary = ft.summarise_days(hours.to_numpy(), days)
    grouped = hours.groupby(hours.index.tz_convert(NEW_YORK).date)
    assert [day.date for day in days] == list(grouped.groups)
    np.testing.assert_array_equal(summary.minimum_c, grouped.min())
    np.testing.assert_array_equal(summary.maximum_c, grouped.max())
    np.testing.assert_array_equal(summary.known_hours, grouped.count())
    np.testing.assert_array_equal(summary.hours_above_0, grouped.agg(lambda t: (t > 0).sum()))
    np.testing.assert_array_equal(summary.hours_below_0, grouped.agg(lambda t: (t < 0).sum()))


def test_cycles_equal_a_pandas_run_length_count(hours):
    sign = np.sign(hours.fillna(0).round(2))
    run = (sign != sign.shift()).cumsum()
    runs = pd.DataFrame({"sign": sign, "run": run}).groupby("run")["sign"].agg(["first", "size"])
    qualified = runs[(runs["size"] >= 3) & (runs["first"] != 0)]["first"]
    expected = ((qualified == 1) & (qualified.shift() == -1)).sum()
    assert ft.count_cycles(hours.to_numpy()) == expected
    assert len(ft.find_cycles(hours.to_numpy()).rows()) == expected


def test_thaw_degree_hours_equal_pandas(hours):
    days = ft.local_day_edges(hours.index[0].to_pydatetime(), hours.size, EST)
    expected = hours.clip(lower=0).groupby(hours.index.tz_convert(EST).date).sum()
    # 1e-9: both add the same two-decimal numbers, in another order.
    np.testing.assert_allclose(ft.thaw_degree_hours(hours.to_numpy(), days), expected, atol=1e-9)


@pytest.mark.parametrize("site", SITES[1:], indirect=True)
def test_missing_hours_of_the_record_stay_unknown(site):
    hours = read_hours(site)
    days = ft.judge_days(hours.to_numpy(), hours.index[0].to_pydatetime(), NEW_YORK)
    short = [day for day in days if day.known_hours < day.full_hours]
    assert short
    assert all(day.verdict in ("yes", "unknown") for day in short)


def test_a_record_is_one_series():
    with pytest.raises(DomainError, match="one axis"):
        ft.count_months(np.zeros((2, 24)), pd.Timestamp("2026-03-01", tz=UTC), EST)

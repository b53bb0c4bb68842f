"""The open hourly records through the real commands, against the expected table and pandas.

Expected counts: fixtures/open_data/freeze_thaw_expected.csv, two independent countings of CC0
records (see ATTRIBUTION.md there). The pandas counting below is a third. No tolerance: counts.
"""

import json
from datetime import timedelta, timezone
from io import StringIO
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from django.core.management import call_command

OPEN_DATA = Path(__file__).parents[2] / "fixtures" / "open_data"
SITES = {
    "macleish_whately_2015": "42.449,-72.680,260",
    "nyc_lga_2013": "40.777,-73.873,3",
    "nyc_jfk_2023": "40.639,-73.762,4",
}
EST, CIVIL = timezone(timedelta(hours=-5)), "America/New_York"
ZONES = {"standard": (EST, ["--standard-time"]), "civil": (CIVIL, [])}

pytestmark = pytest.mark.django_db


@pytest.fixture(params=SITES)
def site(request):
    path = OPEN_DATA / "hourly" / f"{request.param}.csv"
    call_command(
        "import_hourly",
        request.param,
        str(path),
        f"--new-woodlot={SITES[request.param]}",
        stdout=StringIO(),
    )
    return request.param


def counted(site, *options, freeze_c=-1.1, thaw_c=2.2):
    out = StringIO()
    year = int(site[-4:])
    call_command(
        "freeze_thaw",
        site,
        f"--from={year - 1}-12-31",
        f"--to={year}-12-31",
        f"--freeze-c={freeze_c}",
        f"--thaw-c={thaw_c}",
        "--json",
        *options,
        stdout=out,
    )
    return {row["month"]: row for row in json.loads(out.getvalue())}


def expected(site):
    table = pd.read_csv(OPEN_DATA / "freeze_thaw_expected.csv")
    rows = table[table["site"] == site]
    return {f"{row.year}-{row.month:02d}": row for row in rows.itertuples()}


def pandas_counts(site, zone, freeze_c=-1.1, thaw_c=2.2):
    """Counted by pandas from the file itself, in its own way."""
    table = pd.read_csv(OPEN_DATA / "hourly" / f"{site}.csv", parse_dates=["time_utc"])
    hours = table.set_index("time_utc")["temp_c"].asfreq("h").round(2)
    local = hours.tz_convert(zone)
    days = local.groupby(local.index.date).agg(["min", "max", "count"])
    days = days[days["count"] >= 20]
    hit = days[(days["min"] <= freeze_c) & (days["max"] >= thaw_c)]
    month = local.index.strftime("%Y-%m")
    run = (np.sign(local.fillna(0)) != np.sign(local.fillna(0)).shift()).cumsum()
    frame = pd.DataFrame({"sign": np.sign(local.fillna(0)), "run": run, "month": month})
    runs = frame.assign(nth=frame.groupby("run").cumcount() + 1)
    third = runs[(runs["nth"] == 3) & (runs["sign"] != 0)]
    thawed = third[(third["sign"] == 1) & (third["sign"].shift() == -1)]
    warm = frame[frame["sign"] == 1].groupby(["month", "run"]).size().groupby("month").max()
    return {
        name: {
            "complete_days": sum(f"{day:%Y-%m}" == name for day in days.index),
            "days": sum(f"{day:%Y-%m}" == name for day in hit.index),
            "cycles": int((thawed["month"] == name).sum()),
            "longest_thaw_hours": int(warm.get(name, 0)),
        }
        for name in dict.fromkeys(month)
    }


def test_the_counts_in_standard_time_equal_the_expected_table(site):
    found = counted(site, "--standard-time")
    rows = expected(site)
    assert list(found) == list(rows)
    for name, row in rows.items():
        # The column whose heading holds a minus sign has no name that Python could give it.
        want = (row.complete_days, row[6], row.cycles_3h, row.longest_thaw_h)
        told = ("complete_days", "days", "cycles", "longest_thaw_hours")
        assert tuple(found[name][key] for key in told) == want, name


def test_the_counts_in_civil_time_equal_the_expected_column(site):
    found = counted(site)
    for name, row in expected(site).items():
        assert found[name]["days"] == row.days_ft_civil_local, name


@pytest.mark.parametrize("zone", ZONES)
@pytest.mark.parametrize("limits", [(-1.1, 2.2), (0.0, 5.0), (-5.0, 0.5)])
def test_the_counts_equal_those_of_pandas(site, zone, limits):
    tz, options = ZONES[zone]
    found = counted(site, *options, freeze_c=limits[0], thaw_c=limits[1])
    want = pandas_counts(site, tz, *limits)
    got = {name: {k: v for k, v in row.items() if k != "month"} for name, row in found.items()}
    assert got == want


def test_importing_a_record_again_changes_nothing(site):
    out = StringIO()
    before = counted(site)
    call_command("import_hourly", site, str(OPEN_DATA / "hourly" / f"{site}.csv"), stdout=out)
    assert "0 added, 0 changed, 0 emptied" in out.getvalue()
    assert counted(site) == before

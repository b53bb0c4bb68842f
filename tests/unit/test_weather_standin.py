"""The stand-in keeps the service's manners: what it refuses, and the shape of what it sends.

Source: Open-Meteo server source and documentation (2026), as tests/standin/contract.py says.
"""

import subprocess
import sys
import time
from datetime import UTC, date, datetime

import numpy as np
import pytest
import requests

from tests.standin import StandIn, contract

TODAY = date(2026, 3, 16)
MOMENT = datetime(2026, 3, 16, 11, tzinfo=UTC)
GOOD = {
    "latitude": "43.9",
    "longitude": "-75.3",
    "hourly": "temperature_2m",
    "timeformat": "unixtime",
    "timezone": "GMT",
}


def answer(query, path="/v1/forecast"):
    return contract.answer(path, query, MOMENT)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"latitude": "444.5"}, "Latitude must be in range of -90 to 90°. Given: 444.5."),
        ({"longitude": "-181"}, "Longitude must be in range"),
        ({"latitude": "43.9,44.0"}, "same number"),
        ({"latitude": "north"}, "not a number"),
        ({"elevation": "400,500"}, "same number"),
        ({"hourly": "temperature_2mm"}, "temperature_2mm"),
        ({"models": "no_such"}, "no_such"),
        ({"run": "2026-03-16T00:00"}, "not allowed"),
        ({"forecast_days": "17"}, "Allowed range 0 to 16"),
        ({"start_date": "2026-03-16"}, "Both"),
        ({"start_date": "2026-03-16", "end_date": "2026-03-15"}, "larger"),
        ({"start_date": "2026-03-16", "end_date": "2026-04-01"}, "out of allowed range"),
        ({"start_date": "2025-12-01", "end_date": "2026-03-16"}, "out of allowed range"),
        ({"start_date": "16.3.2026", "end_date": "2026-03-16"}, "Invalid date format"),
        (
            {"start_date": "2026-03-16", "end_date": "2026-03-16", "forecast_days": "2"},
            "mutually exclusive",
        ),
        ({"latitude": ",".join(["43"] * 1001), "longitude": ",".join(["-75"] * 1001)}, "1000"),
    ],
)
def test_a_parameter_fault_is_refused_with_a_reason(changes, words):
    with pytest.raises(contract.BadRequest, match=words):
        answer(GOOD | changes)


def test_a_missing_place_is_refused():
    with pytest.raises(contract.BadRequest, match="latitude"):
        answer({"hourly": "temperature_2m"})


def test_a_misspelt_parameter_is_ignored():
    assert answer(GOOD | {"time_zone": "GMT"}) == answer(GOOD)


def test_one_site_is_an_object_and_two_an_array_in_order():
    one = answer(GOOD)
    two = contract.answer(
        "/v1/forecast", GOOD | {"latitude": "44.4,43.9", "longitude": "-75.3,-75.3"}, MOMENT
    )
    assert "location_id" not in one
    assert [part.get("location_id") for part in two] == [None, 1]
    assert two[0]["latitude"] > two[1]["latitude"]


def test_the_place_sent_back_is_the_cell_and_fits_single_precision():
    reply = answer(GOOD)
    assert reply["latitude"] != 43.9
    assert abs(reply["latitude"] - 43.9) <= contract.GRID_DEGREES / 2
    assert float(np.float32(reply["longitude"])) == reply["longitude"]


def test_a_height_sent_moves_the_values_by_the_services_own_lapse():
    low, high = (answer(GOOD | {"elevation": height}) for height in ("400", "600"))
    assert (low["elevation"], high["elevation"]) == (400.0, 600.0)
    colder = np.subtract(low["hourly"]["temperature_2m"], high["hourly"]["temperature_2m"])
    assert colder == pytest.approx(200 * 0.0065, abs=0.11)


def test_nan_asks_for_the_cells_own_height():
    reply = answer(GOOD | {"elevation": "nan"})
    assert reply["elevation"] == contract.ground_height_m(reply["latitude"], reply["longitude"])


@pytest.mark.parametrize(("past", "ahead", "hours"), [("0", "7", 168), ("2", "1", 72)])
def test_days_back_and_ahead_are_whole_utc_days(past, ahead, hours):
    reply = contract.answer(
        "/v1/forecast", GOOD | {"past_days": past, "forecast_days": ahead}, MOMENT
    )
    assert len(reply["hourly"]["time"]) == len(reply["hourly"]["temperature_2m"]) == hours
    assert reply["hourly"]["time"][0] % 86_400 == 0


def test_iso_times_carry_no_offset_and_no_seconds():
    reply = answer(GOOD | {"timeformat": "iso8601"})
    assert reply["hourly"]["time"][1] == "2026-03-16T01:00"
    assert reply["hourly_units"]["time"] == "iso8601"


def test_over_http_a_fault_is_400_and_another_path_404():
    with StandIn(today=TODAY) as standin:
        bad = requests.get(f"{standin.url}/v1/forecast", params={"hourly": "x"}, timeout=5)
        lost = requests.get(f"{standin.url}/v1/nowhere", timeout=5)
    assert (bad.status_code, lost.status_code) == (400, 404)
    assert bad.json()["error"] is lost.json()["error"] is True


def test_an_unknown_fault_is_refused():
    with StandIn() as standin, pytest.raises(KeyError):
        standin.fail("no_such_fault")


def test_run_by_hand_it_says_where_it_is_and_stops_when_told():
    command = [sys.executable, "-m", "tests.standin", "--port", "0", "--today", "2026-03-16"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        url = process.stdout.readline().strip()
        reply = requests.get(f"{url}/v1/forecast", params=GOOD, timeout=5)
        process.terminate()
        assert process.wait(timeout=5) == 0
    assert reply.json()["hourly_units"]["temperature_2m"] == "°C"


def test_it_ends_with_a_caller_that_was_killed():
    code = (
        "import os, subprocess, sys;"
        "run = [sys.executable, '-m', 'tests.standin', '--port', '0', '--with-parent'];"
        "child = subprocess.Popen(run, stdout=subprocess.PIPE, text=True);"
        "sys.stdout.write(child.stdout.readline()); sys.stdout.flush(); os._exit(9)"
    )
    ended = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60)
    url = ended.stdout.strip()
    assert (ended.returncode, url[:17]) == (9, "http://127.0.0.1:")
    until = time.monotonic() + 20
    while time.monotonic() < until and answers(url):
        time.sleep(0.1)
    assert not answers(url)


def answers(url):
    try:
        return bool(requests.get(url, timeout=1).status_code)
    except requests.RequestException:
        return False

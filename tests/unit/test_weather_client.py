"""The client against the stand-in: the right data, or a named finding, within its deadline."""

import json
import socket
import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from apps.demo.weather_story import temperature_c
from apps.weather.client import checks, transport
from apps.weather.client.records import Finding, HourlySeries, ProviderFailure, SitePoint
from tests.factories import weather as made
from tests.factories.weather import NOW, QUICK, points, provider
from tests.standin import StandIn, contract

MIDNIGHT = datetime(2026, 3, 13, tzinfo=UTC)


@pytest.fixture
def standin():
    with StandIn(today=NOW.date()) as running:
        yield running


def fetch(standin, count=3, **changes):
    pace = changes.get("pace", QUICK)
    return made.fetch(provider(standin.url, **changes), points(count), seconds=pace.refresh_seconds)


def test_one_site_comes_back_with_its_hours_in_utc(standin):
    outcome = fetch(standin, 1)
    series = outcome.series[7]
    assert (outcome.failure, outcome.refused) == (None, {})
    assert series.start_at == MIDNIGHT
    assert len(series.temps_c[0]) == 19 * 24
    assert series.elevation_used_m == contract.ground_height_m(43.9, -75.3)


def test_values_are_those_the_service_holds_for_its_own_height(standin):
    series = fetch(standin, 1).series[7]
    stamps = int(MIDNIGHT.timestamp()) + 3600 * np.arange(19 * 24)
    there = (series.grid_latitude, series.grid_longitude, series.elevation_used_m)
    assert series.temps_c[0] == pytest.approx(temperature_c(*there, stamps), abs=0.051)


def test_several_sites_come_in_one_request_and_in_order(standin):
    outcome = fetch(standin, 3)
    assert len(standin.seen) == 1
    assert list(outcome.series) == [7, 8, 9]
    heights = [series.elevation_used_m for series in outcome.series.values()]
    asked = [contract.ground_height_m(point.latitude, point.longitude) for point in points(3)]
    assert heights == asked
    assert len(outcome.payload_sha256) == 64


def test_the_question_is_in_utc_with_absolute_days_and_no_height(standin):
    fetch(standin, 2)
    query = standin.seen[0].query
    assert (query["timeformat"], query["timezone"]) == ("unixtime", "GMT")
    assert (query["start_date"], query["end_date"]) == ("2026-03-13", "2026-03-31")
    assert query["latitude"] == "43.9000,43.9500"
    assert "elevation" not in query


def test_a_thousand_and_one_sites_are_asked_in_groups(standin):
    outcome = fetch(standin, 1001, pace=replace(QUICK, read_seconds=20, refresh_seconds=60))
    assert [seen.sites for seen in standin.seen] == [250, 250, 250, 250, 1]
    assert (len(outcome.series), outcome.failure) == (1001, None)


def test_nobody_to_ask_for_asks_nothing(standin):
    assert fetch(standin, 0).series == {}
    assert standin.seen == []


@pytest.mark.parametrize(
    ("fault", "kind", "requests"),
    [
        ("unauthorised_401", "key_refused", 1),
        ("plan_403", "key_refused", 1),
        ("not_found_404", "not_found", 1),
        ("error_500", "unavailable", 3),
        ("bad_gateway", "unavailable", 3),
        ("overloaded_503", "unavailable", 3),
        ("gateway_timeout", "unavailable", 3),
        ("page_200", "not_json", 1),
        ("error_200", "error_reply", 1),
        ("empty", "empty", 1),
        ("mid_stream", "broken_off", 1),
        ("cut_short", "cut_short", 2),
        ("cut_chunk", "cut_short", 2),
        ("silent", "timed_out", 2),
        ("reset", "unreachable", 2),
        ("redirect", "redirected", 1),
        ("object_for_array", "wrong_shape", 1),
        ("short_array", "wrong_count", 1),
        ("nan_token", "not_json", 1),
        ("infinity_token", "not_json", 1),
    ],
)
def test_a_spoilt_reply_is_named_and_brings_nothing(standin, fault, kind, requests):
    standin.fail(fault)
    outcome = fetch(standin)
    assert outcome.failure.kind == kind
    assert outcome.failure.detail
    assert (outcome.series, outcome.payload_sha256) == ({}, None)
    assert len(standin.seen) == requests


@pytest.mark.parametrize("fault", ["bad_gateway", "overloaded_503", "cut_short", "reset"])
def test_a_passing_fault_is_got_over(standin, fault):
    standin.fail(fault, times=1)
    outcome = fetch(standin)
    assert outcome.failure is None
    assert len(outcome.series) == 3


def test_a_refused_connection_is_named():
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    outcome = made.fetch(provider(f"http://127.0.0.1:{port}"), points(), now=NOW)
    assert outcome.failure.kind == "unreachable"


def test_plain_bytes_are_asked_for_and_packed_ones_understood(standin):
    plain = fetch(standin, 2)
    standin.fail("gzip_anyway")
    packed = fetch(standin, 2)
    assert packed.payload_sha256 == plain.payload_sha256
    assert packed.series[7].temps_c.tolist() == plain.series[7].temps_c.tolist()
    assert standin.seen[0].headers["Accept-Encoding"] == "identity"


def test_a_body_of_endless_size_is_given_up(standin, monkeypatch):
    monkeypatch.setattr(transport, "MOST_BYTES", 1000)
    assert fetch(standin).failure.kind == "too_large"


def test_a_dripping_body_meets_the_deadline(standin):
    standin.fail("drip")
    began = time.monotonic()
    outcome = fetch(standin, pace=replace(QUICK, refresh_seconds=0.5))
    assert outcome.failure.kind == "too_slow"
    assert time.monotonic() - began < 2


@pytest.mark.parametrize(
    ("fault", "kind"),
    [
        ("fahrenheit", "wrong_unit"),
        ("undefined_unit", "wrong_unit"),
        ("iso_times", "wrong_times"),
        ("repeated_time", "wrong_times"),
        ("gapped_times", "wrong_times"),
        ("half_hours", "wrong_times"),
        ("length_mismatch", "wrong_length"),
        ("word_for_number", "wrong_value"),
        ("implausible", "implausible"),
        ("height_on_the_moon", "implausible"),
        ("no_hourly", "wrong_shape"),
        ("nulls_all", "all_missing"),
        ("all_past", "too_short"),
        ("far_away", "far_away"),
    ],
)
def test_a_site_that_cannot_be_believed_is_refused_by_name(standin, fault, kind):
    standin.fail(fault)
    outcome = fetch(standin, 2)
    assert outcome.series == {}
    assert {site: finding.kind for site, finding in outcome.refused.items()} == {7: kind, 8: kind}


def test_one_site_all_null_does_not_take_the_others_along(standin):
    standin.fail("nulls_one_site")
    outcome = fetch(standin, 3)
    assert list(outcome.series) == [8, 9]
    assert outcome.refused == {7: Finding("all_missing", "Every hour is missing.", 7)}


@pytest.mark.parametrize(
    ("fault", "missing"),
    [("nulls_leading", slice(0, 30)), ("nulls_trailing", slice(-24, None))],
)
def test_missing_hours_stay_missing_and_are_remarked_on(standin, fault, missing):
    whole = fetch(standin, 1).series[7]
    standin.fail(fault)
    torn = fetch(standin, 1).series[7]
    hours = whole.temps_c[0].copy()
    hours[missing] = np.nan
    assert np.array_equal(torn.temps_c[0], hours, equal_nan=True)
    assert [finding.kind for finding in torn.findings] == ["missing_hours"]


@pytest.mark.parametrize(
    ("fault", "kind", "height"),
    [
        ("no_height", "height_unknown", None),
        ("high_cell", "height_differs", 500 + contract.ground_height_m(43.9, -75.3)),
    ],
)
def test_an_odd_height_is_kept_and_remarked_on(standin, fault, kind, height):
    standin.fail(fault)
    series = fetch(standin, 1).series[7]
    assert series.elevation_used_m == height
    assert [finding.kind for finding in series.findings] == [kind]


def test_a_list_for_a_single_site_is_refused(standin):
    standin.fail("array_for_object")
    assert fetch(standin, 1).failure.kind == "wrong_shape"


def test_one_bad_site_in_six_leaves_the_other_five(standin):
    standin.bad_latitudes = frozenset({"44.0000"})
    outcome = fetch(standin, 6)
    assert list(outcome.series) == [7, 8, 10, 11, 12]
    assert outcome.refused[9].kind == "refused"
    assert "No data is available" in outcome.refused[9].detail
    assert [seen.sites for seen in standin.seen] == [6, 1, 1, 1, 1, 1, 1]


def test_a_single_site_refused_is_a_refusal_not_an_outage(standin):
    standin.fail("refuse_400")
    outcome = fetch(standin, 1)
    assert (outcome.failure, outcome.refused[7].kind) == (None, "refused")
    assert len(standin.seen) == 1


def test_what_came_before_a_limit_is_kept(standin):
    standin.bad_latitudes = frozenset({"43.9500"})
    standin.fail("limit_minute", after=2)
    outcome = fetch(standin, 6)
    assert (list(outcome.series), list(outcome.refused)) == ([7, 9], [8])
    assert outcome.failure.kind == "rate_limited"
    assert len(standin.seen) == 5


@pytest.mark.parametrize(
    ("fault", "earliest", "latest"),
    [
        ("limit_minute", NOW + timedelta(seconds=70), NOW + timedelta(seconds=70)),
        ("limit_concurrent", NOW + timedelta(seconds=30), NOW + timedelta(seconds=30)),
        ("limit_hour", NOW.replace(hour=12), NOW.replace(hour=12, minute=2)),
        ("limit_day", NOW.replace(day=17, hour=0, minute=5), NOW.replace(day=17, hour=0, minute=7)),
        ("limit_retry_after", NOW + timedelta(seconds=120), NOW + timedelta(seconds=120)),
    ],
)
def test_a_limit_is_not_retried_and_says_when_to_come_back(standin, fault, earliest, latest):
    standin.fail(fault)
    outcome = fetch(standin)
    assert outcome.failure.kind == "rate_limited"
    assert earliest <= outcome.not_before <= latest
    assert len(standin.seen) == 1


def test_the_key_goes_in_a_header_and_never_in_the_address(standin):
    fetch(standin, 1, api_key="sap-and-snow")
    assert standin.seen[0].headers["X-Api-Key"] == "sap-and-snow"
    assert "sap-and-snow" not in str(standin.seen[0].query)


def test_a_redirect_never_carries_the_key_elsewhere(standin):
    with StandIn(today=NOW.date()) as elsewhere:
        standin.redirect_to = elsewhere.url
        standin.fail("redirect")
        outcome = fetch(standin, 1, api_key="sap-and-snow")
        assert elsewhere.seen == []
    assert outcome.failure.kind == "redirected"
    assert "apikey" not in outcome.failure.detail


def test_the_contact_address_is_in_the_user_agent(standin):
    fetch(standin, 1, contact="ina@tamarack.invalid")
    assert standin.seen[0].headers["User-Agent"] == "Thawline (ina@tamarack.invalid)"
    assert "X-Api-Key" not in standin.seen[0].headers


@pytest.mark.parametrize("now", ["2026-03-06T12:00", "2026-03-09T12:00", "2026-10-30T12:00"])
def test_a_clock_change_inside_the_reach_leaves_utc_hours_one_apart(now):
    moment = datetime.fromisoformat(now).replace(tzinfo=UTC)
    with StandIn(today=moment.date()) as standin:
        outcome = made.fetch(provider(standin.url), points(1), now=moment)
    series = outcome.series[7]
    assert series.start_at == datetime.combine(
        moment.date() - timedelta(days=3), datetime.min.time(), UTC
    )
    assert len(series.temps_c[0]) == 19 * 24


def test_asked_just_after_midnight_utc_the_days_are_those_of_our_clock():
    after = datetime(2026, 3, 17, 0, 0, 5, tzinfo=UTC)
    with StandIn(today=datetime(2026, 3, 16, tzinfo=UTC).date()) as behind:
        outcome = made.fetch(provider(behind.url), points(1), now=after)
    # A service whose day has not turned yet refuses the last day, and says so.
    assert outcome.failure.kind == "bad_question"
    assert "out of allowed range" in outcome.failure.detail


HOURS = 48


def reply(**changes):
    start = int(NOW.timestamp())
    body = {
        "latitude": 43.9,
        "longitude": -75.3,
        "elevation": 430.0,
        "hourly_units": {"time": "unixtime", "temperature_2m": "°C"},
        "hourly": {
            "time": [start + 3600 * hour for hour in range(HOURS)],
            "temperature_2m": [1.0] * HOURS,
        },
    }
    return body | changes


def read(part):
    return checks.read_site(part, SitePoint(7, 43.9, -75.3, 430.0), NOW, nominal=1)


def test_a_plain_reply_is_believed():
    assert isinstance(read(reply()), HourlySeries)


@pytest.mark.parametrize(
    ("part", "kind"),
    [
        (None, "wrong_shape"),
        ([], "wrong_shape"),
        (reply(hourly=[]), "wrong_shape"),
        (reply(hourly_units=None), "wrong_unit"),
        (reply(hourly={"time": None, "temperature_2m": []}), "wrong_shape"),
        (reply(hourly={"time": [], "temperature_2m": []}), "wrong_times"),
        (reply(hourly={"time": [1.5], "temperature_2m": [1]}), "wrong_times"),
        (reply(hourly={"time": [True], "temperature_2m": [1]}), "wrong_times"),
        (reply(hourly={"time": [3600 * 10**12], "temperature_2m": [1]}), "wrong_times"),
        (
            reply(hourly={"time": list(range(0, 3600 * 9601, 3600)), "temperature_2m": []}),
            "wrong_times",
        ),
        (reply(hourly={"time": [0], "temperature_2m": [True]}), "wrong_value"),
        (reply(hourly={"time": [0], "temperature_2m": [1e999]}), "implausible"),
        (reply(latitude=91.0), "far_away"),
        (reply(longitude=284.7), "far_away"),
    ],
)
def test_a_part_of_the_wrong_shape_is_refused_and_never_crashes(part, kind):
    finding = read(part)
    assert isinstance(finding, Finding)
    assert (finding.kind, finding.site_id) == (kind, 7)


@pytest.mark.parametrize("longitude", [179.9, -179.9])
def test_a_cell_across_the_date_line_is_near(longitude):
    part = reply(latitude=60.0, longitude=-longitude)
    assert isinstance(
        checks.read_site(part, SitePoint(7, 60.0, longitude, 430.0), NOW, nominal=1), HourlySeries
    )


def test_twenty_four_known_hours_ahead_are_enough_and_twenty_three_are_not():
    values = [1.0] * 24 + [None] * (HOURS - 24)
    times = reply()["hourly"]["time"]
    assert isinstance(read(reply(hourly={"time": times, "temperature_2m": values})), HourlySeries)
    values[0] = None
    assert read(reply(hourly={"time": times, "temperature_2m": values})).kind == "too_short"


@pytest.mark.parametrize("body", [b"", b"   ", b"[1, 2", b"\xff\xfe", b'{"a": NaN}'])
def test_bytes_that_are_not_json_raise_a_named_failure(body):
    with pytest.raises(ProviderFailure) as caught:
        checks.parse(body)
    assert caught.value.kind in {"empty", "not_json"}


def test_a_service_error_is_quoted_without_running_on():
    body = json.dumps({"error": True, "reason": "x" * 900}).encode()
    with pytest.raises(ProviderFailure) as caught:
        checks.parse(body)
    assert len(caught.value.detail) < 250


def test_only_the_client_package_imports_the_http_library():
    root = Path(checks.__file__).parents[2]
    users = {
        path.parent.name
        for path in root.rglob("*.py")
        if "import requests" in path.read_text() or "from requests" in path.read_text()
    }
    assert users == {"client"}

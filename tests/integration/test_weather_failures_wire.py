"""Failures of the connection, of limits and of bodies: nothing bad ever replaces good.

Cases F1 to F22: what was seen of the real services' networks, servers and bodies. After each the
store holds the last good series byte for byte, and says its age and what went wrong.
"""

import time
from datetime import timedelta

import pytest

from apps.weather import actions
from tests.factories import failing
from tests.factories import weather as made
from tests.factories.failing import LATER, NOW
from tests.standin import StandIn

pytestmark = pytest.mark.django_db


@pytest.fixture
def standin():
    with StandIn(now=NOW) as running:
        yield running


@pytest.fixture
def farm(standin):
    return failing.forecast(standin).begin()


def goes_wrong(farm, fault, kind, **pace):
    farm.standin.fail(fault)
    attempt = farm.ask(**pace)
    farm.kept(attempt, kind)
    return attempt


def test_f01_a_refused_connection_keeps_the_last_good_hours(farm):
    farm.sources = [made.source(made.provider("http://127.0.0.1:9"))]
    farm.kept(farm.ask(), "unreachable")


def test_f02_a_reset_connection_keeps_the_last_good_hours(farm):
    goes_wrong(farm, "reset", "unreachable")


def test_f03_a_silent_server_is_given_up_in_time(farm):
    began = time.monotonic()
    attempt = goes_wrong(farm, "silent", "timed_out")
    assert "did not answer in time" in attempt.detail
    assert time.monotonic() - began < 5


def test_f04_a_dripping_body_meets_the_deadline(farm):
    began = time.monotonic()
    goes_wrong(farm, "drip", "too_slow", service_seconds=0.5)
    assert time.monotonic() - began < 3


def test_f05_a_body_cut_against_its_length_keeps_the_last_good_hours(farm):
    goes_wrong(farm, "cut_short", "cut_short")


def test_f05_a_body_cut_once_is_asked_for_again(farm):
    farm.standin.fail("cut_short", times=1)
    assert farm.ask().outcome == "ok"
    assert farm.row().staleness.words == "fetched just now"


def test_f06_a_cut_chunk_keeps_the_last_good_hours(farm):
    goes_wrong(farm, "cut_chunk", "cut_short")


@pytest.mark.parametrize("fault", ["bad_gateway", "gateway_timeout"])
def test_f07_a_page_from_the_proxy_keeps_the_last_good_hours(farm, fault):
    goes_wrong(farm, fault, "unavailable")


def test_f07_a_gateway_that_recovers_is_got_over(farm):
    farm.standin.fail("bad_gateway", times=2)
    assert farm.ask().outcome == "ok"


def test_f08_an_overloaded_service_keeps_the_last_good_hours(farm):
    # It sends a Retry-After of an hour, which must not be slept through.
    began = time.monotonic()
    goes_wrong(farm, "overloaded_503", "unavailable")
    assert time.monotonic() - began < 5


def test_f09_a_fault_of_the_service_keeps_the_last_good_hours(farm):
    goes_wrong(farm, "error_500", "unavailable")


@pytest.mark.parametrize(
    ("fault", "until"),
    [
        ("limit_minute", LATER + timedelta(seconds=70)),
        ("limit_hour", LATER.replace(hour=18, minute=0)),
        ("limit_day", LATER.replace(day=17, hour=0, minute=5)),
        ("limit_concurrent", LATER + timedelta(seconds=30)),
    ],
)
def test_f10_a_limit_without_a_time_says_when_to_come_back(farm, fault, until):
    asked = len(farm.standin.seen)
    attempt = goes_wrong(farm, fault, "rate_limited")
    assert until <= attempt.sources.get().not_before <= until + timedelta(minutes=2)
    # Asked once, and not again before the time has come.
    assert len(farm.standin.seen) == asked + 1
    with pytest.raises(actions.AskedToWaitError):
        farm.ask(until - timedelta(seconds=1))


@pytest.mark.parametrize(
    ("fault", "now", "wait"),
    [
        ("limit_retry_after", LATER, timedelta(minutes=2)),
        ("limit_date", NOW + timedelta(minutes=1), timedelta(minutes=3)),
        # Six hours are too long to take a service's word for.
        ("limit_six_hours", LATER, timedelta(minutes=15)),
    ],
)
def test_f11_a_time_to_come_back_is_kept_to_unless_it_is_too_long(farm, fault, now, wait):
    farm.standin.fail(fault)
    attempt = farm.ask(now)
    assert attempt.sources.get().not_before == now + wait
    assert farm.held() == farm.before


def test_f12_a_redirect_to_another_host_never_carries_the_key(farm):
    with StandIn(now=LATER) as elsewhere:
        farm.standin.redirect_to = elsewhere.url
        farm.sources = [made.source(made.provider(farm.standin.url, api_key="sap-and-snow"))]
        attempt = goes_wrong(farm, "redirect", "redirected")
        assert elsewhere.seen == []
    assert "sap-and-snow" not in attempt.detail


def test_f13_a_web_page_with_status_200_keeps_the_last_good_hours(farm):
    assert "web page" in goes_wrong(farm, "page_200", "not_json").detail


def test_f14_words_in_mid_stream_keep_the_last_good_hours(farm):
    assert "broke off" in goes_wrong(farm, "mid_stream", "broken_off").detail


def test_f15_an_error_with_status_200_keeps_the_last_good_hours(farm):
    assert "Something went wrong" in goes_wrong(farm, "error_200", "error_reply").detail


def test_f16_an_empty_body_keeps_the_last_good_hours(farm):
    goes_wrong(farm, "empty", "empty")


@pytest.mark.parametrize(("lots", "fault"), [(2, "object_for_array"), (1, "array_for_object")])
def test_f17_an_object_for_an_array_or_back_keeps_the_last_good_hours(standin, lots, fault):
    goes_wrong(failing.forecast(standin, lots).begin(), fault, "wrong_shape")


def test_f17_from_one_site_to_two_and_back_every_site_gets_its_own(standin):
    farm = failing.forecast(standin, 1).begin()
    farm.lots.append(made.woodlot_at(44.1))
    assert farm.ask().outcome == "ok"
    heights = {row.elevation_used_m for row in made.newest(LATER)}
    assert len(heights) == 2


def test_f18_fewer_answers_than_sites_keep_the_last_good_hours(farm):
    goes_wrong(farm, "short_array", "wrong_count")


def test_f19_lists_of_unlike_length_keep_the_last_good_hours(farm):
    goes_wrong(farm, "length_mismatch", "wrong_length")


@pytest.mark.parametrize("fault", ["fahrenheit", "undefined_unit"])
def test_f20_another_unit_keeps_the_last_good_hours(farm, fault):
    goes_wrong(farm, fault, "wrong_unit")


@pytest.mark.parametrize("fault", ["nan_token", "infinity_token"])
def test_f21_tokens_that_are_no_json_keep_the_last_good_hours(farm, fault):
    goes_wrong(farm, fault, "not_json")


@pytest.mark.parametrize("fault", ["unsorted_times", "repeated_time", "gapped_times"])
def test_f22_times_out_of_step_keep_the_last_good_hours(farm, fault):
    goes_wrong(farm, fault, "wrong_times")

"""The stand-in's own day: today's, a given one, or whatever day it is asked about."""

from datetime import date

import requests

from tests.standin import StandIn

ASKED = {
    "latitude": "43.9",
    "longitude": "-75.3",
    "hourly": "temperature_2m",
    "timeformat": "unixtime",
    "timezone": "GMT",
    "start_date": "2026-01-27",
    "end_date": "2026-02-11",
}


def _status(**options):
    with StandIn(**options) as standin:
        return requests.get(f"{standin.url}/v1/forecast", params=ASKED, timeout=5).status_code


def test_service_of_another_day_refuses_as_the_real_one_does():
    assert _status(today=date(2026, 6, 1)) == 400


def test_service_of_any_day_answers_the_demo_whatever_its_clock_says():
    assert _status(any_day=True) == 200

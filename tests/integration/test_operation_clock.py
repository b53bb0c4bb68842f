"""The edge reads the clock once, and everything below is told the moment and the local day."""

from datetime import UTC, date, datetime

import pytest
import time_machine
from django.urls import reverse

from apps.operation import clock
from tests.factories import operation as people

pytestmark = pytest.mark.django_db


def _today(client):
    response = client.get(reverse("operation:settings"))
    return response.wsgi_request.today


@time_machine.travel(datetime(2026, 3, 8, 6, 59, tzinfo=UTC), tick=False)
def test_without_another_clock_the_system_tells_the_time():
    assert clock.now() == datetime(2026, 3, 8, 6, 59, tzinfo=UTC)


@pytest.mark.parametrize(
    ("moment", "zone", "day"),
    [
        # Before and after midnight in New York, in winter (UTC-5) and in summer (UTC-4).
        ("2026-03-07T04:59:00+00:00", "America/New_York", date(2026, 3, 6)),
        ("2026-03-07T05:00:00+00:00", "America/New_York", date(2026, 3, 7)),
        ("2026-03-09T03:59:00+00:00", "America/New_York", date(2026, 3, 8)),
        ("2026-03-09T04:00:00+00:00", "America/New_York", date(2026, 3, 9)),
        ("2026-03-07T04:59:00+00:00", "America/Vancouver", date(2026, 3, 6)),
    ],
)
def test_today_is_the_operations_local_day(client, owner, moment, zone, day):
    people.operation(time_zone=zone)
    with time_machine.travel(moment, tick=False):
        client.force_login(owner)
        assert _today(client) == day


def test_the_clock_of_the_settings_is_the_one_read(owner_client, fixed_clock):
    assert _today(owner_client) == date(2026, 3, 16)
    assert clock.now() == fixed_clock

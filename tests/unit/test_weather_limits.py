"""When to come back after a 429; the windows are those of the service's own rate limiter."""

from datetime import UTC, datetime, timedelta

import pytest

from apps.weather.client.limits import not_before

NOW = datetime(2026, 3, 16, 23, 40, 30, tzinfo=UTC)
MINUTE = "Minutely API request limit exceeded. Please try again in one minute."
HOUR = "Hourly API request limit exceeded. Please try again in the next hour."
DAY = "Daily API request limit exceeded. Please try again tomorrow."


@pytest.mark.parametrize(
    ("reason", "expected"),
    [
        (MINUTE, "2026-03-16T23:41:40"),
        (HOUR, "2026-03-17T00:00:07"),
        (DAY, "2026-03-17T00:05:07"),
        ("Too many concurrent requests", "2026-03-16T23:41:00"),
    ],
)
def test_the_window_named_decides(reason, expected):
    assert not_before(reason, "9", NOW, 7) == datetime.fromisoformat(expected).replace(tzinfo=UTC)


@pytest.mark.parametrize(
    ("retry_after", "wait"),
    [
        ("120", timedelta(seconds=120)),
        ("Mon, 16 Mar 2026 23:50:30 GMT", timedelta(minutes=10)),
        ("21600", timedelta(minutes=15)),
        ("Tue, 17 Mar 2026 23:50:30 GMT", timedelta(minutes=15)),
        ("Mon, 16 Mar 2026 22:00:00 GMT", timedelta(minutes=15)),
        ("0", timedelta(minutes=15)),
        ("soon", timedelta(minutes=15)),
        ("9" * 400, timedelta(minutes=15)),
        (None, timedelta(minutes=15)),
    ],
)
def test_without_a_window_a_short_retry_after_decides(retry_after, wait):
    assert not_before("Slow down", retry_after, NOW, 7) == NOW + wait

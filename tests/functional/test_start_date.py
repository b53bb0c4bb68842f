"""Deciding when to start: from the forecast fetched to the date on the page, by hand.

The stand-in service is made to foretell, day by day in New York, from Monday 16 February 2026:

    18 to 21 February   -5 C until noon, +6 C after it: four freeze-thaw days
    26, 27 February     -20 C all day: too cold to work (the limit is 10 F, -12.2 C)
    every other day     -4 C all day: it freezes and never thaws

Three first runs typed in: 28 February 2023, 3 March 2024, 9 March 2025. Two missed in ten of
three is none, so the earliest counts: every tap in by the morning of Saturday 28 February.
1,150 taps in 8 in. of snow at 100 a pair-hour are 11.5 pair-hours; 2 pairs for 6 hours do 12 a
day: one working day. All days back from the 27th lie within the forecast, so no lost days are
allowed for; the 27th and 26th are too cold. Counted back, the one working day is Wednesday 25.

That count back cannot see the run of the 18th to the 21st. The members, a few degrees apart, do:
12 h at 6 C are 72 degree-hours, so the warmer ones gather the 100 that a first run takes on the
18th and the others on the 19th. All in by the morning of the 18th misses none of them, so the last
good start, and the answer, is Tuesday 17.
"""

from datetime import UTC, datetime

import numpy as np
import pytest
from django.urls import reverse

from tests.factories import operation as people
from tests.factories import woods
from tests.factories.weather import every_service_at
from tests.standin import StandIn, contract

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
NOW = datetime(2026, 2, 16, 12, tzinfo=UTC)
FREEZE_THAW, TOO_COLD = (18, 19, 20, 21), (26, 27)
FIRST_RUNS = ("2023-02-28", "2024-03-03", "2025-03-09")


def monday() -> datetime:
    return NOW


def foretold(latitude, longitude, elevation_m, unix_seconds):
    """The days above; all in February 2026 and five hours behind UTC."""
    local = np.asarray(unix_seconds) - 5 * 3600
    day = (local - int(datetime(2026, 1, 31, tzinfo=UTC).timestamp())) // 86_400
    afternoon = (local // 3600) % 24 >= 12
    thaw = np.isin(day, FREEZE_THAW)
    temps = np.where(thaw, np.where(afternoon, 6.0, -5.0), -4.0)
    return np.where(np.isin(day, TOO_COLD), -20.0, temps)


@pytest.fixture
def service(settings, monkeypatch):
    settings.THAWLINE_CLOCK = f"{__name__}.monday"
    monkeypatch.setattr(contract, "temperature_c", foretold)
    with StandIn(today=NOW.date()) as running:
        every_service_at(settings, running.url)
        yield running


@pytest.fixture
def page(desk, live_server, sign_in, service, db):
    people.operation(name="Tamarack Hollow Sugaring")
    people.owner()
    lot = woods.woodlot(elevation_m=contract.ground_height_m(43.9, -75.3))
    woods.line(lot, "1", planned_taps=1150)
    sign_in(desk, "ina")
    return desk


def go(page, live_server, name):
    page.goto(live_server.url + reverse(name))


def test_forecast_fetched_becomes_freeze_thaw_days(page, live_server, service):
    go(page, live_server, "weather:outlook")
    page.get_by_role("button", name="Refresh the weather").click()
    page.wait_for_load_state()
    assert len(service.seen) >= 1
    # What the single forecast says, beside the chances of the ensembles.
    table = page.locator("table.by-day")
    assert table.locator(".badge.good", has_text="yes").count() == len(FREEZE_THAW)


def test_start_date_follows_from_what_was_fetched_and_typed(page, live_server):
    go(page, live_server, "weather:outlook")
    page.get_by_role("button", name="Refresh the weather").click()
    for day in FIRST_RUNS:
        go(page, live_server, "tapping:first_runs")
        page.locator("input[type=date]").fill(day)
        page.get_by_role("button", name="Save").click()
    go(page, live_server, "outlook:start_date")
    page.get_by_label("Tamarack Hollow (in.)").fill("8")
    page.get_by_role("button", name="Record the snow").click()
    answer = page.locator("#answer").inner_text()
    assert "Any day from Mon 16 to Tue 17 February will do." in answer
    assert "Runner-up: Wed 18 February" in answer
    assert page.locator("#days .badge.good", has_text="tapping").count() == 1
    assert "11.5 pair-hours" in page.locator("main").inner_text()
    check = page.locator("#cross-check")
    assert "25 February" not in page.locator("main").inner_text().split("The starts weighed")[0]
    check.locator("summary").click()
    assert "Counted back: start by Wed 25 February." in check.inner_text()
    assert check.locator(".badge.cold", has_text="too cold").count() == len(TOO_COLD)
    assert check.locator(".badge.good", has_text="tapping").count() == 1
    assert "That is 8 days later than the answer." in check.inner_text()

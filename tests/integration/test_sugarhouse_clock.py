"""Days and hours at the sugarhouse: local days, the two days a year that are not 24 h long, UTC."""

import re
from datetime import UTC, date, datetime, timedelta
from uuid import uuid4
from zoneinfo import ZoneInfo

import pytest
from django.urls import reverse

from apps.season.queries import cumulative_sap
from apps.sugarhouse import actions, queries
from apps.sugarhouse.models import Batch, Dip, SapIn, SapOut
from tests.factories import operation as people
from tests.factories import sugarhouse, woods

pytestmark = pytest.mark.django_db

# In 2026 New York's clocks go from 02:00 to 03:00 on 8 March and back on 1 November.
ZONE = ZoneInfo("America/New_York")
SAP, TANKS, BATCHES = (reverse(f"sugarhouse:{name}") for name in ("sap", "tanks", "batches"))


def utc(*parts):
    return datetime(*parts, tzinfo=UTC)


def local(*parts):
    return datetime(*parts, tzinfo=ZONE)


def text(response):
    plain = re.sub(r"<[^>]+>", " ", response.content.decode())
    return re.sub(r"\s+", " ", plain)


def log_load(client, at, woodlot=None):
    typed = {"uuid": uuid4(), "volume": "100", "brix": "2", "share": "100", "at": at}
    source = {"woodlot": woodlot.pk} if woodlot else {"seller": "Neighbours"}
    return client.post(SAP, typed | source, follow=True)


@pytest.mark.parametrize(
    ("typed", "moment"),
    [
        # Standard time is five hours behind UTC, daylight time four.
        ("2026-03-07T23:59", utc(2026, 3, 8, 4, 59)),
        ("2026-03-08T01:59", utc(2026, 3, 8, 6, 59)),
        ("2026-03-08T03:00", utc(2026, 3, 8, 7, 0)),
        ("2026-03-08T23:59", utc(2026, 3, 9, 3, 59)),
        ("2026-01-01T00:00", utc(2026, 1, 1, 5, 0)),
        ("2025-11-01T23:59", utc(2025, 11, 2, 3, 59)),
        ("2025-11-02T23:59", utc(2025, 11, 3, 4, 59)),
    ],
)
def test_typed_time_is_the_local_clocks_and_kept_in_utc(crew_client, typed, moment):
    log_load(crew_client, typed)
    assert SapIn.objects.get().at == moment


@pytest.mark.parametrize("typed", ["2026-03-08T02:30", "2025-11-02T01:30"])
def test_hour_that_is_missing_or_doubled_is_refused_at_its_field(crew_client, typed):
    page = log_load(crew_client, typed)
    assert page.context["form"].errors["at"]
    assert f'value="{typed}"' in page.content.decode()
    assert not SapIn.objects.exists()


@pytest.mark.parametrize(
    ("typed", "shown"),
    [("2026-03-07T23:59", "Sat 7 Mar, 23:59"), ("2026-03-08T23:59", "Sun 8 Mar, 23:59")],
)
def test_last_minute_of_a_day_is_shown_on_that_day(crew_client, typed, shown):
    assert shown in text(log_load(crew_client, typed))


@pytest.mark.parametrize(
    ("typed", "season"),
    [
        ("2025-11-30T23:59", 2025),
        ("2025-12-01T00:00", 2026),
        ("2025-12-31T23:59", 2026),
        ("2026-01-01T00:00", 2026),
    ],
)
def test_new_season_begins_on_the_local_first_of_december(crew_client, typed, season):
    log_load(crew_client, typed)
    assert SapIn.objects.get().season == season


# The fixed clock stands at 07:00 local on 16 March 2026.
@pytest.mark.parametrize(
    ("typed", "taken"),
    [
        ("2026-03-16T07:00", True),
        ("2026-03-16T07:02", True),
        ("2026-03-16T07:03", False),
        ("2026-03-17T00:00", False),
    ],
)
def test_two_minutes_ahead_are_a_clocks_slack_and_three_are_the_future(crew_client, typed, taken):
    log_load(crew_client, typed)
    assert SapIn.objects.exists() is taken


def test_every_form_refuses_a_time_to_come(crew_client):
    load, tank = sugarhouse.sap_in(woods.woodlot()), sugarhouse.tank()
    receipt = reverse("sugarhouse:sap_receipt", args=[load.pk])
    plain = {"uuid": uuid4(), "at": "2026-03-16T08:00"}
    forms = {
        BATCHES: {"sap": "10", "syrup": "1", "syrup_brix": "66"},
        TANKS: {"tank": tank.pk, "depth": "5"},
        receipt: {"kind": "sold", "volume": "1", "reason": "Tanker"},
    }
    for there, typed in forms.items():
        page = crew_client.post(there, plain | typed)
        assert page.context["form"].errors["at"] == ["This time is still to come."]
    assert not any(model.objects.exists() for model in (Batch, Dip, SapOut))


def test_form_starts_at_the_local_minute(crew_client):
    page = crew_client.get(SAP).content.decode()
    assert 'value="2026-03-16T07:00"' in page


def test_load_of_an_evening_is_named_by_its_local_day(crew_client):
    # 21:00 on 14 March in New York is 01:00 on the 15th in UTC.
    load = sugarhouse.sap_in(woods.woodlot("North"), at=local(2026, 3, 14, 21))
    form = crew_client.get(BATCHES).context["form"]
    assert form.fields[f"draw_{load.pk}"].label.startswith("Sap from North, 14 Mar")


def test_operation_elsewhere_reads_the_same_moment_by_its_own_clock(crew_client):
    sugarhouse.sap_in(woods.woodlot(), at=utc(2026, 3, 15, 3, 30))
    assert "Sat 14 Mar, 23:30" in text(crew_client.get(SAP))
    people.operation(time_zone="America/Halifax")
    assert "Sun 15 Mar, 00:30" in text(crew_client.get(SAP))


@pytest.fixture
def tank():
    """A litre a millimetre."""
    measures = {"width_mm": 1000.0, "length_mm": 1000.0, "height_mm": 1000.0}
    return sugarhouse.tank(shape="box", **measures)


@pytest.mark.parametrize(
    ("first", "second", "litres_per_hour"),
    [
        # 22:00 to 06:00 is seven hours over the jump, eight on any other night.
        (local(2026, 3, 7, 22), local(2026, 3, 8, 6), 280 / 7),
        (local(2026, 3, 8, 22), local(2026, 3, 9, 6), 280 / 8),
        (local(2025, 11, 1, 22), local(2025, 11, 2, 6), 280 / 9),
    ],
)
def test_inflow_goes_by_hours_passed_and_not_by_the_clock(tank, first, second, litres_per_hour):
    for at, depth_mm in ((first, 100.0), (second, 380.0)):
        # As stored: in one zone, two local times subtract as the clock shows them.
        sugarhouse.dip(tank, at=at.astimezone(UTC), depth_mm=depth_mm)
    (row,) = queries.tanks_now(people.FIXED_NOW, 1.0)
    assert row.inflow_litres_per_hour == pytest.approx(litres_per_hour)


def test_full_time_is_told_by_the_new_clock_after_the_jump(tank):
    for hour, depth_mm in ((local(2026, 3, 8, 0), 370.0), (local(2026, 3, 8, 1), 470.0)):
        sugarhouse.dip(tank, at=hour, depth_mm=depth_mm)
    (row,) = queries.tanks_now(utc(2026, 3, 8, 6, 30), 0.97)
    # (970 - 470) / 100 = 5 h after 01:00 standard time is 07:00 daylight time.
    assert row.full_at.astimezone(ZONE).strftime("%H:%M") == "07:00"


def boil(at, litres):
    return actions.record_batch(
        uuid=uuid4(),
        season=2026,
        boiled_at=at,
        syrup_litres=1.0,
        syrup_brix=66.0,
        crew=None,
        sap_litres=litres,
    )


def test_boil_takes_the_sap_of_its_own_minute_and_none_later():
    woodlot = woods.woodlot()
    early = sugarhouse.sap_in(woodlot, at=local(2026, 3, 14, 21), volume_litres=100.0)
    late = sugarhouse.sap_in(woodlot, at=local(2026, 3, 14, 21, 1), volume_litres=100.0)
    boil(local(2026, 3, 14, 21), 100.0)
    left = dict(SapIn.objects.values_list("pk", "remaining_litres"))
    assert left == {early.pk: 0.0, late.pk: 100.0}


def test_boil_past_midnight_draws_on_the_evening_before():
    sugarhouse.sap_in(woods.woodlot(), at=local(2026, 3, 14, 21), volume_litres=100.0)
    assert boil(local(2026, 3, 15, 0, 30), 100.0).sap.get().volume_litres == 100.0


def days_of(*moments, zone=ZONE):
    woodlot = woods.woodlot()
    for moment in moments:
        sugarhouse.sap_in(woodlot, at=moment, volume_litres=10.0)
    return queries.sap_by_day([2026], zone)[2026]


def test_sap_is_summed_by_local_day_over_both_edges_of_it():
    found = days_of(local(2026, 3, 7, 23, 59), local(2026, 3, 8, 0, 0), local(2026, 3, 8, 23, 59))
    assert found == {date(2026, 3, 7): 10.0, date(2026, 3, 8): 20.0}


def test_zone_decides_the_day():
    moment = utc(2026, 3, 15, 2)
    assert list(days_of(moment, zone=ZONE)) == [date(2026, 3, 14)]
    assert list(queries.sap_by_day([2026], UTC)[2026]) == [date(2026, 3, 15)]


def test_week_over_the_jump_is_seven_calendar_days():
    woodlot = woods.woodlot()
    for moment in (local(2026, 3, 4, 12), local(2026, 3, 18, 12)):
        sugarhouse.sap_in(woodlot, at=moment, volume_litres=10.0)
    timeline = cumulative_sap(
        2026, seasons=[2026], today=date(2026, 3, 20), zone=ZONE, unit_system="metric"
    )
    assert timeline.days == tuple(date(2026, 3, 4) + timedelta(days=7 * week) for week in range(3))
    assert timeline.amounts[2026] == (10, 10, 20)


def test_two_looks_a_minute_apart_are_two_dips_and_one_minute_is_one(crew_client, tank):
    typed = {"tank": tank.pk, "depth": "5"}
    for at in ("2026-03-16T06:30", "2026-03-16T06:31", "2026-03-16T06:31"):
        crew_client.post(TANKS, typed | {"uuid": uuid4(), "at": at})
    assert Dip.objects.count() == 2


def test_tank_hauled_at_the_minute_of_its_dip_was_dipped_after_the_load(tank):
    # The dip shows what the truck left, so the rate before it says nothing.
    for hours, depth_mm in ((3, 900.0), (1, 100.0)):
        at = people.FIXED_NOW - timedelta(hours=hours)
        sugarhouse.dip(tank, at=at, depth_mm=depth_mm)
    sugarhouse.sap_in(woods.woodlot(), from_tank=tank, at=at)
    (row,) = queries.tanks_now(people.FIXED_NOW, 1.0)
    assert (row.state, row.inflow_litres_per_hour) == ("rate unknown", None)

"""A mistyped gauge reading: taken back by who may, kept, and replaced by the right one."""

from uuid import uuid4

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse

from apps.domain.units import kpa_from_inhg
from apps.leaks import actions
from apps.leaks.models import GaugeReading
from tests.factories import leaks, woods
from tests.factories import operation as people

pytestmark = pytest.mark.django_db
GAUGES = reverse("leaks:gauges")
LATER = leaks.hours_ago(-1)


@pytest.fixture
def house():
    return woods.pump_house(woods.woodlot())


@pytest.fixture
def slip(house, crew):
    """2.5 inches typed for 24.5, an hour ago."""
    return leaks.reading(house, kpa_from_inhg(2.5), crew=crew)


def void(client, reading):
    return client.post(reverse("leaks:void_gauge", args=[reading.pk]), follow=True)


def text_of(response):
    return " ".join(response.content.decode().split())


def record(reading, vacuum_kpa):
    return actions.record_gauge_reading(
        uuid=uuid4(), pump_house=reading.pump_house, read_at=reading.read_at, vacuum_kpa=vacuum_kpa
    )


def test_it_stays_with_who_and_when(crew_client, crew, slip):
    void(crew_client, slip)
    slip.refresh_from_db()
    assert (slip.voided_by, slip.voided_at) == (crew, people.FIXED_NOW)
    assert slip.vacuum_kpa == kpa_from_inhg(2.5)


def test_the_right_number_then_takes_its_very_moment_and_both_rows_stay(crew_client, slip):
    void(crew_client, slip)
    typed = {"pump_house": slip.pump_house_id, "vacuum": "24.5", "read_at": "2026-03-16T06:00"}
    typed |= {"uuid": uuid4()}
    assert crew_client.post(GAUGES, typed).status_code == 302
    assert GaugeReading.objects.count() == 2
    assert GaugeReading.objects.standing().get().read_at == slip.read_at


def test_until_it_is_taken_back_it_holds_its_moment(slip):
    with pytest.raises(actions.AnotherReading):
        record(slip, 83.0)


def test_a_slip_made_twice_at_one_moment_is_taken_back_twice(slip, crew):
    for _ in range(2):
        again = record(slip, 8.3) if slip.voided_at else slip
        actions.void_gauge_reading(reading=again, by=again.crew or people.owner(), at=LATER)
        slip.refresh_from_db()
    assert GaugeReading.objects.count() == 2
    assert not GaugeReading.objects.standing().exists()


def test_done_twice_it_keeps_the_first_who_and_when(slip, crew):
    actions.void_gauge_reading(reading=slip, by=crew, at=people.FIXED_NOW)
    actions.void_gauge_reading(reading=slip, by=people.owner(), at=LATER)
    slip.refresh_from_db()
    assert (slip.voided_by, slip.voided_at) == (crew, people.FIXED_NOW)


@pytest.mark.parametrize(
    ("who", "role", "allowed"),
    [("sol", None, True), ("wren", "crew", False), ("ina", "owner", True)],
)
def test_its_writer_or_an_owner_takes_it_back(client, fixed_clock, slip, who, role, allowed):
    client.force_login(people.crew(who, role=role) if role else slip.crew)
    page = text_of(void(client, slip))
    slip.refresh_from_db()
    assert (slip.voided_at is not None) is allowed
    assert ("Only the one who wrote a reading down" in page) is not allowed


def test_a_reading_nobody_signed_is_an_owners_to_take_back(crew, house):
    unsigned = leaks.reading(house)
    with pytest.raises(actions.NotYours):
        actions.void_gauge_reading(reading=unsigned, by=crew, at=LATER)
    assert GaugeReading.objects.standing().exists()


def test_the_list_strikes_it_through_and_the_picture_leaves_it_out(crew_client, slip):
    leaks.reading(slip.pump_house, kpa_from_inhg(24.5), hours=3)
    void(crew_client, slip)
    response = crew_client.get(GAUGES)
    text = text_of(response)
    for words in ("<s>2.5 inHg</s>", "counts for nothing", "taken back by Sol"):
        assert words in text
    assert [trace["y"] for trace in response.context["figure"].spec["data"]] == [[24.5]]


def test_a_page_of_nothing_but_slips_has_no_picture(crew_client, slip):
    void(crew_client, slip)
    assert crew_client.get(GAUGES).context["figure"] is None


def test_the_button_is_offered_only_where_it_works(crew_client, slip, house):
    other = leaks.reading(house, 80.0, hours=5, crew=people.crew("wren"))
    text = text_of(crew_client.get(GAUGES))
    assert reverse("leaks:void_gauge", args=[slip.pk]) in text
    assert reverse("leaks:void_gauge", args=[other.pk]) not in text
    assert "Wren or an owner" in text


def test_it_takes_a_touch_and_not_only_a_visit(crew_client, slip):
    assert crew_client.get(reverse("leaks:void_gauge", args=[slip.pk])).status_code == 405
    assert crew_client.post(reverse("leaks:void_gauge", args=[999])).status_code == 404
    assert GaugeReading.objects.standing().exists()


def test_a_stranger_takes_nothing_back(client, slip):
    page = client.post(reverse("leaks:void_gauge", args=[slip.pk]))
    assert reverse("operation:sign_in") in page.url
    assert GaugeReading.objects.standing().exists()


@pytest.mark.parametrize("fields", [{"voided_at": LATER}, {"voided_by": "somebody"}])
def test_the_database_keeps_who_and_when_together(house, crew, fields):
    given = {name: crew if value == "somebody" else value for name, value in fields.items()}
    with pytest.raises(IntegrityError), transaction.atomic():
        leaks.reading(house, **given)


def test_the_database_lets_only_one_reading_stand_a_moment(slip, crew):
    both = {"voided_at": LATER, "voided_by": crew}
    assert leaks.reading(slip.pump_house, 83.0, **both).pk
    with pytest.raises(IntegrityError), transaction.atomic():
        leaks.reading(slip.pump_house, 83.0)

"""What the database itself refuses about checks, leaks and gauges."""

import pytest
from django.db import IntegrityError, transaction

from apps.leaks.models import GaugeReading, Leak, LeakCheck
from tests.factories import leaks, woods

pytestmark = pytest.mark.django_db


def refused(write) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        write()


@pytest.mark.parametrize(
    ("state", "fields"),
    [
        ("leaky", {}),
        ("tight", {"cause": "chew"}),
        ("frozen", {"cause": "chew"}),
        ("leak_left", {"cause": "gremlin"}),
        ("tight", {"vacuum_before_kpa": -0.1}),
        ("tight", {"vacuum_before_kpa": 120.1}),
        ("tight", {"vacuum_after_kpa": -0.1}),
        ("tight", {"vacuum_after_kpa": 120.1}),
        ("leak_left", {"place_drops": 5001}),
        ("leak_left", {"place_drops": -1}),
        ("tight", {"voided_at": leaks.hours_ago(0)}),
    ],
)
def test_a_check_out_of_bounds_is_refused(state, fields):
    line = leaks.a_line()
    refused(lambda: leaks.bare_check(line, state, **fields))


def test_a_check_taken_back_by_somebody_must_be_voided():
    line = leaks.a_line()
    refused(lambda: leaks.bare_check(line, voided_by=leaks.somebody()))


@pytest.mark.parametrize(
    ("state", "fields"),
    [
        ("tight", {"vacuum_before_kpa": 0, "vacuum_after_kpa": 120}),
        ("leak_fixed", {"cause": "deer", "place_drops": 0}),
        ("leak_left", {"cause": "", "place_drops": 5000}),
        ("frozen", {"voided": True, "voided_at": leaks.hours_ago(0)}),
    ],
)
def test_a_check_at_its_limits_is_kept(state, fields):
    leaks.bare_check(leaks.a_line(), state, **fields)
    assert LeakCheck.objects.count() == 1


def test_one_uuid_is_one_check():
    line = leaks.a_line()
    first = leaks.bare_check(line)
    refused(lambda: leaks.bare_check(line, uuid=first.uuid))


def leak_fields():
    line = leaks.a_line()
    opener = leaks.bare_check(line, "leak_left", observed_at=leaks.hours_ago(5))
    closer = leaks.bare_check(line, "leak_fixed", observed_at=leaks.hours_ago(2))
    return {"line": line, "opened_by": opener, "opened_at": opener.observed_at}, closer


def test_a_leak_closed_by_a_check_has_the_time_too():
    fields, closer = leak_fields()
    refused(lambda: Leak.objects.create(**fields, closed_by=closer))


def test_a_leak_closed_at_a_time_has_the_check_too():
    fields, _ = leak_fields()
    refused(lambda: Leak.objects.create(**fields, closed_at=leaks.hours_ago(2)))


def test_a_leak_never_closes_before_it_opens():
    fields, closer = leak_fields()
    refused(lambda: Leak.objects.create(**fields, closed_by=closer, closed_at=leaks.hours_ago(6)))


def test_a_leak_is_not_closed_by_the_check_that_left_it():
    fields, _ = leak_fields()
    again = {"closed_by": fields["opened_by"], "closed_at": leaks.hours_ago(1)}
    refused(lambda: Leak.objects.create(**fields, **again))


def test_a_leak_with_a_cause_nobody_knows_is_refused():
    fields, _ = leak_fields()
    refused(lambda: Leak.objects.create(**fields, cause="gremlin"))


def test_one_check_opens_one_leak():
    fields, _ = leak_fields()
    Leak.objects.create(**fields)
    refused(lambda: Leak.objects.create(**fields))


@pytest.mark.parametrize("vacuum_kpa", [-0.1, 120.1])
def test_a_gauge_reading_out_of_bounds_is_refused(vacuum_kpa):
    house = woods.pump_house(woods.woodlot())
    refused(lambda: leaks.reading(house, vacuum_kpa))


def test_a_pump_house_has_one_reading_a_moment():
    house = woods.pump_house(woods.woodlot())
    leaks.reading(house, 80.0)
    refused(lambda: leaks.reading(house, 81.0))
    assert GaugeReading.objects.count() == 1

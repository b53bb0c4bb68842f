"""The phone's records: one row each, an answer each, and nothing kept by halves."""

import pytest

from apps.leaks.models import LeakCheck, PartUsed
from tests.factories import leaks, phone
from tests.factories import operation as people

pytestmark = pytest.mark.django_db


@pytest.fixture
def line():
    return leaks.a_line("L7", planned_taps=120)


@pytest.fixture
def send(crew_client, crew):
    return lambda *records, **fields: phone.send(crew_client, crew, *records, **fields)


def test_a_check_is_kept_with_all_it_says(send, line, crew):
    sent = phone.check(
        line,
        "leak_fixed",
        before_kpa=70.5,
        after_kpa=84.0,
        drops=12,
        cause="tee",
        note=" chewed tee ",
        parts={"tee": 2, "drop": 1},
        pos=[43.91234, -75.31234, 12],
    )
    assert phone.answers(send(sent)) == ["accepted"]
    row = LeakCheck.objects.get(uuid=sent["uuid"])
    assert (row.line, row.state, row.crew) == (line, "leak_fixed", crew)
    assert (row.vacuum_before_kpa, row.vacuum_after_kpa, row.place_drops) == (70.5, 84.0, 12)
    assert (row.cause, row.note) == ("tee", "chewed tee")
    assert (row.latitude, row.longitude, row.position_accuracy_m) == (43.91234, -75.31234, 12)
    assert row.observed_at == phone.before_sending(minutes=10)
    assert row.received_at == people.FIXED_NOW
    used = PartUsed.objects.order_by("part").values_list("leak_check_id", "part", "count")
    assert list(used) == [(row.pk, "drop", 1), (row.pk, "tee", 2)]

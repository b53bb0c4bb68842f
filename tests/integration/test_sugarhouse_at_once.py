"""Two people at the books in the same moment, on whichever database the tests run."""

import threading
from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import connection

from apps.sugarhouse import actions
from apps.sugarhouse.models import Batch, SapIn, SapOut
from tests.factories import sugarhouse, woods

pytestmark = pytest.mark.django_db(transaction=True)

AT = sugarhouse.AT


def together(*calls):
    """Run each call in a thread of its own, let go at once; what each gave or raised, by kind."""
    gate = threading.Barrier(len(calls))
    found = []

    def run(call):
        try:
            gate.wait(timeout=10)
            found.append(call())
        except Exception as error:
            found.append(error)
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=(call,)) for call in calls]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=30)
    return sorted(type(result).__name__ for result in found)


def boil(sap_litres, uuid=None):
    return actions.record_batch(
        uuid=uuid or uuid4(),
        season=2026,
        boiled_at=AT + timedelta(hours=1),
        syrup_litres=20.0,
        syrup_brix=66.0,
        crew=None,
        sap_litres=sap_litres,
    )


def sell(load, litres, uuid=None):
    return actions.record_sap_out(
        uuid=uuid or uuid4(), sap_in=load, kind="sold", at=AT, volume_litres=litres, reason="Tanker"
    )


@pytest.fixture
def load():
    return sugarhouse.sap_in(woods.woodlot(), volume_litres=100.0)


def remaining(load):
    return SapIn.objects.get(pk=load.pk).remaining_litres


def test_two_boils_cannot_both_have_the_last_sap(load):
    assert together(lambda: boil(80.0), lambda: boil(80.0)) == ["Batch", "NotEnoughSap"]
    assert remaining(load) == pytest.approx(20.0)


def test_two_boils_at_once_get_numbers_of_their_own(load):
    assert together(lambda: boil(30.0), lambda: boil(30.0)) == ["Batch", "Batch"]
    assert sorted(Batch.objects.values_list("number", flat=True)) == [1, 2]
    assert remaining(load) == pytest.approx(40.0)


def test_one_boil_sent_twice_at_once_is_one_batch(load):
    uuid = uuid4()
    assert together(lambda: boil(30.0, uuid), lambda: boil(30.0, uuid)) == ["Batch", "Batch"]
    assert Batch.objects.count() == 1
    assert remaining(load) == pytest.approx(70.0)


def test_a_boil_and_a_sale_cannot_both_have_the_last_sap(load):
    assert together(lambda: boil(80.0), lambda: sell(load, 80.0)) in (
        ["Batch", "NotEnoughSap"],
        ["NotEnoughSap", "SapOut"],
    )
    assert remaining(load) == pytest.approx(20.0)


def test_a_load_cannot_be_both_removed_and_boiled(load):
    found = together(lambda: boil(80.0), lambda: actions.remove_sap_in(sap_in=load))
    assert found in (["Batch", "SapAlreadyUsed"], ["NoneType", "NotEnoughSap"])
    assert SapIn.objects.exists() is ("Batch" in found)


def test_a_sale_struck_out_twice_at_once_gives_its_sap_back_once(load):
    boil(50.0)
    out = sell(load, 30.0)
    together(lambda: actions.undo_sap_out(out=out), lambda: actions.undo_sap_out(out=out))
    assert remaining(load) == pytest.approx(50.0)


def test_two_sugars_found_at_once_leave_the_first(load):
    SapIn.objects.update(brix=None)
    found = together(
        lambda: actions.record_sugar(sap_in=load, brix=2.1),
        lambda: actions.record_sugar(sap_in=load, brix=2.4),
    )
    assert found == ["NoneType", "SugarKnown"]
    assert SapIn.objects.get().brix in (2.1, 2.4)


def test_one_sale_sent_twice_at_once_counts_once(load):
    uuid = uuid4()
    together(lambda: sell(load, 30.0, uuid), lambda: sell(load, 30.0, uuid))
    assert SapOut.objects.count() == 1
    assert remaining(load) == pytest.approx(70.0)


def test_a_batch_struck_out_twice_at_once_gives_its_sap_back_once(load):
    sell(load, 50.0)
    batch = boil(30.0)
    together(lambda: actions.undo_batch(batch=batch), lambda: actions.undo_batch(batch=batch))
    assert remaining(load) == pytest.approx(50.0)

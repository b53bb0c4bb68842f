"""What the database itself refuses of phones and receipts."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import IntegrityError, transaction

from apps.field.models import Phone, Receipt
from tests.factories import operation as people

pytestmark = pytest.mark.django_db
NOW = people.FIXED_NOW


def a_phone(person, **fields):
    given = {"uuid": uuid4(), "person": person, "added_at": NOW, "seen_at": NOW}
    return Phone.objects.create(**given | fields)


def a_receipt(person, **fields):
    given = {
        "uuid": uuid4(),
        "kind": "check",
        "phone": Phone.objects.first() or a_phone(person),
        "crew": person,
        "sent_by": person,
        "device_at": NOW,
        "clock_offset_ms": 0,
        "clock_method": "steady",
        "time_is_certain": True,
        "observed_at": NOW,
        "received_at": NOW,
        "digest": "0" * 64,
        "payload": {},
    }
    return Receipt.objects.create(**given | fields)


def refuses(call):
    with pytest.raises(IntegrityError), transaction.atomic():
        call()


def test_a_phone_is_revoked_by_somebody_at_a_time(crew):
    refuses(lambda: a_phone(crew, revoked_at=NOW))
    refuses(lambda: a_phone(crew, revoked_by=crew))
    a_phone(crew, revoked_at=NOW, revoked_by=crew)


def test_a_phone_is_listed_once(crew):
    row = a_phone(crew)
    refuses(lambda: a_phone(crew, uuid=row.uuid))


@pytest.mark.parametrize(
    "wrong",
    [
        {"kind": "song"},
        {"clock_method": "guessed"},
        {"digest": "0" * 63},
        {"observed_at": NOW + timedelta(milliseconds=1)},
    ],
    ids=lambda wrong: next(iter(wrong)),
)
def test_a_receipt_says_what_it_is_and_when(crew, wrong):
    refuses(lambda: a_receipt(crew, **wrong))


def test_a_record_has_one_receipt(crew):
    row = a_receipt(crew)
    refuses(lambda: a_receipt(crew, uuid=row.uuid))


def test_every_kind_of_record_and_method_is_one_the_database_takes(crew):
    for kind in Receipt.Kind.values:
        a_receipt(crew, kind=kind)
    for method in Receipt.Method.values:
        a_receipt(crew, clock_method=method)

"""Two posts in the same moment, on whichever database the tests run: one row each."""

import json
import threading
from uuid import uuid4

import pytest
from django.db import OperationalError, connection
from django.test import Client

from apps.field.models import Phone, Receipt
from apps.leaks.models import Leak, LeakCheck
from apps.tapping.models import TapTally
from tests.factories import leaks, phone
from tests.factories import operation as people

pytestmark = pytest.mark.django_db(transaction=True)


def together(*calls):
    """Run each call in a thread of its own, let go at once."""
    gate = threading.Barrier(len(calls))
    found = [None] * len(calls)

    def run(at, call):
        try:
            gate.wait(timeout=10)
            found[at] = call()
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=one) for one in enumerate(calls)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    return found


@pytest.fixture
def sol(fixed_clock):
    people.operation()
    return people.crew()


@pytest.fixture
def line():
    return leaks.a_line("L7", planned_taps=50)


def signed_in(person):
    client = Client()
    client.force_login(person)
    return client


def words(found):
    return [tuple(phone.answers(response)) for response in found]


def test_one_post_sent_twice_at_once_is_kept_once(sol, line):
    records = [phone.check(line, "leak_left", minutes_ago=50 - n) for n in range(20)]
    body = json.dumps(phone.post_of(sol, *records))
    clients = [signed_in(sol) for _ in range(3)]
    found = together(*[lambda c=c: phone.send_body(c, body) for c in clients])
    # Each record was taken by one of the posts and known to the others.
    for of_one in zip(*words(found), strict=True):
        assert sorted(of_one) == ["accepted", "had", "had"]
    assert LeakCheck.objects.count() == Receipt.objects.count() == 20
    assert Leak.objects.count() == 20
    assert Phone.objects.count() == 1


def test_two_halves_in_opposite_order_meet_without_a_deadlock(sol, line):
    other = leaks.a_line("L8")
    records = [phone.check(one, "leak_fixed") for _ in range(10) for one in (line, other)]
    clients = [signed_in(sol), signed_in(sol)]
    bodies = [phone.post_of(sol, *records), phone.post_of(sol, *reversed(records))]
    found = together(
        *[lambda c=c, b=b: phone.send_body(c, b) for c, b in zip(clients, bodies, strict=True)]
    )
    assert (
        sorted(word for post in words(found) for word in post) == ["accepted"] * 20 + ["had"] * 20
    )
    assert LeakCheck.objects.count() == Receipt.objects.count() == 20


def test_of_two_records_under_one_identifier_one_is_kept_and_one_refused(sol, line):
    uuid = str(uuid4())
    records = [phone.check(line, uuid=uuid), phone.record("tally", uuid=uuid, line=line.pk, taps=5)]
    found = together(
        *[lambda r=r: phone.send(signed_in(sol), sol, r) for r in records],
    )
    assert sorted(words(found)) == [("accepted",), ("refused",)]
    assert LeakCheck.objects.count() + TapTally.objects.count() == Receipt.objects.count() == 1


def test_a_check_and_its_void_sent_by_two_tabs_at_once_end_taken_back(sol, line):
    check = phone.check(line, "leak_left")
    void = phone.record("void", of=check["uuid"], minutes_ago=9)
    clients = [signed_in(sol), signed_in(sol)]
    found = together(*[lambda c=c: phone.send(c, sol, check, void) for c in clients])
    for of_one in zip(*words(found), strict=True):
        assert sorted(of_one) == ["accepted", "had"]
    assert not LeakCheck.objects.standing().exists()
    assert not Leak.objects.still_open().exists()


def test_books_that_stay_locked_are_said_to_be_busy_and_nothing_is_lost(
    sol, line, monkeypatch, client
):
    client.force_login(sol)
    records = [phone.check(line) for _ in range(3)]

    def locked(*_, **__):
        raise OperationalError("database is locked")

    with monkeypatch.context() as patch:
        patch.setattr("apps.leaks.actions.checks._settle", locked)
        answer = phone.send(client, sol, *records)
    assert (answer.status_code, answer.json()) == (503, {"reason": "busy"})
    assert LeakCheck.objects.count() == Receipt.objects.count() == 0
    assert phone.answers(phone.send(client, sol, *records)) == ["accepted"] * 3

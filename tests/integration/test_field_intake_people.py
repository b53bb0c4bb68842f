"""Who sends, for whom, from which phone; and what a stranger, a thief or a stale token is told."""

import json

import pytest
from django.test import Client
from django.urls import reverse

from apps.field import actions
from apps.field.models import Phone, Receipt
from apps.leaks.models import LeakCheck
from apps.operation.models import CrewMember
from tests.factories import leaks, phone
from tests.factories import operation as people

pytestmark = pytest.mark.django_db

DATA = reverse("field:data")
WHOAMI = reverse("field:whoami")


@pytest.fixture
def line():
    return leaks.a_line("L7")


@pytest.fixture
def marek(crew):
    return people.crew("marek")


def data(client, name=phone.PHONE):
    return client.get(DATA, {"phone": name})


# --- signed in or not ------------------------------------------------------------------------


def test_an_expired_session_is_told_so_and_the_same_post_goes_up_after_signing_in(
    crew_client, crew, line
):
    sent = phone.check(line)
    crew_client.logout()
    answer = phone.send(crew_client, crew, sent)
    assert (answer.status_code, answer.json()) == (401, {"reason": "signed_out"})
    assert not LeakCheck.objects.exists()
    crew_client.force_login(crew)
    assert phone.answers(phone.send(crew_client, crew, sent)) == ["accepted"]


@pytest.mark.parametrize("address", [DATA + f"?phone={phone.PHONE}", phone.RECORDS])
def test_no_stranger_is_ever_sent_to_the_sign_in_page(client, db, fixed_clock, address):
    ask = client.post if address == phone.RECORDS else client.get
    answer = ask(address)
    assert (answer.status_code, answer.json()) == (401, {"reason": "signed_out"})


def test_whoami_names_who_is_signed_in_and_nobody_else(client, crew, fixed_clock):
    assert client.get(WHOAMI).json() == {"person": None, "server_now": phone.NOW_MS}
    client.force_login(crew)
    assert client.get(WHOAMI).json()["person"] == {"id": crew.pk, "name": "Sol", "owner": False}


def test_another_person_on_the_phone_is_told_who_it_is(crew_client, crew, marek, line):
    answer = phone.send(crew_client, marek, phone.check(line))
    assert answer.status_code == 409
    assert answer.json() == {
        "reason": "other_person",
        "person": {"id": crew.pk, "name": "Sol", "owner": False},
    }
    assert not LeakCheck.objects.exists()


def test_who_was_removed_is_signed_out_at_once(crew_client, crew, line):
    CrewMember.objects.update(is_active=False)
    assert phone.send(crew_client, crew, phone.check(line)).status_code == 401


# --- handed over -----------------------------------------------------------------------------


def test_records_of_who_was_removed_are_handed_in_by_anybody(client, crew, marek, line):
    CrewMember.objects.filter(pk=marek.pk).update(is_active=False)
    client.force_login(crew)
    assert phone.answers(phone.send(client, crew, phone.check(line, by=marek.pk))) == ["accepted"]
    row, receipt = LeakCheck.objects.get(), Receipt.objects.get()
    assert (row.crew, receipt.crew, receipt.sent_by) == (marek, marek, crew)


@pytest.mark.parametrize(("sender", "word"), [("ina", "accepted"), ("wren", "refused")])
def test_records_of_who_is_still_there_go_in_by_an_owner_alone(
    client, fixed_clock, marek, line, sender, word
):
    person = people.owner() if sender == "ina" else people.crew(sender)
    client.force_login(person)
    answer = phone.send(client, person, phone.check(line, by=marek.pk))
    assert phone.answers(answer) == [word]
    if word == "refused":
        assert phone.refused(answer)["reason"] == (
            "Marek saved this: have Marek sign in here, or an owner send it."
        )


def test_a_record_by_nobody_known_is_refused(crew_client, crew, line):
    said = phone.refused(phone.send(crew_client, crew, phone.check(line, by=99_999)))
    assert said["field"] == "by"


def test_what_its_own_eyes_sent_before_was_had_whoever_sends_it_again(client, crew, marek, line):
    sent = phone.check(line)
    client.force_login(marek)
    phone.send(client, marek, sent)
    client.force_login(crew)
    assert phone.answers(phone.send(client, crew, sent | {"by": marek.pk})) == ["had"]
    # Without saying whose it is, it would be a second person's word for the same identifier.
    assert phone.answers(phone.send(client, crew, sent)) == ["refused"]


def test_two_people_on_one_phone_stay_two_people(client, crew, marek, line, fixed_clock):
    for person in (crew, marek):
        client.force_login(person)
        phone.send(client, person, phone.check(line))
    assert set(LeakCheck.objects.values_list("crew__username", flat=True)) == {"sol", "marek"}
    assert Phone.objects.get().person == marek


# --- the phone itself ------------------------------------------------------------------------


def test_data_puts_the_phone_on_the_list(crew_client, crew):
    crew_client.get(DATA, {"phone": phone.PHONE}, headers={"user-agent": "Mobile" + "x" * 300})
    row = Phone.objects.get()
    assert (row.uuid, row.person, row.user_agent) == (phone.PHONE, crew, "Mobile" + "x" * 194)


@pytest.mark.parametrize("name", ["", "none", str(phone.PHONE) + "0", "a\0b"])
def test_a_phone_that_does_not_say_which_it_is_gets_nothing(crew_client, name):
    answer = data(crew_client, name)
    assert answer.status_code == 400
    assert answer.json()["reason"] == "The phone did not say which one it is."
    assert not Phone.objects.exists()


@pytest.fixture
def revoked(crew_client, owner):
    data(crew_client)
    row = Phone.objects.get()
    actions.revoke_phone(phone=row, by=owner, at=people.FIXED_NOW)
    return row


def test_a_revoked_phone_is_signed_out_wherever_it_goes_next(crew_client, crew, revoked, line):
    answer = phone.send(crew_client, crew, phone.check(line))
    assert (answer.status_code, answer.json()) == (403, {"reason": "revoked"})
    # From then on it is a stranger: its session is gone.
    assert phone.send(crew_client, crew, phone.check(line)).status_code == 401
    assert crew_client.get(WHOAMI).json()["person"] is None
    assert not LeakCheck.objects.exists()


def test_a_revoked_phone_sees_no_page_of_the_desk_either(crew_client, revoked):
    answer = crew_client.get(reverse("field:check"))
    assert answer.status_code == 302
    assert reverse("operation:sign_in") in answer["Location"]


def test_signing_in_again_on_a_revoked_phone_does_not_help(crew_client, crew, revoked, line):
    for ask in (data, lambda client: phone.send(client, crew, phone.check(line))):
        crew_client.force_login(crew)
        answer = ask(crew_client)
        assert (answer.status_code, answer.json()) == (403, {"reason": "revoked"})
    assert (data(Client()).status_code, Receipt.objects.count()) == (403, 0)


def test_another_phone_of_the_same_person_goes_on(crew, revoked, line):
    client = Client()
    client.force_login(crew)
    other = "1" + str(phone.PHONE)[1:]
    assert data(client, other).status_code == 200
    assert phone.answers(phone.send(client, crew, phone.check(line), phone=other)) == ["accepted"]


def test_a_phone_that_was_found_is_taken_in_again(crew_client, crew, owner, revoked, line):
    actions.allow_phone(phone=revoked, by=owner)
    crew_client.force_login(crew)
    assert data(crew_client).status_code == 200
    assert phone.answers(phone.send(crew_client, crew, phone.check(line))) == ["accepted"]


@pytest.mark.parametrize("act", ["revoke", "allow"])
def test_only_an_owner_says_which_phones_are_taken_in(crew, revoked, act):
    calls = {
        "revoke": lambda: actions.revoke_phone(phone=revoked, by=crew, at=people.FIXED_NOW),
        "allow": lambda: actions.allow_phone(phone=revoked, by=crew),
    }
    with pytest.raises(actions.NotForCrew):
        calls[act]()


def test_a_phone_revoked_twice_stays_with_who_did_it_first(owner, revoked):
    second = people.owner("wren")
    actions.revoke_phone(phone=revoked, by=second, at=people.FIXED_NOW)
    revoked.refresh_from_db()
    assert revoked.revoked_by == owner


def test_a_revoked_phone_leaves_no_sign_of_a_later_visit(client, crew, revoked):
    before = Phone.objects.values().get()
    client.force_login(people.crew("wren"))
    data(client)
    phone.send(client, crew, phone=str(phone.PHONE))
    assert Phone.objects.values().get() == before


# --- tokens ----------------------------------------------------------------------------------


@pytest.fixture
def strict(crew, fixed_clock):
    """A browser: the token is asked for, and cookies are kept."""
    client = Client(enforce_csrf_checks=True)
    client.force_login(crew)
    return client


def post(client, person, line, token, sent=None):
    body = phone.post_of(person, sent or phone.check(line))
    return phone.send_body(client, body, **({"X-CSRFToken": token} if token else {}))


@pytest.mark.parametrize("address", [WHOAMI, DATA + f"?phone={phone.PHONE}"])
def test_the_cookies_token_is_enough_after_either_question(strict, crew, line, address):
    strict.get(address)
    token = strict.cookies["csrftoken"].value
    assert phone.answers(post(strict, crew, line, token)) == ["accepted"]


@pytest.mark.parametrize("token", [None, "x" * 32], ids=["none", "stale"])
def test_a_missing_or_stale_token_is_told_in_json_and_a_fresh_one_mends_it(
    strict, crew, line, token
):
    strict.get(WHOAMI)
    answer = post(strict, crew, line, token)
    assert (answer.status_code, answer.json()) == (403, {"reason": "csrf"})
    strict.get(WHOAMI)
    answer = post(strict, crew, line, strict.cookies["csrftoken"].value)
    assert phone.answers(answer) == ["accepted"]


def test_a_photo_needs_the_token_too(strict):
    address = reverse("field:photo_intake", args=[phone.PHONE])
    answer = strict.put(address, b"x", content_type="application/octet-stream")
    assert (answer.status_code, answer.json()) == (403, {"reason": "csrf"})


def test_everybody_else_is_shown_a_page(strict):
    answer = strict.post(reverse("field:check"), {})
    assert answer.status_code == 403
    assert answer["Content-Type"].startswith("text/html")


# --- what is no post at all ------------------------------------------------------------------


WHOLE = [
    (b"", 400),
    (b"{", 400),
    (b"[]", 400),
    (b"\xff\xfe{\x00}\x00", 400),
    (b'{"format": 1}', 400),
    (b"[" * 100_000, 400),
    (b'{"format": 1, "format": 1, "records": []}', 400),
    (b'{"format": 2, "records": []}', 400),
    (b'{"format": true, "records": []}', 400),
    (b" " * (256 * 1024 + 1), 413),
]


@pytest.mark.parametrize(("body", "status"), WHOLE, ids=lambda value: str(value)[:30])
def test_what_is_no_post_is_refused_whole_with_a_reason(crew_client, body, status):
    answer = phone.send_body(crew_client, body)
    assert answer.status_code == status
    assert answer.json()["reason"].endswith(".")
    assert not Receipt.objects.exists()


@pytest.mark.parametrize("missing", ["phone", "person", "now"])
def test_a_post_must_say_which_phone_who_and_when(crew_client, crew, missing):
    body = phone.post_of(crew)
    del body[missing]
    assert phone.send_body(crew_client, body).status_code == 400


def test_more_than_a_hundred_records_are_too_many(crew_client, crew, line):
    answer = phone.send(crew_client, crew, *[phone.check(line) for _ in range(101)])
    assert (answer.status_code, answer.json()) == (
        413,
        {"reason": "At most 100 records in one post."},
    )


@pytest.mark.parametrize(
    "content_type",
    ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x", ""],
)
def test_only_json_is_read(crew_client, crew, content_type):
    body = json.dumps(phone.post_of(crew))
    answer = crew_client.post(phone.RECORDS, body, content_type=content_type)
    assert answer.status_code == 400


@pytest.mark.parametrize("method", ["get", "put", "delete"])
def test_records_are_posted_and_nothing_else(crew_client, method):
    assert getattr(crew_client, method)(phone.RECORDS).status_code == 405

"""The owner's page of phones: who has one, in words; a lost one shut out; clocks to look at."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.urls import reverse

from apps.field import phones as queries
from apps.field.models import Phone, Receipt
from tests.factories import leaks
from tests.factories import operation as people
from tests.factories import phone as sender

pytestmark = pytest.mark.django_db
URL = reverse("field:phones")
SOME_SECONDS, MINUTE = 1_000, 60_000
SAFARI = (
    "Mozilla/5.0 (iPhone; CPU iPhone OS 18_1 like Mac OS X) AppleWebKit/605.1.15 (KHTML, like "
    "Gecko) Version/18.1 Mobile/15E148 Safari/604.1"
)


def a_phone(person, *, hours=1.0, **fields):
    at = people.FIXED_NOW - timedelta(hours=hours)
    given = {"uuid": uuid4(), "person": person, "added_at": at, "seen_at": at}
    return Phone.objects.create(**given | {"user_agent": SAFARI} | fields)


def receipt(phone, *, offset_ms=0, certain=True, hours=1.0):
    observed = people.FIXED_NOW - timedelta(hours=hours)
    return Receipt.objects.create(
        uuid=uuid4(),
        kind="check",
        phone=phone,
        crew=phone.person,
        sent_by=phone.person,
        device_at=observed - timedelta(milliseconds=offset_ms),
        clock_offset_ms=offset_ms,
        clock_method="steady",
        time_is_certain=certain,
        observed_at=observed,
        received_at=people.FIXED_NOW - timedelta(hours=hours),
        digest="ab" * 32,
        payload={},
    )


@pytest.fixture
def sol(owner):
    return people.crew("sol")


def text_of(reply):
    return " ".join(reply.content.decode().split())


def do(client, what, phone, method="post"):
    address = reverse(f"field:phone_{what}", args=[phone.uuid])
    return getattr(client, method)(address)


CHROME = "Mozilla/5.0 (Linux; Android 10; K) AppleWebKit/537.36 Chrome/140.0.0.0 Mobile Safari/537"
WINDOWS = "Mozilla/5.0 (Windows NT 10.0; Win64; x64) Chrome/140.0.0.0 Safari/537.36"


@pytest.mark.parametrize(
    ("user_agent", "words"),
    [
        (SAFARI, "iPhone, Safari"),
        (SAFARI.replace("Version/18.1", "CriOS/140.0"), "iPhone, Chrome"),
        (CHROME, "Android phone, Chrome"),
        (f"{CHROME} EdgA/140.0", "Android phone, Edge"),
        (f"{CHROME} SamsungBrowser/28.0", "Android phone, the maker's own browser"),
        ("Mozilla/5.0 (Android 15; Mobile; rv:143.0) Firefox/143.0", "Android phone, Firefox"),
        (f"{WINDOWS} OPR/120.0", "Windows, Opera"),
        ("Mozilla/5.0 (X11; Linux x86_64) Chrome/140.0 Safari/537.36", "Linux, Chrome"),
        ("Mozilla/5.0 (Macintosh; Intel Mac OS X 10_15_7) Safari/605.1.15", "Mac, Safari"),
        ("curl/8", "not known"),
        ("", "not known"),
    ],
)
def test_a_browser_is_told_in_words(user_agent, words):
    assert queries.browser_words(user_agent) == words


@pytest.mark.parametrize(
    ("offset_ms", "words"),
    [
        (0, "right"),
        (-400, "right"),
        (47 * MINUTE, "47 minutes slow"),
        (-47 * MINUTE, "47 minutes fast"),
        (-90 * SOME_SECONDS, "2 minutes fast"),
        (MINUTE, "1 minute slow"),
        (5 * SOME_SECONDS, "5 seconds slow"),
        (3 * 60 * MINUTE, "3 hours slow"),
        (-36 * 60 * MINUTE, "1.5 days fast"),
        (40 * 24 * 60 * MINUTE, "40 days slow"),
    ],
)
def test_how_far_a_clock_was_off_is_told_in_words(sol, offset_ms, words):
    flag = queries.ClockFlag(receipt(a_phone(sol), offset_ms=offset_ms))
    assert flag.offset_words == words


def test_phones_stand_with_the_one_seen_last_first(owner_client, sol, owner):
    older, newer = a_phone(sol, hours=30), a_phone(owner, hours=2, user_agent=CHROME)
    receipt(older)
    rows = owner_client.get(URL).context["rows"]
    assert [(phone, words) for phone, words in rows] == [
        (newer, "Android phone, Chrome"),
        (older, "iPhone, Safari"),
    ]
    assert [phone.records for phone, _ in rows] == [0, 1]


def test_the_page_tells_when_it_was_seen_and_that_waiting_is_unknown(owner_client, sol):
    a_phone(sol, hours=2)
    text = text_of(owner_client.get(URL))
    assert "16 Mar 2026, 05:00" in text
    assert "What still waits on a phone is known to that phone alone" in text


def test_without_phones_the_page_says_so(owner_client):
    text = text_of(owner_client.get(URL))
    assert "No phone has signed in yet" in text


@pytest.mark.parametrize(
    ("fields", "shown"),
    [
        ({"offset_ms": 5 * MINUTE + 1}, True),
        ({"offset_ms": -47 * MINUTE}, True),
        ({"certain": False}, True),
        ({"offset_ms": 5 * MINUTE}, False),
        ({"offset_ms": 0}, False),
        ({"offset_ms": 47 * MINUTE, "hours": 31 * 24}, False),
    ],
)
def test_clocks_over_five_minutes_off_or_uncertain_are_flagged(sol, fields, shown):
    row = receipt(a_phone(sol), **fields)
    flags = queries.clock_flags(people.FIXED_NOW)
    assert [flag.receipt for flag in flags] == ([row] if shown else [])


def test_a_flag_shows_both_clocks(owner_client, sol):
    receipt(a_phone(sol), offset_ms=47 * MINUTE, certain=False)
    text = text_of(owner_client.get(URL))
    for words in ("Check by Sol", "16 Mar 2026, 05:13", "16 Mar 2026, 06:00", "47 minutes slow"):
        assert words in text
    assert "uncertain</span>" in text


def test_a_check_from_a_slow_phone_is_flagged_when_it_comes_in(client, owner, sol, fixed_clock):
    """Through the intake itself: the phone says 10:13 when it is 11:00."""
    client.force_login(sol)
    line = leaks.a_line("L1")
    slow = sender.NOW_MS - 47 * MINUTE
    record = sender.check(line) | {"at": slow - 10 * MINUTE}
    assert sender.answers(sender.send(client, sol, record, now=slow)) == ["accepted"]
    (flag,) = queries.clock_flags(people.FIXED_NOW)
    assert flag.offset_words == "47 minutes slow"


def test_asking_to_shut_a_phone_out_does_nothing_yet(owner_client, sol):
    phone = a_phone(sol)
    text = text_of(do(owner_client, "revoke", phone, "get"))
    assert "Shut this phone out?" in text
    assert "Phone of Sol (iPhone, Safari)" in text
    phone.refresh_from_db()
    assert phone.revoked_at is None


def test_a_lost_phone_is_shut_out_by_the_owner(owner_client, owner, sol):
    phone = a_phone(sol)
    assert do(owner_client, "revoke", phone).url == URL
    phone.refresh_from_db()
    assert (phone.revoked_at, phone.revoked_by) == (people.FIXED_NOW, owner)
    text = text_of(owner_client.get(URL))
    assert "Phone of Sol is shut out and signed out." in text
    assert "Shut out</span> 16 Mar 2026 by Ina" in text


def test_a_phone_found_again_is_let_in(owner_client, owner, sol):
    phone = a_phone(sol, revoked_at=people.FIXED_NOW, revoked_by=owner)
    assert "Allow this phone again?" in text_of(do(owner_client, "allow", phone, "get"))
    do(owner_client, "allow", phone)
    phone.refresh_from_db()
    assert (phone.revoked_at, phone.revoked_by) == (None, None)


def test_the_person_on_a_lost_phone_is_signed_out_at_the_next_page(
    client, owner_client, owner, sol, fixed_clock
):
    other = type(client)()
    other.force_login(sol)
    phone = other.get(reverse("field:data"), {"phone": str(sender.PHONE)})
    assert phone.status_code == 200
    do(owner_client, "revoke", Phone.objects.get())
    assert other.get(reverse("field:sheets")).status_code == 302


@pytest.mark.parametrize("what", ["revoke", "allow"])
@pytest.mark.parametrize("method", ["get", "post"])
def test_crew_may_not(crew_client, crew, what, method):
    phone = a_phone(crew)
    assert do(crew_client, what, phone, method).status_code == 403
    phone.refresh_from_db()
    assert phone.revoked_at is None


def test_crew_do_not_see_the_page_nor_its_place_in_the_menu(crew_client):
    assert crew_client.get(URL).status_code == 403
    text = crew_client.get(reverse("field:phone_help")).content.decode()
    assert f'href="{URL}"' not in text


def test_owners_find_it_in_the_menu(owner_client):
    assert f'href="{URL}"' in owner_client.get(reverse("field:phone_help")).content.decode()


def test_an_unknown_phone_is_not_found(owner_client):
    address = reverse("field:phone_revoke", args=[uuid4()])
    assert owner_client.post(address).status_code == 404


@pytest.mark.parametrize("count", [1, 20])
def test_questions_do_not_grow_with_the_phones(
    owner_client, sol, count, django_assert_max_num_queries
):
    for _ in range(count):
        receipt(a_phone(sol), offset_ms=47 * MINUTE)
    with django_assert_max_num_queries(6) as seen:
        owner_client.get(URL)
    assert len(seen) == 6


def test_a_browser_that_calls_itself_a_script_stays_text(owner_client, sol):
    a_phone(sol, user_agent="<script>iPhone</script>")
    assert "<script>iPhone" not in owner_client.get(URL).content.decode()

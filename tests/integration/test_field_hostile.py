"""Thousands of malformed, hostile and absurd posts against the real endpoint.

Never an error of the server, never a row without its receipt nor a receipt without its row, and
every refusal names its record and its reason. `make soak` sends 10,000 posts.
"""

import json
import logging
import os

import pytest
from django.apps import apps
from django.test import Client
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from apps.field.models import Receipt
from apps.leaks.models import LeakCheck, PartUsed
from tests.factories import hostile, leaks, phone, pictures, sugarhouse, woods
from tests.factories import operation as people

pytestmark = pytest.mark.django_db

EXAMPLES = 10_000 if os.environ.get("THAWLINE_SOAK") else 150
ROWS = {
    "check": "leaks.LeakCheck",
    "tally": "tapping.TapTally",
    "pull": "tapping.TapPull",
    "dip": "sugarhouse.Dip",
    "gauge": "leaks.GaugeReading",
    "obstruction": "leaks.Obstruction",
    "clear": "leaks.Clearing",
    "note": "woods.Note",
}
CAMPAIGN = settings(
    max_examples=EXAMPLES,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)


@pytest.fixture
def ground(crew):
    line = leaks.a_line("L7", planned_taps=40)
    return hostile.Ground(
        person=crew.pk,
        line=line.pk,
        tank=sugarhouse.tank().pk,
        pump_house=woods.pump_house(line.woodlot).pk,
        woodlot=line.woodlot_id,
    )


@pytest.fixture
def browser(crew, fixed_clock):
    """Answers with what the server says, an error included."""
    logging.disable(logging.WARNING)
    client = Client(raise_request_exception=False)
    client.force_login(crew)
    yield client
    logging.disable(logging.NOTSET)


def tables():
    """How many rows every table has, but for phones and sessions, which any visit may add to."""
    models = [model for model in apps.get_models() if model.__module__.startswith("apps.")]
    counts = {model._meta.label: model.objects.count() for model in models}
    del counts["field.Phone"]
    return counts


def grown_by(answers):
    """What the accepted records among these answers must have added, and nothing besides."""
    taken = [one["uuid"] for one in answers if one["answer"] == "accepted"]
    receipts = list(Receipt.objects.filter(uuid__in=taken))
    assert len(receipts) == len(taken)
    grown = {"field.Receipt": len(taken)} if taken else {}
    for receipt in receipts:
        if receipt.kind in ROWS:
            label = ROWS[receipt.kind]
            grown[label] = grown.get(label, 0) + 1
    checks = LeakCheck.objects.filter(uuid__in=taken)
    left, parts = checks.filter(state="leak_left"), PartUsed.objects.filter(leak_check__in=checks)
    said = [len(r.payload.get("parts") or {}) for r in receipts if r.kind == "check"]
    assert parts.count() == sum(said)
    more = {"leaks.Leak": leaks_opened(left), "leaks.PartUsed": sum(said)}
    return grown | {label: count for label, count in more.items() if count}


def leaks_opened(left):
    # Taken back within its own post it never opened one, unless settled in between.
    return left.filter(opened_leak__isnull=False).count()


def assert_answers_are_whole(body, answers):
    sent = json.loads(body)["records"]
    assert len(answers) == len(sent)
    for n, (one, told) in enumerate(zip(sent, answers, strict=True)):
        assert told["answer"] in ("accepted", "had", "refused")
        assert told.get("uuid", n) == (one["uuid"] if "uuid" in told else told["n"])
        if told["answer"] == "refused":
            assert told["reason"].endswith(".")
            assert len(told["reason"].split()) >= 3
        else:
            assert "reason" not in told


def test_no_post_whatever_breaks_the_intake_or_leaves_half_a_record(browser, ground):
    # From one post to the next nothing else writes: each count serves twice.
    counted = [tables()]

    @CAMPAIGN
    @given(st.data())
    def campaign(data):
        body = data.draw(hostile.bodies(ground))
        before = counted[0]
        response = phone.send_body(browser, body)
        counted[0] = now = tables()
        assert response.status_code in (200, 400, 409, 413), response.content
        answers = []
        if response.status_code == 200:
            answers = response.json()["answers"]
            assert_answers_are_whole(body, answers)
        else:
            assert response.json()["reason"]
        assert {k: now[k] - before[k] for k in now if now[k] != before[k]} == grown_by(answers)

    campaign()


def test_the_campaign_sends_what_is_taken_as_well_as_what_is_not(browser, ground):
    """A campaign of posts that are all refused alike would prove nothing."""
    seen = {}

    @settings(CAMPAIGN, max_examples=80, derandomize=True)
    @given(st.data())
    def campaign(data):
        response = phone.send_body(browser, data.draw(hostile.bodies(ground)))
        if response.status_code == 200:
            for one in response.json()["answers"]:
                seen[one["answer"]] = seen.get(one["answer"], 0) + 1
        seen[response.status_code] = seen.get(response.status_code, 0) + 1

    campaign()
    assert min(seen.get(word, 0) for word in ("accepted", "refused", 200, 400)) >= 5
    assert seen.get("had", 0) >= 1


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_no_bytes_whatever_break_the_photos(browser, crew, settings, tmp_path, kind):
    settings.MEDIA_ROOT = tmp_path
    check = leaks.check(leaks.a_line(), crew=crew)
    whole = pictures.picture(kind, size=(24, 24))

    @CAMPAIGN
    @given(st.integers(0, len(whole)), st.binary(max_size=12), st.integers(0, 40))
    def campaign(at, put, cut):
        data = whole[:at] + put + whole[at + cut :]
        answer = pictures.Upload(browser, check.uuid, data or b"x").whole()
        assert answer.status_code in (200, 422)
        assert answer.json().get("done") or answer.json()["reason"].endswith(".")

    campaign()
    assert check.photos.count() == len([path for path in tmp_path.rglob("*") if path.is_file()])


def test_a_thief_of_identifiers_overwrites_nothing(browser, ground):
    """The uuids of others' records, sent with other content under every kind."""
    marek = people.crew("marek")
    row = leaks.check(leaks.a_line("L9"), "leak_left", crew=marek)
    before = LeakCheck.objects.filter(pk=row.pk).values().get()

    @settings(CAMPAIGN, max_examples=40)
    @given(hostile.right_records(ground))
    def campaign(record):
        body = phone.post_of(hostile._Person(ground.person), record | {"uuid": str(row.uuid)})
        response = phone.send_body(browser, body)
        assert response.status_code in (200, 400)
        assert LeakCheck.objects.filter(pk=row.pk).values().get() == before

    campaign()

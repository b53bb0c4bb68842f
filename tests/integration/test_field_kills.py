"""The server killed while a phone sends to it: no record lost, none doubled, no half of one.

Ten kills here, two hundred in `make soak`.
"""

import os
import random
from collections import Counter
from hashlib import sha256

import pytest
from django.test import Client

from apps.field.models import Receipt
from apps.leaks.models import Leak, LeakCheck, PartUsed, Photo
from apps.tapping.models import TapTally
from tests.factories import leaks
from tests.factories import operation as people
from tests.soak import kills

pytestmark = pytest.mark.django_db(transaction=True)

KILLS = 200 if os.environ.get("THAWLINE_SOAK") else 10


@pytest.fixture
def phone():
    people.operation()
    sol = people.crew()
    client = Client()
    client.force_login(sol)
    line = leaks.a_line("L7", planned_taps=40)
    session = client.cookies["sessionid"].value
    return kills.StubbornPhone(sol.pk, line.pk, session, random.Random(20260316))


def test_a_server_killed_at_random_moments_loses_nothing_and_doubles_nothing(phone, tmp_path):
    kills.campaign(phone, tmp_path, KILLS)
    kills.say(
        f"{KILLS} kills: {len(phone.sent)} records and {len(phone.photos)} photos, "
        f"{phone.unanswered} sendings without an answer, {phone.had} records had before."
    )
    # Enough kills fell into the sending, and some after a commit that nobody heard of.
    assert phone.unanswered >= KILLS // 3
    assert phone.had >= 1
    assert_all_there_once(phone)
    assert_rows_are_whole(phone)
    assert_photos_are_whole(phone, tmp_path / "photos")


def assert_all_there_once(phone):
    sent = Counter(one["uuid"] for one in phone.sent)
    assert Counter(str(uuid) for uuid in Receipt.objects.values_list("uuid", flat=True)) == sent
    rows = [*LeakCheck.objects.values_list("uuid"), *TapTally.objects.values_list("uuid")]
    own = Counter(one["uuid"] for one in phone.sent if one["kind"] != "void")
    assert Counter(str(uuid) for (uuid,) in rows) == own


def assert_rows_are_whole(phone):
    """A receipt, its row, the row's parts and its leak were written together or not at all."""
    checks = [one for one in phone.sent if one["kind"] == "check"]
    used = PartUsed.objects.values_list("leak_check__uuid", "part", "count")
    said = {(one["uuid"], part, n) for one in checks for part, n in one["parts"].items()}
    assert sorted((str(uuid), part, n) for uuid, part, n in used) == sorted(said)
    left = {one["uuid"] for one in checks if one["state"] == "leak_left"}
    assert {str(leak.opened_by.uuid) for leak in Leak.objects.select_related("opened_by")} == left
    taken_back = {one["of"] for one in phone.sent if one["kind"] == "void"}
    voided = LeakCheck.objects.filter(voided=True).values_list("uuid", flat=True)
    assert {str(uuid) for uuid in voided} == taken_back


def assert_photos_are_whole(phone, folder):
    rows = {str(row.uuid): row for row in Photo.objects.select_related("leak_check")}
    assert rows.keys() == {photo.uuid for photo in phone.photos}
    for photo in phone.photos:
        row = rows[photo.uuid]
        assert (folder / row.file_name).read_bytes() == photo.data
        assert (row.sha256, str(row.leak_check.uuid)) == (
            sha256(photo.data).hexdigest(),
            photo.of,
        )
    files = [path for path in folder.rglob("*") if path.is_file()]
    assert len(files) == len(phone.photos)

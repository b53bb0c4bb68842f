"""What a phone would post, and the clocks it would have read."""

import json
from datetime import timedelta
from uuid import UUID, uuid4

from django.urls import reverse

from tests.factories import operation as people

PHONE = UUID("0d9f2a52-7c1e-4c55-9a0e-0f6f3e6f8a11")
BOOT = "ab12cd"
RECORDS = reverse("field:records")
NOW_MS = round(people.FIXED_NOW.timestamp() * 1000)
MINUTE = 60_000
HOUR = 60 * MINUTE
# The timer of the page that sends, at the moment of sending.
MONO_NOW = 10 * HOUR


def record(kind="check", *, minutes_ago=10.0, **fields) -> dict:
    """Saved on a right clock by the page that sends it, unless told otherwise."""
    ago = round(minutes_ago * MINUTE)
    clocks = {"at": NOW_MS - ago, "mono": MONO_NOW - ago, "boot": BOOT}
    return {"uuid": str(uuid4()), "kind": kind} | clocks | fields


def check(line, state="tight", **fields) -> dict:
    return record("check", line=line.pk, state=state, **fields)


def post_of(person, *records, **fields) -> dict:
    whole = {
        "format": 1,
        "phone": str(PHONE),
        "person": person.pk,
        "now": NOW_MS,
        "mono": MONO_NOW,
        "boot": BOOT,
        "anchors": [],
        "records": list(records),
    }
    return whole | fields


def send(client, person, *records, **fields):
    """The answer to one post; a client that enforces it brings its own token."""
    return send_body(client, post_of(person, *records, **fields))


def send_body(client, body, **headers):
    data = body if isinstance(body, (bytes, str)) else json.dumps(body)
    return client.post(RECORDS, data, content_type="application/json", headers=headers or None)


def answers(response) -> list[str]:
    assert response.status_code == 200, response.content
    return [one["answer"] for one in response.json()["answers"]]


def refused(response) -> dict:
    """The one record of a post, which must have been refused."""
    assert response.status_code == 200, response.content
    (only,) = response.json()["answers"]
    assert only["answer"] == "refused"
    return only


def before_sending(**ago) -> object:
    """A moment before the post, as the rows keep it."""
    return people.FIXED_NOW - timedelta(**ago)

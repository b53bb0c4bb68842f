"""What crosses a weak signal: one check, and fifty in one go, headers included.

The headers are those that Chromium 156 sent with such a fetch over HTTP/1.1 when it was asked to
be a phone, as a server wrote them down; the browser test counts the bytes of a real one.
"""

import json
from uuid import uuid4

import pytest

from tests.factories import leaks, phone

pytestmark = pytest.mark.django_db

HEADERS = {
    "Host": "sugarhouse.example:8443",
    "Connection": "keep-alive",
    "Content-Length": "1234",
    "Pragma": "no-cache",
    "Cache-Control": "no-cache",
    "sec-ch-ua-platform": '"Android"',
    "X-CSRFToken": "x" * 32,
    "User-Agent": "Mozilla/5.0 (Linux; Android 10; K) AppleWebKit/537.36 (KHTML, like Gecko) "
    "Chrome/156.0.0.0 Mobile Safari/537.36",
    "sec-ch-ua": '"Chromium";v="156", "Not?A_Brand";v="24"',
    "Content-Type": "application/json",
    "sec-ch-ua-mobile": "?1",
    "Accept": "*/*",
    "Origin": "https://sugarhouse.example:8443",
    "Sec-Fetch-Site": "same-origin",
    "Sec-Fetch-Mode": "cors",
    "Sec-Fetch-Dest": "empty",
    "Referer": "https://sugarhouse.example:8443/field/check/",
    "Accept-Encoding": "gzip, deflate, br, zstd",
    "Accept-Language": "en-US,en;q=0.9",
    "Cookie": f"csrftoken={'x' * 32}; sessionid={'x' * 32}",
}


def head_bytes():
    lines = ["POST /field/records/ HTTP/1.1", *[f"{k}: {v}" for k, v in HEADERS.items()]]
    return len("\r\n".join(lines).encode()) + 4


def post(crew, records):
    """As the phone writes it: without blanks, a moment of the server's time before and after."""
    moment = [phone.NOW_MS, 36_000_123, "ab12cd", phone.NOW_MS, 0]
    body = phone.post_of(crew, *records, anchors=[moment, moment])
    return json.dumps(body, separators=(",", ":"))


@pytest.fixture
def check(crew):
    line = leaks.a_line("L7")

    def make():
        sent = phone.check(line, "leak_fixed")
        # A line's number as a large operation has it.
        return sent | {"line": 12_345}

    return make


def test_one_check_takes_1_3_kb_up(crew, check):
    assert head_bytes() + len(post(crew, [check()])) <= 1300


def test_fifty_checks_in_one_go_take_9_kb_up(crew, check):
    assert head_bytes() + len(post(crew, [check() for _ in range(50)])) <= 9_000


def test_the_answer_to_fifty_takes_4_kb_down(crew_client, crew):
    line = leaks.a_line("L7")
    body = post(crew, [phone.check(line, minutes_ago=n + 1) for n in range(50)])
    response = phone.send_body(crew_client, body, **{"accept-encoding": "gzip"})
    head = sum(len(name) + len(str(value)) + 4 for name, value in response.headers.items())
    assert response["Content-Encoding"] == "gzip"
    assert head + len(response.content) <= 4_000


def test_a_hundred_long_records_fit_one_post(crew, check):
    full = {"note": "x" * 500, "parts": {"tee": 2}, "pos": [43.91234, -75.31234, 12]}
    body = post(crew, [check() | full | {"uuid": str(uuid4())} for _ in range(100)])
    assert len(body) <= 256 * 1024

"""Posts that no phone of ours would send: malformed, hostile, absurd, and some that are right."""

import json
from dataclasses import dataclass
from uuid import uuid4

from hypothesis import strategies as st

from tests.factories import phone

HUGE = st.sampled_from([2**31, 2**53 + 1, 2**63, -(2**63), 10**30, -1, 0, 1])
ODD_NUMBERS = st.one_of(HUGE, st.floats(), st.booleans(), st.integers(-10, 6000))
ODD_TEXTS = st.one_of(
    # Surrogates and NUL among them, which JSON can spell and no database can hold.
    st.text(st.characters(exclude_categories=[]), max_size=40),
    st.sampled_from(["", " ", "\0", "\ud800", "x" * 600, "x" * 9000, "'; DROP TABLE x; --"]),
    st.sampled_from(["NaN", "1e999", "../../etc/passwd", "<script>", "%s%n", "tight", "null"]),
)
ODD = st.recursive(
    st.one_of(st.none(), ODD_NUMBERS, ODD_TEXTS, st.uuids().map(str)),
    lambda inner: st.one_of(
        st.lists(inner, max_size=4), st.dictionaries(ODD_TEXTS, inner, max_size=4)
    ),
    max_leaves=12,
)
BOMBS = st.sampled_from([50, 500, 3000]).map(lambda deep: "[" * deep + "]" * deep)
KEYS = ["uuid", "kind", "at", "mono", "boot", "by", "pos", "line", "state", "before_kpa"]
KEYS += ["after_kpa", "drops", "cause", "note", "parts", "of", "taps", "finishes", "tank"]
KEYS += ["depth_mm", "pump_house", "vacuum_kpa", "work", "text", "woodlot", "unknown"]
POST_KEYS = ["format", "phone", "person", "now", "mono", "boot", "anchors", "records", "more"]


@dataclass(frozen=True)
class Ground:
    """What true records may speak of."""

    person: int
    line: int
    tank: int
    pump_house: int
    woodlot: int


def right_records(ground: Ground):
    """Records that may well be taken, each of its kind; what they are about may never have come."""
    line = {"line": st.just(ground.line)}
    of = {"of": st.uuids(version=4).map(str)}
    kinds = {
        "check": line
        | {
            "state": st.sampled_from(["tight", "leak_fixed", "leak_left", "frozen"]),
            "cause": st.sampled_from(["tee", None]),
            "before_kpa": st.one_of(st.none(), st.floats(0, 120)),
            "parts": st.dictionaries(st.sampled_from(["tee", "drop"]), st.integers(1, 9)),
            "note": ODD_TEXTS,
        },
        "tally": line | {"taps": st.integers(0, 90), "finishes": st.booleans()},
        "pull": line | {"taps": st.integers(0, 90), "finishes": st.booleans()},
        "dip": {"tank": st.just(ground.tank), "depth_mm": st.floats(0, 1200)},
        "gauge": {"pump_house": st.just(ground.pump_house), "vacuum_kpa": st.floats(0, 130)},
        "obstruction": line | {"work": st.sampled_from(["hands", "hung", "dance"])},
        "note": {"text": ODD_TEXTS, "woodlot": st.sampled_from([ground.woodlot, 0, None])},
        "void": of,
        "after": of | {"after_kpa": st.floats(0, 120)},
        "clear": of,
    }
    return st.one_of(*[_record(kind, fields) for kind, fields in kinds.items()])


def _record(kind, fields):
    stamps = {"at": st.integers(-(10**9), 10**7).map(lambda ms: phone.NOW_MS + ms)}
    known = {"uuid": st.builds(lambda: str(uuid4())), "kind": st.just(kind)}
    return st.fixed_dictionaries(known | stamps | fields)


@st.composite
def records(draw, ground: Ground):
    """A record that is right, or had up to three of its values exchanged, or none at all."""
    if draw(st.integers(0, 9)) == 0:
        return draw(ODD)
    record = draw(right_records(ground))
    changes = draw(st.dictionaries(st.sampled_from(KEYS), ODD, max_size=3))
    return record | draw(st.sampled_from([{}, changes]))


@st.composite
def bodies(draw, ground: Ground):
    """The bytes of a post: its records, at times its own values too, and at times torn apart."""
    sent = draw(st.lists(records(ground), max_size=6))
    # What was sent a moment ago in the same post: the same again, or taken back.
    for one in [one for one in sent if isinstance(one, dict)][:2]:
        sent += draw(st.sampled_from([[], [one], [phone.record("void", of=one.get("uuid"))]]))
    post = phone.post_of(_Person(ground.person), *sent)
    if draw(st.integers(0, 4)) == 0:
        post |= draw(st.dictionaries(st.sampled_from(POST_KEYS), ODD, max_size=2))
    body = json.dumps(post).encode()
    return draw(_torn(body)) if draw(st.integers(0, 6)) == 0 else body


@dataclass(frozen=True)
class _Person:
    pk: int


@st.composite
def _torn(draw, body: bytes):
    at = draw(st.integers(0, len(body)))
    put = draw(st.one_of(st.binary(max_size=8), BOMBS.map(str.encode)))
    return body[:at] + put + body[at + draw(st.integers(0, 30)) :]

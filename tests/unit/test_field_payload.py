"""A phone's post, read strictly: by field, by type, by limit, and never by halves."""

import json
from uuid import UUID, uuid4

import pytest

from apps.domain.phone_clock import LAST_MS, Clocks
from apps.field import payload
from apps.field.payload import strict_json
from apps.field.payload.fields import BadField, Fields

NOW = 1_773_658_800_000
PHONE = "0d9f2a52-7c1e-4c55-9a0e-0f6f3e6f8a11"
OF = "5b0ddf1e-1f6f-4d1e-8b56-2f3cf0f5a0aa"


def post(*records, **fields):
    whole = {"format": 1, "phone": PHONE, "person": 2, "now": NOW, "records": list(records)}
    return payload.read_post(json.dumps(whole | fields).encode())


def record(kind="check", **fields):
    return {"uuid": str(uuid4()), "kind": kind, "at": NOW - 1000} | fields


def read(kind="check", **fields):
    (one,) = post(record(kind, **fields)).records
    return one


def raw(text):
    """A record spelled out, for what Python would not write."""
    uuid, at = uuid4(), NOW
    body = f'{{"uuid": "{uuid}", "kind": "check", "at": {at}, "line": 1, "state": "tight", {text}}}'
    whole = f'"phone": "{PHONE}", "person": 2, "now": {NOW}, "records": [{body}]'
    (one,) = payload.read_post(f'{{"format": 1, {whole}}}'.encode()).records
    return one


def test_a_post_says_whose_it_is_and_when():
    told = post(mono=5, boot="ab12cd")
    assert (told.phone, told.person, told.records) == (UUID(PHONE), 2, ())
    assert told.now == Clocks(NOW, 5, "ab12cd")


READ = {
    "check": (
        {
            "line": 3,
            "state": "leak_fixed",
            "before_kpa": 60,
            "after_kpa": 82.5,
            "drops": 7,
            "cause": "tee",
            "note": "  by the oak ",
            "parts": {"tee": 2, "drop": 1},
        },
        payload.Check(
            3, "leak_fixed", 60.0, 82.5, 7, "tee", "by the oak", (("drop", 1), ("tee", 2))
        ),
    ),
    "void": ({"of": OF}, payload.Void(UUID(OF))),
    "after": ({"of": OF, "after_kpa": 80}, payload.After(UUID(OF), 80.0)),
    "tally": (
        {"line": 3, "taps": 40, "drops": 2, "finishes": True, "note": "n"},
        payload.Tally(3, 40, 2, True, "n"),
    ),
    "pull": ({"line": 3, "taps": 0, "finishes": True}, payload.Pull(3, 0, True, "")),
    "dip": ({"tank": 1, "depth_mm": 0}, payload.Dip(1, 0.0)),
    "gauge": ({"pump_house": 1, "vacuum_kpa": 120}, payload.Gauge(1, 120.0, "")),
    "obstruction": (
        {"line": 3, "work": "hands", "drops": 0},
        payload.Obstruction(3, "hands", 0, ""),
    ),
    "clear": ({"of": OF}, payload.Clear(UUID(OF))),
    "note": ({"text": "Bridge out.", "woodlot": 4}, payload.Note("Bridge out.", None, 4)),
}


@pytest.mark.parametrize("kind", READ)
def test_every_kind_is_read_into_its_own_form(kind):
    said, body = READ[kind]
    one = read(kind, **said)
    assert (one.kind, one.body, one.by, one.place) == (kind, body, None, None)
    assert one.clocks == Clocks(NOW - 1000)


def test_what_every_record_may_say_besides():
    one = read("clear", of=OF, by=9, mono=12, boot="xy", pos=[43.9, -75.3, 12])
    assert (one.by, one.clocks) == (9, Clocks(NOW - 1000, 12, "xy"))
    assert one.place == payload.Place(43.9, -75.3, 12.0)


@pytest.mark.parametrize("fields", [{"mono": 12}, {"boot": ""}, {"boot": "  ", "mono": 1}], ids=str)
def test_a_timer_without_its_page_load_is_no_timer(fields):
    assert read("clear", of=OF, **fields).clocks == Clocks(NOW - 1000)


def test_null_is_not_said():
    one = read(line=1, state="tight", before_kpa=None, parts=None, note=None, by=None, pos=None)
    assert one.body == payload.Check(1, "tight", None, None, None, "", "", ())


def test_a_key_nobody_knows_is_kept_with_what_was_sent():
    one = read("clear", of=OF, colour={"of": ["snow"]})
    assert one.sent["colour"] == {"of": ["snow"]}
    assert one.body == payload.Clear(UUID(OF))


# field, what is sent in its place
CHECK = {"line": 1, "state": "tight"}
BAD = [
    ("check", CHECK, "line", [None, "1", 1.0, True, 0, -1, 2**31, [1], {}]),
    ("check", CHECK, "state", [None, 1, "", "x" * 21, ["tight"]]),
    ("check", CHECK, "before_kpa", [-0.1, 120.1, "60", True, [60]]),
    ("check", CHECK, "after_kpa", [-0.1, 120.1, "60", False, {}]),
    ("check", CHECK, "drops", [-1, 5001, 1.5, "3", True]),
    ("check", CHECK, "cause", [1, "", "x" * 21, []]),
    ("check", CHECK, "note", [1, True, ["x"], "x" * 501]),
    ("check", CHECK, "parts", [[], "tee", {"tee": 0}, {"tee": 100}, {"tee": 1.0}, {"tee": True}]),
    ("check", CHECK, "parts", [{"": 1}, {"x" * 21: 1}, {f"p{n}": 1 for n in range(21)}]),
    ("check", CHECK, "by", ["2", 0, 2.0, True]),
    ("check", CHECK, "at", [None, "now", NOW + 0.5, -1, LAST_MS + 1, True]),
    ("check", CHECK, "mono", [-1, 1.5, "1", LAST_MS + 1]),
    ("check", CHECK, "boot", [1, "x" * 21]),
    ("check", CHECK, "pos", [{}, [], [1, 2], [1, 2, 3, 4], ["1", 2, 3], [91, 0, 1], [-91, 0, 1]]),
    ("check", CHECK, "pos", [[0, 181, 1], [0, -181, 1], [0, 0, -1], [0, 0, 100_001], [0, True, 1]]),
    ("check", CHECK, "uuid", [None, 1, "", OF[:-1], OF + "0", OF.replace("-", ""), f"{{{OF}}}"]),
    ("check", CHECK, "kind", [None, 1, "", "song", ["check"], "x" * 21]),
    ("void", {}, "of", [None, 1, "x", OF + " "]),
    ("after", {"of": OF}, "after_kpa", [None, "80", -1, 121]),
    ("tally", {"line": 1, "taps": 1}, "taps", [None, -1, 20_001, 1.5]),
    ("tally", {"line": 1, "taps": 1}, "drops", [-1, 20_001]),
    ("tally", {"line": 1, "taps": 1}, "finishes", [1, 0, "yes", []]),
    ("tally", {"line": 1, "taps": 1}, "note", ["x" * 201]),
    ("pull", {"line": 1, "taps": 1}, "taps", [None, -1, 20_001]),
    ("dip", {"tank": 1, "depth_mm": 1}, "depth_mm", [None, -1, 20_001, "5"]),
    ("dip", {"tank": 1, "depth_mm": 1}, "tank", [None, 0]),
    ("gauge", {"pump_house": 1, "vacuum_kpa": 1}, "vacuum_kpa", [None, -1, 121]),
    ("gauge", {"pump_house": 1, "vacuum_kpa": 1}, "pump_house", [None, 0]),
    ("obstruction", {"line": 1, "work": "hands"}, "work", [None, 3]),
    ("obstruction", {"line": 1, "work": "hands"}, "drops", [-1, 5001]),
    ("clear", {}, "of", [None, "x"]),
    ("note", {"text": "x"}, "text", [None, "", "   ", 1, "x" * 2001]),
    ("note", {"text": "x"}, "line", [0, "1"]),
    ("note", {"text": "x"}, "woodlot", [0, "1"]),
]
EACH = [(kind, given, key, value) for kind, given, key, values in BAD for value in values]


@pytest.mark.parametrize(("kind", "given", "key", "value"), EACH, ids=lambda value: str(value)[:40])
def test_a_value_of_the_wrong_kind_is_refused_by_its_field(kind, given, key, value):
    one = read(**({"kind": kind} | given | {key: value}))
    assert isinstance(one, payload.Unreadable)
    assert one.field == key
    assert one.reason.endswith(".")
    assert len(one.reason.split()) >= 3


HEDGES = [
    ("line", 2**31 - 1),
    ("before_kpa", 0),
    ("before_kpa", 120),
    ("drops", 5000),
    ("note", "x" * 500),
    ("parts", {f"p{n}": 99 for n in range(20)}),
    ("pos", [90, 180, 100_000]),
    ("pos", [-90, -180, 0]),
    ("at", 0),
    ("at", LAST_MS),
    ("uuid", OF.upper()),
]


@pytest.mark.parametrize(("key", "value"), HEDGES, ids=lambda value: str(value)[:40])
def test_a_value_at_its_limit_is_taken(key, value):
    assert isinstance(read(**CHECK | {key: value}), payload.Record)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('"note": "\\u0000"', "characters that cannot be kept"),
        ('"note": "\\ud800"', "characters that cannot be kept"),
        ('"unknown": "\\udfff x"', "characters that cannot be kept"),
        ('"\\u0000": 1', "characters that cannot be kept"),
        ('"unknown": ["\\u0000"]', "characters that cannot be kept"),
        ('"before_kpa": NaN', "NaN is no number"),
        ('"before_kpa": Infinity', "Infinity is no number"),
        ('"unknown": -Infinity', "-Infinity is no number"),
        ('"before_kpa": 1e999', "too large"),
        (f'"drops": {"9" * 5000}', "too large"),
        ('"drops": 9007199254740993', "too large"),
        ('"unknown": -9007199254740993', "too large"),
        ('"line": 1', "The same name stands in it twice"),
        ('"parts": {"tee": 1, "tee": 2}', "The same name stands in it twice"),
        (f'"unknown": {"[" * 5}{"]" * 5}', "nested more than 4 levels"),
        (f'"unknown": {"[" * 500}{"]" * 500}', "nested more than 4 levels"),
        (f'"unknown": "{"x" * 9000}"', "too long"),
    ],
    ids=lambda value: value[:30],
)
def test_what_no_row_could_hold_is_refused_with_its_record_alone(text, words):
    one = raw(text)
    assert isinstance(one, payload.Unreadable)
    assert words in one.reason
    assert one.reason.endswith(".")


@pytest.mark.parametrize("one", [None, 7, "x", [], [{}], True])
def test_what_is_no_object_is_no_record(one):
    (found,) = post(one).records
    assert found == payload.Unreadable("", "", "This is no record.")


@pytest.mark.parametrize("emoji", ["\U0001f341 maple", "Érable à sucre", "a\tb\nc"])
def test_any_language_may_be_noted(emoji):
    assert read("note", text=emoji).body.text == emoji


def test_a_refused_record_keeps_the_name_it_was_sent_under():
    one = read(**CHECK | {"uuid": OF.upper(), "drops": -1})
    assert (one.uuid, one.field) == (OF.upper(), "drops")
    assert read(**CHECK | {"uuid": 5}).uuid == ""


# --- the same and not the same ---------------------------------------------------------------


def digest(seen_by=2, **fields):
    return read(**{"uuid": OF, "line": 1, "state": "tight", "before_kpa": 60} | fields).digest(
        seen_by
    )


@pytest.mark.parametrize(
    "fields",
    [{}, {"before_kpa": 60.0}, {"mono": 4, "boot": "x"}, {"by": 2}, {"new": 1}, {"note": " "}],
    ids=str,
)
def test_the_same_said_again_has_the_same_digest(fields):
    assert digest(**fields) == digest()


@pytest.mark.parametrize(
    "fields",
    [
        {"line": 2},
        {"state": "frozen"},
        {"at": NOW},
        {"before_kpa": 60.1},
        {"drops": 0},
        {"note": "x"},
        {"parts": {"tee": 1}},
        {"pos": [1, 2, 3]},
        {"seen_by": 3},
    ],
    ids=str,
)
def test_anything_else_said_has_another(fields):
    assert digest(**fields) != digest()


def test_kinds_with_the_same_words_are_told_apart():
    void, clear = read("void", uuid=OF, of=OF), read("clear", uuid=OF, of=OF)
    assert void.digest(2) != clear.digest(2)


# --- the post --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "body",
    [b"", b"{", b"[]", b"7", b"null", b'"x"', b"\xff", b"\xef\xbb\xbf{}", b"[" * 100_000, b"{}"],
    ids=lambda body: str(body)[:20],
)
def test_what_is_no_post_is_refused_whole(body):
    with pytest.raises(payload.BadPost):
        payload.read_post(body)


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("format", 2),
        ("format", "1"),
        ("format", None),
        ("records", None),
        ("records", {}),
        ("phone", "x"),
        ("phone", None),
        ("person", "2"),
        ("person", 0),
        ("now", None),
        ("now", "today"),
        ("mono", -1),
        ("boot", 3),
    ],
)
def test_a_post_that_does_not_say_what_it_must_is_refused_whole(key, value):
    with pytest.raises(payload.BadPost) as refusal:
        post(record(**CHECK), **{key: value})
    assert str(refusal.value).endswith(".")


def test_a_hundred_records_go_in_one_post_and_one_more_does_not():
    assert len(post(*[record(**CHECK)] * 100).readable) == 100
    with pytest.raises(payload.TooMuch):
        post(*[record(**CHECK)] * 101)


MOMENT = [NOW, 5, "ab", NOW + 9, 1]


def test_moments_are_read_with_their_place_among_the_records():
    told = post(record(**CHECK), record(**CHECK), anchors=[MOMENT])
    (anchor,) = told.anchors
    assert (anchor.clocks, anchor.server_ms) == (Clocks(NOW, 5, "ab"), NOW + 9)
    assert anchor.saved_before == 1


@pytest.mark.parametrize(("bad_at", "place"), [(0, 0), (1, 1), (2, 1)])
def test_a_record_nobody_can_read_takes_no_place_among_the_moments(bad_at, place):
    records = [record(**CHECK), record(**CHECK)]
    records.insert(bad_at, {"kind": "none"})
    assert post(*records, anchors=[MOMENT]).anchors[0].saved_before == place


@pytest.mark.parametrize(
    "odd",
    [
        None,
        7,
        {},
        [],
        MOMENT[:4],
        [*MOMENT, 1],
        [-1, *MOMENT[1:]],
        [1.0, *MOMENT[1:]],
        [True, *MOMENT[1:]],
        [NOW, None, *MOMENT[2:]],
        [NOW, 5, 7, NOW, 1],
        [NOW, 5, "x" * 21, NOW, 1],
        [NOW, 5, "a", LAST_MS + 1, 1],
        [NOW, 5, "a", NOW, 101],
    ],
    ids=str,
)
def test_a_moment_that_cannot_be_read_is_left_out(odd):
    assert len(post(record(**CHECK), anchors=[MOMENT, odd]).anchors) == 1


@pytest.mark.parametrize("anchors", [None, 7, {}, "x"])
def test_moments_that_are_no_list_are_none(anchors):
    assert post(anchors=anchors).anchors == ()


def test_of_many_moments_the_last_twenty_count():
    told = post(anchors=[[NOW, n, "ab", NOW, 0] for n in range(30)])
    assert [one.clocks.mono_ms for one in told.anchors] == list(range(10, 30))


def test_a_field_is_named_in_words_a_person_knows():
    with pytest.raises(BadField) as refusal:
        Fields({}).number("before_kpa", 0, 120)
    assert refusal.value.reason == "The reading before is missing."
    with pytest.raises(BadField) as refusal:
        Fields({"mono": 1.5}).whole("mono", 0, 9)
    assert refusal.value.reason == "“mono” must be a whole number from 0 to 9."


def test_json_is_read_as_others_write_it():
    text = '{"a": [1, 2.5, -3, 1e2, "\\u00e9", true, null]}'
    assert strict_json.loads(text.encode()) == json.loads(text)

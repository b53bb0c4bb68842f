"""What the phone reckons by itself: ages, days, distances, and the lines as they stand."""

from datetime import UTC, datetime, timedelta

import pytest

from tests.functional import phone as phones

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

ZONE = "America/New_York"
NOW = datetime(2026, 3, 16, 11, 0, tzinfo=UTC)
MINUTE, HOUR, DAY = 60_000, 3_600_000, 86_400_000


def ms(moment: datetime) -> int:
    return round(moment.timestamp() * 1000)


@pytest.fixture
def here(field_context, live_server):
    """Run a script's expression with the phone's modules at hand."""
    page = field_context()
    page.goto(f"{live_server.url}/field/")

    def run(module, script, it=None):
        return phones.run(page, f"(await load('{module}')).{script}", it)

    return run


@pytest.mark.parametrize("zone", ["UTC", "Asia/Tokyo"])
def test_ages_days_and_moments_hold_in_any_zone_the_phone_is_set_to(
    field_context, live_server, zone
):
    page = field_context(timezone_id=zone)
    page.goto(f"{live_server.url}/field/")
    at = ms(NOW)
    # New York is four hours behind UTC in summer time, from 8 March 2026 at 02:00, five before it.
    cases = [
        (at, "07:00 today"),
        (at - 8 * HOUR, "Sun, Mar 15, 23:00"),
        (ms(datetime(2026, 3, 8, 6, 59, tzinfo=UTC)), "Sun, Mar 8, 01:59"),
        (ms(datetime(2026, 3, 8, 7, 0, tzinfo=UTC)), "Sun, Mar 8, 03:00"),
    ]
    script = "it.map(async ([ms]) => (await load('words')).moment(ms, 'America/New_York', %d))"
    told = phones.run(page, f"Promise.all({script % at})", cases)
    assert told == [words for _, words in cases]


def test_a_day_is_a_night_passed_even_when_the_clocks_change(here):
    # 8 March 2026 has 23 hours in New York: midnight to midnight is still one night.
    nights = [ms(datetime(2026, 3, day, 12, tzinfo=UTC)) for day in (7, 8, 9)]
    first, second, third = (here("words", "dayNumber(it, 'America/New_York')", n) for n in nights)
    assert (second - first, third - second) == (1, 1)


@pytest.mark.parametrize(
    ("gone", "words"),
    [
        (0, "just now"),
        (59_000, "just now"),
        (MINUTE, "1 min"),
        (59 * MINUTE, "59 min"),
        (HOUR, "1 h"),
        (47 * HOUR, "47 h"),
        (48 * HOUR, "2 days"),
        (9 * DAY, "9 days"),
        # A clock put right by a little is no clock set back; by an hour it is.
        (-MINUTE, "just now"),
        (-HOUR, None),
    ],
)
def test_an_age_is_told_as_long_as_the_clock_allows(here, gone, words):
    assert here("words", "age(it[0], it[1])", [ms(NOW), ms(NOW) + gone]) == words


DATA = {
    "zone": ZONE,
    "woodlots": [[1, "Tamarack Hollow", "tamarack-hollow"], [2, "Hemlock Rise", "hemlock-rise"]],
    "states": [["tight", "Tight"], ["leak_left", "Leak left"], ["frozen", "Frozen: no verdict"]],
    "causes": [["chew", "Chewed"]],
    "works": [["hands", "By hand"]],
    "tanks": [[4, "Round tank"]],
    "pump_houses": [[5, "Lower pump house", 0]],
    "units": {
        "vacuum": {"unit": "inHg", "per_si": 1 / 3.386389, "places": 1},
        "depth": {"unit": "in.", "per_si": 1 / 25.4, "places": 2},
    },
    "lines": [
        [1, 0, "L1", 40, "tight", 0],
        [2, 0, "L2", 60, "leak_left", 3],
        [3, 1, "L12"],
        [4, 1, "3-7", 30, "frozen", 0, 43.9, -75.3],
    ],
}


def entry(kind="check", *, status="waiting", seq=1, sent_at=None, voided_by=None, **record):
    uuid = record.pop("uuid", f"e{seq}")
    at = record.pop("at", ms(NOW))
    return {
        "uuid": uuid,
        "seq": seq,
        "status": status,
        "sentAt": sent_at,
        "voidedBy": voided_by,
        "record": {"uuid": uuid, "kind": kind, "at": at, **record},
    }


def standing(here, *entries, later_ms=0, fetched=None):
    """Lines by label as the phone shows them, hours after its list was fetched."""
    asked = {
        "data": DATA,
        "fetchedAt": fetched or ms(NOW - timedelta(hours=1)),
        "entries": list(entries),
        "now": ms(NOW) + later_ms,
    }
    return {line["label"]: line for line in here("woods", "linesNow(it)", asked)}


def test_the_list_alone_says_what_the_server_said(here):
    found = standing(here)
    assert [(it["done"], it["days"]) for it in found.values()] == [
        (True, 0), (False, 3), (False, None), (False, 0)
    ]  # fmt: skip
    assert found["L12"]["taps"] is None
    assert found["L12"]["woodlot"] == "Hemlock Rise"


@pytest.mark.parametrize(
    ("given", "done", "state"),
    [
        ({"state": "tight"}, True, "tight"),
        ({"state": "leak_left"}, True, "leak_left"),
        ({"state": "frozen"}, False, "frozen"),
        # Sent after the list was made: the list cannot know it yet.
        ({"state": "tight", "status": "sent", "sent_at": ms(NOW)}, True, "tight"),
        # Sent before: the list knows it, and may know something later.
        ({"state": "tight", "status": "sent", "sent_at": ms(NOW) - 2 * HOUR}, False, "leak_left"),
        # What the server refused, or never got, is no news of the line.
        ({"state": "tight", "status": "refused"}, False, "leak_left"),
        ({"state": "tight", "status": "dropped"}, False, "leak_left"),
        ({"state": "tight", "status": "replaced"}, False, "leak_left"),
    ],
)
def test_what_was_logged_here_counts_on_top_of_the_list(here, given, done, state):
    line = standing(here, entry(line=2, **given))["L2"]
    assert (line["done"], line["state"]) == (done, state)


def test_the_later_of_two_checks_here_counts(here):
    first = entry(line=2, state="tight", seq=1)
    second = entry(line=2, state="frozen", seq=2)
    assert standing(here, first, second)["L2"]["state"] == "frozen"


def test_a_frozen_look_leaves_the_days_since_the_walk(here):
    line = standing(here, entry(line=2, state="frozen"))["L2"]
    assert (line["days"], line["done"]) == (3, False)


def test_a_check_taken_back_leaves_nothing_known(here):
    taken = entry(line=1, state="tight", seq=1, voided_by="e2")
    line = standing(here, taken, entry("void", seq=2, of="e1"))["L1"]
    assert (line["done"], line["takenBack"], line["state"]) == (False, True, "")


def test_a_check_before_the_one_taken_back_still_stands(here):
    first = entry(line=2, state="tight", seq=1)
    taken = entry(line=2, state="leak_left", seq=2, voided_by="e3")
    line = standing(here, first, taken, entry("void", seq=3, of="e2"))["L2"]
    assert (line["done"], line["state"]) == (True, "tight")


def test_a_taking_back_the_list_knows_of_is_the_lists_to_tell(here):
    early = ms(NOW) - 2 * HOUR
    sent = {"status": "sent", "sent_at": early}
    taken = entry(line=1, state="tight", seq=1, voided_by="e2", **sent)
    line = standing(here, taken, entry("void", seq=2, of="e1", **sent))["L1"]
    assert (line["done"], line["takenBack"]) == (True, False)


def test_days_go_on_while_the_list_is_old(here):
    found = standing(here, later_ms=2 * DAY)
    assert [found[label]["days"] for label in ("L1", "L2", "3-7")] == [2, 5, 2]
    assert not found["L1"]["done"]


def test_yesterdays_check_here_is_no_walk_of_today(here):
    line = standing(here, entry(line=2, state="tight"), later_ms=DAY)["L2"]
    assert (line["days"], line["done"]) == (1, False)


@pytest.mark.parametrize(
    ("typed", "exact", "others"),
    [
        ("1", ["L1"], ["L12"]),
        ("12", ["L12"], []),
        ("3", [], ["3-7"]),
        ("3-7", ["3-7"], []),
        ("03-07", ["3-7"], []),
        ("37", [], []),
        ("9", [], []),
        ("", [], []),
        ("-", [], []),
    ],
)
def test_a_number_finds_its_line_and_those_it_may_become(here, typed, exact, others):
    lines = [{"label": label} for label in ("L1", "L2", "L12", "3-7")]
    found = here("woods", "linesByNumber(it[0], it[1])", [lines, typed])
    assert [it["label"] for it in found["exact"]] == exact
    assert [it["label"] for it in found["others"]] == others


def test_a_degree_along_a_meridian_is_as_long_as_the_mean_earth_says(here):
    # Mean radius 6,371.0 km (IUGG; Moritz, Geodetic Reference System 1980, 2000): 111.195 km.
    metres = here("woods", "metres({ lat: 43, lon: -75 }, { lat: 44, lon: -75 })")
    assert metres == pytest.approx(111_194.9, abs=0.5)
    # Along a parallel it shrinks with the cosine of the latitude: half at 60 degrees.
    short = here("woods", "metres({ lat: 60, lon: 0 }, { lat: 60, lon: 0.001 })")
    assert short == pytest.approx(111_194.9 * 0.001 / 2, rel=1e-6)


@pytest.mark.parametrize(
    ("record", "words"),
    [
        (
            {"kind": "check", "line": 2, "state": "leak_left", "cause": "chew", "drops": 4},
            "L2, Tamarack Hollow: leak left, chewed, 4 drops up",
        ),
        ({"kind": "check", "line": 9, "state": "tight"}, "line no. 9: tight"),
        ({"kind": "after", "after_kpa": 88.046}, "Reading after: 26.0 inHg"),
        (
            {"kind": "tally", "line": 3, "taps": 16, "drops": 1, "finishes": True},
            "L12, Hemlock Rise: 16 taps set, 1 drop renewed, line finished",
        ),
        ({"kind": "pull", "line": 3, "taps": 1}, "L12, Hemlock Rise: 1 tap pulled"),
        ({"kind": "dip", "tank": 4, "depth_mm": 317.5}, "Round tank: dip 12.50 in."),
        (
            {"kind": "gauge", "pump_house": 5, "vacuum_kpa": 67.72778},
            "Lower pump house: 20.0 inHg",
        ),
        (
            {"kind": "obstruction", "line": 1, "work": "hands"},
            "L1, Tamarack Hollow: obstruction, by hand",
        ),
        ({"kind": "note", "text": "Bear on the ridge"}, "Note: Bear on the ridge"),
    ],
)
def test_a_record_is_told_in_plain_words(here, record, words):
    assert here("words", "describe(it[0], it[1])", [record, DATA]) == words


def test_a_record_about_another_names_it_where_it_is_still_here(here):
    check = entry(line=1, state="tight", seq=1)
    asked = [{"kind": "void", "of": "e1"}, DATA, [check]]
    assert here("words", "describe(...it)", asked) == "Taken back (L1, Tamarack Hollow: tight)"
    assert here("words", "describe(...it)", [asked[0], DATA, []]) == "Taken back"

"""The outbox on the phone: what is saved, taken back, mended, handed over and counted."""

import hashlib
import json
from uuid import RFC_4122, UUID

import pytest
from playwright.sync_api import Error

from tests.functional import phone as phones

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

COUNTS = "(await load('outbox')).counts()"
UNDO = "(await load('outbox')).undo(it)"
REFUSE = """(await load('outbox')).settle([
  { uuid: it, answer: "refused", reason: "No such line.", field: "line" }])"""
EXPORT = "(await (await load('outbox')).exportFile()).text()"
# The error's code instead of its throw.
CODE = "({}).then(() => 'no error', (error) => error.code)"


@pytest.fixture
def page(sols_page, wire):
    """Sol's phone in the woods: ready, and without a server."""
    wire.stop()
    return sols_page


def check(page, line, state="tight", **more):
    return phones.save(page, kind="check", line=line, state=state, **more)


def entry(page, uuid):
    return phones.run(page, "(await load('outbox')).entry(it)", uuid)


def test_a_saved_record_carries_name_clocks_and_person(page, five_lines):
    uuid = check(page, five_lines[0], before_kpa=81.3)
    kept = entry(page, uuid)
    assert kept["record"] | {"at": 0, "mono": 0, "boot": ""} == {
        "uuid": uuid,
        "kind": "check",
        "line": five_lines[0],
        "state": "tight",
        "before_kpa": 81.3,
        "at": 0,
        "mono": 0,
        "boot": "",
    }
    assert (kept["personName"], kept["status"], kept["photosWaiting"]) == ("Sol", "waiting", 0)
    assert isinstance(kept["record"]["mono"], int)


def test_records_are_told_in_the_order_of_saving_over_a_reboot(page, woods_phone, five_lines):
    first = [check(page, line) for line in five_lines]
    again = woods_phone.visit(woods_phone.reboot())
    second = [check(again, line) for line in five_lines]
    assert [it["uuid"] for it in phones.entries(again)] == [*first, *second]


def test_two_tabs_count_on_in_one_row(page, woods_phone, five_lines):
    other = woods_phone.visit(woods_phone.tab())
    for line in five_lines:
        check(page, line)
        check(other, line)
    assert [it["seq"] for it in phones.entries(page)] == list(range(1, 11))


def test_one_tab_hears_what_another_saves(page, woods_phone, five_lines):
    other = woods_phone.visit(woods_phone.tab())
    phones.run(page, "(await load('outbox')).onChange(() => { window.heard = true; })")
    check(other, five_lines[0])
    phones.until(page, "window.heard")


def test_killed_right_after_saving_the_browser_has_it(page, woods_phone, five_lines):
    uuid = check(page, five_lines[0])
    devtools = woods_phone.context.new_cdp_session(page)
    with pytest.raises(Error):
        devtools.send("Browser.crash")
    woods_phone.context = None
    again = woods_phone.visit(woods_phone.boot())
    assert entry(again, uuid)["status"] == "waiting"


def test_taking_back_is_a_record_more(page, five_lines):
    uuid = check(page, five_lines[0])
    voided = phones.run(page, UNDO, uuid)
    assert entry(page, uuid)["voidedBy"] == voided
    record = entry(page, voided)["record"]
    assert (record["kind"], record["of"]) == ("void", uuid)


def test_taking_back_twice_is_taking_back_once(page, five_lines):
    uuid = check(page, five_lines[0])
    assert phones.run(page, UNDO, uuid) == phones.run(page, UNDO, uuid)
    assert len(phones.entries(page)) == 2


def test_taking_back_what_was_refused_lets_it_go(page, five_lines):
    uuid = check(page, five_lines[0])
    phones.run(page, REFUSE, uuid)
    phones.run(page, UNDO, uuid)
    assert phones.statuses(page) == ["dropped"]


def test_counts_tell_what_waits_and_since_when(page, five_lines):
    for line in five_lines[:3]:
        check(page, line)
    oldest = phones.entries(page)[0]["record"]["at"]
    phones.run(page, REFUSE, phones.entries(page)[2]["uuid"])
    told = phones.run(page, COUNTS)
    assert told == {"waiting": 2, "refused": 1, "photos": 0, "oldestAt": oldest, "others": []}


def test_a_mended_record_takes_a_new_name_and_keeps_its_moment_and_place(page, five_lines):
    refused = check(page, 987_654)
    later = check(page, five_lines[0])
    phones.run(page, REFUSE, refused)
    mended = phones.run(page, "(await load('outbox')).mend(it[0], it[1])", [refused, {"line": 7}])
    old, new = entry(page, refused), entry(page, mended)
    assert old["status"] == "replaced"
    assert (new["status"], new["reason"], new["record"]["line"]) == ("waiting", "", 7)
    assert (new["record"]["at"], new["seq"]) == (old["record"]["at"], old["seq"])
    waiting = [it["uuid"] for it in phones.entries(page) if it["status"] == "waiting"]
    assert waiting == [mended, later]


def test_what_speaks_of_a_mended_record_speaks_of_its_new_name(page, five_lines):
    refused = check(page, 987_654)
    phones.run(page, REFUSE, refused)
    waiting = phones.save(page, kind="after", of=refused, after_kpa=90.0)
    too = phones.save(page, kind="after", of=refused, after_kpa=91.0)
    phones.run(page, REFUSE, too)
    mended = phones.run(page, "(await load('outbox')).mend(it, { line: 7 })", refused)
    followers = [it for it in phones.entries(page) if it["record"]["kind"] == "after"]
    assert {it["record"]["of"] for it in followers if it["status"] == "waiting"} == {mended}
    assert waiting in [it["uuid"] for it in followers]
    assert [it["status"] for it in followers].count("waiting") == 2


def test_nothing_is_kept_for_nobody(woods_phone, wire, five_lines):
    page = woods_phone.visit(woods_phone.boot())
    save = "(await load('outbox')).save({ kind: 'check', line: 1, state: 'tight' })"
    assert phones.run(page, CODE.format(save)) == "no_person"
    assert phones.entries(page) == []


BECOME_WREN = "(await load('data')).adopt({ id: 77, name: 'Wren', owner: false })"


def test_another_persons_records_are_counted_apart_and_left_to_them(page, five_lines):
    sols = check(page, five_lines[0])
    phones.run(page, BECOME_WREN)
    check(page, five_lines[1])
    others = phones.run(page, COUNTS)["others"]
    assert [(it["name"], it["waiting"]) for it in others] == [("Sol", 1)]
    assert phones.run(page, CODE.format(UNDO), sols) == "other_person"


def test_handing_over_marks_who_sends_and_keeps_who_saw(page, five_lines):
    sols = check(page, five_lines[0])
    sol = entry(page, sols)["person"]
    phones.run(page, BECOME_WREN)
    assert phones.run(page, "(await load('outbox')).handOver(it)", sol) == 1
    assert entry(page, sols) | {"person": sol, "handedTo": 77} == entry(page, sols)


def test_the_file_to_carry_holds_all_that_has_not_gone_up(page, five_lines):
    kept = [check(page, line, note="by the brook") for line in five_lines[:2]]
    phones.run(page, REFUSE, kept[1])
    told = json.loads(phones.run(page, EXPORT))
    assert [(it["uuid"], it["status"]) for it in told["records"]] == [
        (kept[0], "waiting"),
        (kept[1], "refused"),
    ]
    assert told["records"][1]["reason"] == "No such line."
    assert {it["person_name"] for it in told["records"]} == {"Sol"}
    assert len(told["phone"]) == 36


WITH_PHOTO = """(() => {
  // Noise, or the store would press it small; a hash can be told of the sevens alone.
  const bytes = new Uint8Array(it.bytes).fill(7);
  const piece = (at) => bytes.subarray(at, at + 65536);
  for (let at = 0; it.noise && at < it.bytes; at += 65536) crypto.getRandomValues(piece(at));
  const fields = { kind: "check", line: it.line, state: "tight" };
  return load("outbox").then(({ save }) => save(fields, { photos: [bytes.buffer] }));
})()"""


def with_room(phone, more):
    """The phone rebooted, its store allowed so many bytes more than it has in use."""
    page = phone.reboot()
    # Before the page opens its store: the browser asks only now and then how much room there is.
    devtools = phone.context.new_cdp_session(page)
    used = devtools.send("Storage.getUsageAndQuota", {"origin": phone.origin})["usage"]
    quota = {"origin": phone.origin, "quotaSize": used + more}
    devtools.send("Storage.overrideQuotaForOrigin", quota)
    return phone.visit(page)


def test_a_full_store_saves_nothing_by_halves_and_still_takes_the_reading(
    page, woods_phone, five_lines
):
    full = with_room(woods_phone, 1_500_000)
    big = {"line": five_lines[0], "bytes": 3_000_000, "noise": True}
    assert phones.run(full, CODE.format(WITH_PHOTO), big) == "storage_full"
    assert phones.entries(full) == []
    uuid = check(full, five_lines[0])
    assert [it["uuid"] for it in phones.entries(full)] == [uuid]
    assert phones.run(full, COUNTS)["photos"] == 0


def test_a_store_too_full_for_a_reading_says_so_and_keeps_what_it_has(
    page, woods_phone, five_lines
):
    uuid = check(page, five_lines[0])
    full = with_room(woods_phone, 0)
    save = (
        f"(await load('outbox')).save({{ kind: 'check', line: {five_lines[1]}, state: 'tight' }})"
    )
    assert phones.run(full, CODE.format(save)) == "storage_full"
    assert [it["uuid"] for it in phones.entries(full)] == [uuid]


def test_a_photo_is_kept_with_its_size_and_hash(page, five_lines):
    uuid = phones.run(page, WITH_PHOTO, {"line": five_lines[0], "bytes": 1000})
    kept = entry(page, uuid)
    assert (kept["photosWaiting"], kept["photos"][0]["size"]) == (1, 1000)
    assert kept["photos"][0]["sha256"] == hashlib.sha256(bytes([7]) * 1000).hexdigest()


SHRINK = """(async () => {
  const big = new OffscreenCanvas(4000, 3000);
  const pen = big.getContext("2d");
  pen.fillStyle = "#2a6";
  pen.fillRect(0, 0, 4000, 1500);
  const file = await big.convertToBlob({ type: "image/png" });
  const small = await (await load('photos')).shrink(file);
  const picture = await createImageBitmap(small);
  return [small.type, picture.width, picture.height, small.size];
})()"""


def test_a_photo_is_made_small_before_it_is_kept(page):
    kind, width, height, size = phones.run(page, SHRINK)
    assert (kind, width, height) == ("image/jpeg", 1600, 1200)
    assert 1000 < size < 400_000


def test_a_file_that_is_no_picture_is_told_from_one(page):
    shrink = "(await load('photos')).shrink(new Blob(['<svg>']))"
    assert phones.run(page, CODE.format(shrink)) == "not_a_picture"


def test_what_was_sent_a_fortnight_ago_leaves_the_list(page, five_lines):
    uuids = [check(page, line) for line in five_lines[:3]]
    answers = [{"uuid": it, "answer": "accepted"} for it in uuids[:2]]
    phones.run(page, "(await load('outbox')).settle(it)", answers)
    age = """(await load('store')).write(['records'], async ({ records }) => {
      const request = records.get(it);
      request.onsuccess = () => records.put({ ...request.result, sentAt: Date.now() - 15 * 864e5 });
    })"""
    phones.run(page, age, uuids[0])
    phones.run(page, "(await load('outbox')).tidy()")
    assert [it["uuid"] for it in phones.entries(page)] == uuids[1:]


def test_names_are_random_uuids_of_version_4(page):
    """RFC 9562 (2024), section 5.4: version and variant bits, the rest drawn."""
    made = "load('store').then((it) => Array.from({ length: 500 }, it.newUuid))"
    names = [UUID(name) for name in phones.run(page, made)]
    assert len(set(names)) == 500
    assert {(name.version, name.variant) for name in names} == {(4, RFC_4122)}

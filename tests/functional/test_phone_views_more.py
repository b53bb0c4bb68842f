"""What may be added to a check, and never stands in its way."""

import struct
import zlib

import pytest

from apps.leaks.models import LeakCheck, PartUsed
from tests.factories import leaks
from tests.factories import operation as people
from tests.functional import phone_views as views

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

HERE = {"latitude": 43.9, "longitude": -75.3, "accuracy": 12}
INCH_OF_MERCURY_KPA = 3.386389


@pytest.fixture(autouse=True)
def lines(fixed_clock):
    people.crew("sol")
    return [leaks.a_line(f"L{number}", planned_taps=500 - number) for number in range(1, 4)]


def png(width=8, height=6) -> bytes:
    """A small picture of one colour, by the PNG specification (W3C, 2003)."""
    rows = b"".join(b"\0" + b"\x80\xc0\xff" * width for _ in range(height))
    parts = [
        (b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)),
        (b"IDAT", zlib.compress(rows)),
        (b"IEND", b""),
    ]
    chunks = [
        struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        for kind, data in parts
    ]
    return b"\x89PNG\r\n\x1a\n" + b"".join(chunks)


def begin(page, state="leak_fixed"):
    page.locator(".next-lines label").first.tap()
    page.locator(f".state-{state}").tap()


def test_everything_optional_is_folded_away_at_first(field_page):
    page = field_page("check/")
    assert page.locator("details.fold").count() == 4
    assert page.locator("details.fold[open]").count() == 0


def test_readings_step_by_half_an_inch_without_a_keyboard(field_page):
    page = field_page("check/")
    begin(page)
    views.unfold(page, "Readings before and after")
    for name in ("Reading before: more by 0.5 inHg", "Reading before: less by 0.5 inHg"):
        views.touch(page, name)
    views.touch(page, "Reading before: less by 5 inHg")
    # The second one starts where the first one stands.
    views.touch(page, "Reading after: more by 0.5 inHg")
    views.touch(page, "Reading after: more by 0.5 inHg")
    views.save(page)
    check = views.wait_for(LeakCheck)
    # 26 inHg is the target until the operation sets its own.
    assert check.vacuum_before_kpa == pytest.approx(20.5 * INCH_OF_MERCURY_KPA, rel=1e-4)
    assert check.vacuum_after_kpa == pytest.approx(21.0 * INCH_OF_MERCURY_KPA, rel=1e-4)


def test_a_reading_that_was_cleared_is_not_sent(field_page):
    page = field_page("check/")
    begin(page)
    views.unfold(page, "Readings before and after")
    views.touch(page, "Reading before: more by 0.5 inHg")
    views.touch(page, "Reading before: clear")
    views.save(page)
    assert views.wait_for(LeakCheck).vacuum_before_kpa is None


def test_cause_parts_place_and_note_go_with_the_check(field_page):
    page = field_page("check/")
    begin(page)
    views.unfold(page, "Cause and parts used")
    views.choose(page, "Chewed")
    views.touch(page, "Tee: more by 1")
    views.touch(page, "Tee: more by 1")
    views.unfold(page, "Place, photo, note")
    views.touch(page, "Place: how many drops up the line: more by 1")
    views.touch(page, "Place: how many drops up the line: more by 10")
    page.get_by_label("Note").fill("behind the big rock")
    views.save(page)
    check = views.wait_for(LeakCheck)
    assert (check.cause, check.place_drops, check.note) == ("chew", 11, "behind the big rock")
    assert list(PartUsed.objects.values_list("part", "count")) == [("tee", 2)]


def test_a_cause_is_left_out_where_the_line_turned_out_tight(field_page):
    page = field_page("check/")
    begin(page)
    views.unfold(page, "Cause and parts used")
    views.choose(page, "Chewed")
    page.locator(".state-tight").tap()
    views.save(page)
    check = views.wait_for(LeakCheck)
    assert (check.state, check.cause) == ("tight", "")


def test_the_next_check_starts_without_what_was_said_of_the_last(field_page):
    page = field_page("check/")
    begin(page)
    views.unfold(page, "Readings before and after")
    views.touch(page, "Reading before: more by 0.5 inHg")
    views.save(page)
    begin(page, "tight")
    views.save(page)
    assert views.wait_for(LeakCheck, 2).vacuum_before_kpa is None


def test_the_position_goes_with_the_check_once_it_is_wanted(field_page):
    page = field_page("check/", geolocation=HERE, permissions=["geolocation"])
    begin(page)
    views.unfold(page, "Place, photo, note")
    views.choose(page, "Add my position")
    page.get_by_text("Position found, good to 12 m").wait_for()
    views.save(page)
    check = views.wait_for(LeakCheck)
    found = (check.latitude, check.longitude, check.position_accuracy_m)
    assert found == pytest.approx((43.9, -75.3, 12))


def test_nobodys_position_is_taken_unasked(field_page):
    page = field_page("check/", geolocation=HERE, permissions=["geolocation"])
    begin(page)
    views.save(page)
    assert views.wait_for(LeakCheck).latitude is None


def test_a_phone_that_keeps_its_position_to_itself_is_no_hindrance(field_page):
    page = field_page("check/")
    begin(page)
    views.unfold(page, "Place, photo, note")
    views.choose(page, "Add my position")
    views.save(page)
    assert views.wait_for(LeakCheck).latitude is None


def test_the_nearest_lines_come_first_with_distance_and_accuracy(field_page, lines):
    # A ten-thousandth of a degree of latitude is some 36 ft anywhere on earth.
    for line, steps in zip(lines, (40, 2, 9), strict=True):
        at = {"latitude": 43.9 + steps * 1e-4, "longitude": -75.3, "position_accuracy_m": 8.0}
        leaks.bare_check(line, observed_at=leaks.hours_ago(60), **at)
    page = field_page("check/", geolocation=HERE, permissions=["geolocation"])
    views.choose(page, "Near")
    rows = page.locator(".rows label")
    rows.first.wait_for()
    assert [row.split()[0] for row in rows.all_inner_texts()] == ["L2", "L3", "L1"]
    assert "70 ft away" in rows.first.inner_text()
    page.get_by_text("Your position is good to 40 ft").wait_for()


def test_without_any_position_on_record_it_says_that_none_is_near(field_page):
    page = field_page("check/", geolocation=HERE, permissions=["geolocation"])
    views.choose(page, "Near")
    page.get_by_text("No line was checked with a position yet").wait_for()


def test_a_refused_position_points_to_the_number(field_page):
    page = field_page("check/", permissions=[])
    page.context.clear_permissions()
    page.evaluate("""() => {
      navigator.geolocation.watchPosition = (found, failed) => (failed({ code: 1 }), 1);
    }""")
    views.choose(page, "Near")
    page.get_by_text("or use the number").wait_for()


def test_a_photo_is_made_small_before_it_is_kept(field_page):
    page = field_page("check/")
    begin(page)
    views.unfold(page, "Place, photo, note")
    picture = {"name": "tree.png", "mimeType": "image/png", "buffer": png(2400, 30)}
    page.locator("input[type=file]").set_input_files(picture)
    page.locator("#main").get_by_text("Photo ready").wait_for()
    views.save(page)
    views.wait_for(LeakCheck)
    page.goto(page.url.replace("check/", "outbox/"))
    # Wherever the photo is by now, it is told of: it goes last and by itself.
    page.locator("li.entry", has_text="leak fixed").wait_for()


def test_what_is_no_picture_is_said_and_the_check_goes_without(field_page):
    page = field_page("check/")
    begin(page)
    views.unfold(page, "Place, photo, note")
    junk = {"name": "tree.jpg", "mimeType": "image/jpeg", "buffer": b"no picture at all"}
    page.locator("input[type=file]").set_input_files(junk)
    page.get_by_text("This picture could not be read.").wait_for()
    views.save(page)
    assert views.wait_for(LeakCheck).state == "leak_fixed"


FULL = """() => {
  const add = IDBObjectStore.prototype.add;
  IDBObjectStore.prototype.add = function (value, key) {
    if (this.name === window.fullStore) {
      throw new DOMException("no room", "QuotaExceededError");
    }
    return add.call(this, value, key);
  };
}"""


def test_a_full_phone_offers_to_save_without_the_photo(field_page):
    page = field_page("check/")
    begin(page)
    views.unfold(page, "Place, photo, note")
    picture = {"name": "tree.png", "mimeType": "image/png", "buffer": png()}
    page.locator("input[type=file]").set_input_files(picture)
    page.locator("#main").get_by_text("Photo ready").wait_for()
    page.evaluate(FULL)
    page.evaluate("window.fullStore = 'photos'")
    assert "no room for the photo" in views.try_to_save(page)
    views.touch(page, "Save without the photo")
    page.wait_for_selector(".saved h2")
    assert views.wait_for(LeakCheck).state == "leak_fixed"


def test_a_full_phone_says_so_and_keeps_what_was_entered(field_page):
    page = field_page("check/")
    begin(page)
    page.evaluate(FULL)
    page.evaluate("window.fullStore = 'records'")
    assert "Write it on paper" in views.try_to_save(page)
    page.evaluate("window.fullStore = null")
    views.save(page)
    assert views.wait_for(LeakCheck).state == "leak_fixed"


def test_after_a_fix_the_reading_that_shows_it_can_be_added(field_page):
    page = field_page("check/")
    begin(page)
    views.save(page)
    views.touch(page, "Reading after the fix: more by 0.5 inHg")
    views.touch(page, "Add the reading")
    page.get_by_text("Reading after the fix: 26 inHg, saved on this phone.").wait_for()

    def read_back():
        return LeakCheck.objects.get().vacuum_after_kpa

    assert views.soon(lambda: read_back() is not None)
    assert read_back() == pytest.approx(26 * INCH_OF_MERCURY_KPA, rel=1e-4)


def test_adding_no_reading_is_said_and_sends_nothing(field_page):
    page = field_page("check/")
    begin(page)
    views.save(page)
    views.touch(page, "Add the reading")
    page.get_by_text("Step to the reading first.").wait_for()
    assert views.wait_for(LeakCheck).vacuum_after_kpa is None

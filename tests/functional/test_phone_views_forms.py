"""The other forms of the phone: each saves the record it says, through the real intake."""

import pytest

from apps.leaks.models import Clearing, GaugeReading, LeakCheck, Obstruction
from apps.sugarhouse.models import Dip
from apps.tapping.models import TapPull, TapTally
from apps.woods.models import Note
from tests.factories import leaks, sugarhouse, woods
from tests.factories import operation as people
from tests.functional import phone_views as views

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

INCH_OF_MERCURY_KPA = 3.386389
INCH_MM = 25.4


@pytest.fixture(autouse=True)
def lines(fixed_clock):
    people.crew("sol")
    return [leaks.a_line(f"L{number}", planned_taps=500 - number) for number in range(1, 4)]


def first_line(page):
    page.locator(".next-lines label").first.tap()


def add(page, *steps):
    for step in steps:
        page.get_by_role("button", name=f"{step} more", exact=True).tap()


def test_a_tally_adds_touches_up_and_takes_the_last_one_off(field_page, lines):
    page = field_page("tally/")
    first_line(page)
    add(page, 10, 5, 1, 10)
    views.touch(page, "Undo the last +10")
    views.touch(page, "Drops renewed: more by 1")
    views.choose(page, "This finishes the line's tapping")
    page.get_by_role("button", name="3. Save L1: 16 taps set").wait_for()
    views.save(page)
    tally = views.wait_for(TapTally)
    found = (tally.line, tally.taps_set, tally.drops_renewed, tally.finishes_line)
    assert found == (lines[0], 16, 1, True)
    assert tally.crew.username == "sol"


def test_a_count_outlives_a_phone_that_goes_flat_in_the_middle(field_page, lines):
    page = field_page("tally/")
    views.pick(page, "2")
    add(page, 10, 10, 1)
    page = field_page("tally/")
    page.get_by_text("A count that was not saved yet is still here.").wait_for()
    add(page, 5)
    views.save(page)
    tally = views.wait_for(TapTally)
    assert (tally.line, tally.taps_set) == (lines[1], 26)


def test_a_saved_count_is_not_offered_again(field_page):
    page = field_page("tally/")
    first_line(page)
    add(page, 5)
    views.save(page)
    assert page.locator(".count").inner_text() == "0"
    page = field_page("tally/")
    assert page.get_by_text("still here").count() == 0
    assert page.locator(".count").inner_text() == "0"


def test_a_tally_that_counts_nothing_is_not_saved(field_page):
    page = field_page("tally/")
    first_line(page)
    assert views.try_to_save(page) == "Nothing is counted yet."
    assert not TapTally.objects.exists()


def test_drops_alone_are_a_tally_too(field_page):
    page = field_page("tally/")
    first_line(page)
    views.touch(page, "Drops renewed: more by 1")
    views.save(page)
    tally = views.wait_for(TapTally)
    assert (tally.taps_set, tally.drops_renewed) == (0, 1)


def test_pulled_taps_are_counted_the_same_way(field_page, lines):
    page = field_page("pull/")
    first_line(page)
    add(page, 10, 1)
    views.choose(page, "Every tap of this line is out")
    views.save(page)
    pull = views.wait_for(TapPull)
    assert (pull.line, pull.taps_pulled, pull.finishes_line) == (lines[0], 11, True)


def test_a_dip_is_typed_on_our_own_keys(field_page):
    tank = sugarhouse.tank("Round tank")
    sugarhouse.tank("Oval tank")
    page = field_page("dip/")
    views.choose(page, "Round tank")
    for key in ("1", "2", "Point", "5"):
        page.get_by_role("button", name=key, exact=True).tap()
    page.get_by_role("button", name="3. Save 12.5 in.").wait_for()
    views.save(page)
    dip = views.wait_for(Dip)
    assert dip.tank == tank
    assert dip.depth_mm == pytest.approx(12.5 * INCH_MM)


@pytest.mark.parametrize("keys", [["Point"], [], ["1", "Point", "Point", "2"]])
def test_what_is_no_depth_is_not_saved(field_page, keys):
    sugarhouse.tank("Round tank")
    page = field_page("dip/")
    for key in keys:
        page.get_by_role("button", name=key, exact=True).tap()
    assert views.try_to_save(page) == "Type the depth first."
    assert not Dip.objects.exists()


def test_without_tanks_or_pump_houses_the_page_says_so(field_page):
    page = field_page("dip/")
    page.get_by_text("No tank is on this phone's list.").wait_for()
    page = field_page("gauge/")
    page.get_by_text("No pump house is on this phone's list.").wait_for()


def test_a_gauge_reading_steps_from_what_the_pump_usually_holds(field_page, lines):
    house = woods.pump_house(lines[0].woodlot)
    page = field_page("gauge/")
    # The first touch brings the usual 26 inHg, the others step from there.
    for name in ("more by 0.5", "less by 0.5", "less by 5"):
        views.touch(page, f"Reading: {name} inHg")
    page.get_by_role("button", name="3. Save 20.5 inHg").wait_for()
    views.save(page)
    reading = views.wait_for(GaugeReading)
    assert reading.pump_house == house
    assert reading.vacuum_kpa == pytest.approx(20.5 * INCH_OF_MERCURY_KPA, rel=1e-4)


def test_a_gauge_that_nobody_read_is_not_saved(field_page, lines):
    woods.pump_house(lines[0].woodlot)
    page = field_page("gauge/")
    assert views.try_to_save(page) == "Step to the reading first."
    assert not GaugeReading.objects.exists()


@pytest.mark.parametrize("work", ["hands", "chainsaw", "hung"])
def test_three_touches_record_an_obstruction(field_page, lines, work):
    page = field_page("obstruction/")
    views.count_touches(page)
    first_line(page)
    page.locator(f".work-{work}").tap()
    views.save(page)
    assert views.touches(page) == 3
    found = views.wait_for(Obstruction)
    assert (found.line, found.work, found.crew.username) == (lines[0], work, "sol")


def test_the_cautions_about_saws_and_hung_trees_come_before_the_choice(field_page):
    page = field_page("obstruction/")
    caution = page.locator(".caution").first
    assert "leave them. No saw alone." in caution.inner_text()
    above = caution.bounding_box()
    assert above["y"] + above["height"] <= page.locator(".work-chainsaw").bounding_box()["y"]
    assert "Alone in the woods?" in page.locator(".foot").inner_text()


def test_an_open_obstruction_is_cleared_with_one_touch_and_can_be_taken_back(field_page, lines):
    there = leaks.obstruction(lines[1], "chainsaw", hours=30, note="across the main")
    page = field_page()
    page = field_page("obstruction/")
    card = page.locator(".card", has_text="L2, Tamarack Hollow: chainsaw, yesterday")
    views.count_touches(page)
    card.get_by_role("button").tap()
    assert views.touches(page) == 1
    cleared = views.wait_for(Clearing)
    assert (cleared.obstruction, cleared.crew.username) == (there, "sol")
    views.touch(page, "Undo: take this back")
    assert views.soon(lambda: Clearing.objects.get().voided_at is not None)


def test_an_obstruction_not_sent_yet_can_be_cleared_too(field_page):
    page = field_page("obstruction/")
    views.cut_off(page)
    first_line(page)
    page.locator(".work-hands").tap()
    views.save(page)
    page = field_page("obstruction/")
    card = page.locator(".card", has_text="logged here, not sent yet")
    card.get_by_role("button").tap()
    page.wait_for_selector(".card .saved")
    views.connect(page)
    page.evaluate("dispatchEvent(new Event('online'))")
    assert views.wait_for(Clearing).obstruction == Obstruction.objects.get()


def test_a_note_may_be_about_a_line_or_about_nothing(field_page, lines):
    page = field_page("note/")
    page.get_by_label("1. Note").fill("Bear on the ridge")
    views.save(page)
    note = views.wait_for(Note)
    assert (note.text, note.line, note.woodlot) == ("Bear on the ridge", None, None)
    page.get_by_label("1. Note").fill("Sag by the brook")
    views.unfold(page, "About a line or a woodlot")
    views.pick(page, "3")
    views.save(page)
    assert views.wait_for(Note, 2).line == lines[2]


def test_a_note_may_be_about_a_whole_woodlot(field_page, lines):
    page = field_page("note/")
    page.get_by_label("1. Note").fill("Gate is locked")
    views.unfold(page, "About a line or a woodlot")
    views.choose(page, "Tamarack Hollow")
    views.save(page)
    assert views.wait_for(Note).woodlot == lines[0].woodlot


def test_an_empty_note_is_not_saved(field_page):
    page = field_page("note/")
    assert views.try_to_save(page) == "Write something first."
    assert not Note.objects.exists()


@pytest.mark.parametrize(
    ("path", "model"), [("tally/", TapTally), ("obstruction/", Obstruction), ("note/", Note)]
)
def test_one_touch_takes_any_of_them_back(field_page, path, model):
    page = field_page(path)
    if path == "note/":
        page.get_by_label("1. Note").fill("Bear on the ridge")
    else:
        first_line(page)
        page.locator(".add, .work-hands").first.tap()
    views.save(page)
    views.wait_for(model)
    views.touch(page, "Undo: take this back")
    assert views.soon(lambda: model.objects.get().voided_at is not None)
    assert not LeakCheck.objects.exists()

"""A check logged with a gloved thumb on a phone of 390 by 844."""

import pytest
from django.urls import reverse

from apps.leaks.models import LeakCheck
from tests.factories import leaks
from tests.factories import operation as people

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

SMALLEST_TARGET_PX = 56
# What a finger can aim at: a radio's target is the whole label around it.
TARGETS = """() => [...document.querySelectorAll(
    "a, button, summary, select, textarea, input:not([type=hidden])")]
  .filter((it) => it.checkVisibility() && !it.matches(".skip"))
  .map((it) => (it.matches("[type=radio]") ? it.closest("label") : it))
  .map((it) => [it.outerHTML.slice(0, 80), it.getBoundingClientRect()])
  .map(([html, box]) => ({ html, width: box.width, height: box.height }))"""
COUNT_TOUCHES = """() => {
  sessionStorage.touches = 0;
}"""


@pytest.fixture
def line(fixed_clock):
    people.crew("sol")
    for number in range(2, 6):
        leaks.a_line(f"L{number}", planned_taps=10)
    return leaks.a_line("L1", planned_taps=400)


@pytest.fixture
def check_page(phone, live_server, sign_in, line):
    """The page, signed in, counting every touch on it from here on."""
    phone.add_init_script(
        """addEventListener("pointerdown", () => {
             sessionStorage.touches = Number(sessionStorage.touches ?? 0) + 1;
           }, true);"""
    )
    sign_in(phone, "sol")
    phone.goto(live_server.url + reverse("field:check"))
    phone.evaluate(COUNT_TOUCHES)
    return phone


def touches(page):
    return int(page.evaluate("sessionStorage.touches"))


def touch(page, text):
    page.get_by_text(text, exact=True).first.tap()


def test_three_touches_record_a_check(check_page, line):
    touch(check_page, "L1")
    touch(check_page, "Leak left")
    touch(check_page, "3. Save")
    check_page.wait_for_selector("h1:has-text('Saved')")
    assert touches(check_page) == 3
    check = LeakCheck.objects.get()
    assert (check.line, check.state) == (line, "leak_left")


def test_line_state_and_save_share_the_first_screen(check_page):
    save = check_page.get_by_role("button", name="3. Save").bounding_box()
    for value in ("tight", "leak_fixed", "leak_left", "frozen"):
        box = check_page.locator(f".state.{value}").bounding_box()
        assert box["y"] >= 0
        assert box["y"] + box["height"] <= save["y"]
    assert save["y"] + save["height"] <= 844


def test_they_share_it_under_the_demos_bar_too(check_page, settings):
    settings.THAWLINE_DEMO = True
    check_page.reload()
    assert check_page.locator(".demo-bar").is_visible()
    test_line_state_and_save_share_the_first_screen(check_page)


def test_a_long_list_of_lines_is_a_few_lines_of_text_a_row(check_page, live_server, line):
    check_page.goto(live_server.url + reverse("leaks:lines"))
    rows = check_page.locator("table tbody tr:not(.group)").all()
    assert len(rows) == 5
    assert max(row.bounding_box()["height"] for row in rows) < 180
    why = check_page.get_by_text("what it loses is unknown").first
    assert not why.is_visible()
    check_page.locator(".why summary").first.tap()
    assert why.is_visible()


def test_a_fourth_touch_takes_it_back(check_page):
    touch(check_page, "L1")
    touch(check_page, "Tight")
    touch(check_page, "3. Save")
    touch(check_page, "Undo: take this check back")
    check_page.wait_for_selector("h1:has-text('Taken back')")
    assert touches(check_page) == 4
    assert LeakCheck.objects.get().voided


def small_targets(page):
    found = page.evaluate(TARGETS)
    assert len(found) > 10
    small = [it for it in found if min(it["width"], it["height"]) < SMALLEST_TARGET_PX]
    return [it["html"] for it in small]


def test_every_target_is_large_enough_for_a_glove(check_page):
    for summary in check_page.locator("main summary").all():
        summary.tap()
    check_page.get_by_text("Menu", exact=True).tap()
    assert small_targets(check_page) == []


def test_the_targets_after_saving_are_as_large(check_page, line):
    leaks.check(line, "leak_left", hours=5, place_drops=3)
    touch(check_page, "L1")
    touch(check_page, "Leak fixed")
    touch(check_page, "3. Save")
    check_page.wait_for_selector("text=Did it work?")
    check_page.get_by_text("Menu", exact=True).tap()
    assert small_targets(check_page) == []


def test_the_page_never_scrolls_sideways(check_page):
    for summary in check_page.locator("main summary").all():
        summary.tap()
    assert check_page.evaluate("document.documentElement.scrollWidth") <= 390


def test_the_reading_steps_by_half_an_inch_from_the_target(check_page):
    touch(check_page, "More: readings, cause, place, note")
    field = check_page.get_by_label("Reading before (inHg)")
    readings = []
    for name in ("Less by 0.5", "Less by 0.5", "More by 0.5"):
        check_page.get_by_role("button", name=name).first.tap()
        readings.append(field.input_value())
    assert readings == ["26.0", "25.5", "26.0"]


def test_typing_a_number_lets_go_of_the_line_touched_before(check_page):
    touch(check_page, "L1")
    touch(check_page, "Another line: type or choose")
    check_page.get_by_label("Line number").fill("4")
    assert check_page.locator("input[name=line]:checked").count() == 0
    touch(check_page, "Frozen: no verdict")
    touch(check_page, "3. Save")
    check_page.wait_for_selector("h1:has-text('Saved')")
    assert LeakCheck.objects.get().line.label == "L4"


def test_without_scripts_three_touches_record_a_check(page_at, live_server, sign_in, line):
    bare = page_at(390, 844, has_touch=True, is_mobile=True, java_script_enabled=False)
    sign_in(bare, "sol")
    bare.goto(live_server.url + reverse("field:check"))
    touch(bare, "L1")
    touch(bare, "Tight")
    touch(bare, "3. Save")
    bare.wait_for_selector("h1:has-text('Saved')")
    assert LeakCheck.objects.get().line == line

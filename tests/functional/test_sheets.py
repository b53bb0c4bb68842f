"""Tags and paper as the printer gets them, and a sheet typed in without leaving the keyboard."""

import io

import numpy as np
import pytest
from django.urls import reverse
from PIL import Image

from apps.field import tags
from apps.leaks.models import LeakCheck
from tests import qr
from tests.factories import operation as people
from tests.factories import woods

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
BASE = "https://sugarhouse.local:8443"


@pytest.fixture
def lot(fixed_clock, settings):
    settings.THAWLINE_ADDRESS = BASE
    people.crew("sol")
    lot = woods.woodlot("Home Hill")
    for number in (1, 2, 3, 10):
        woods.line(lot, f"L{number}", planned_taps=100)
    return lot


@pytest.fixture
def opened(desk, live_server, sign_in, lot):
    sign_in(desk, "sol")

    def go(name, query=""):
        desk.goto(live_server.url + reverse(f"field:{name}", args=[lot.pk]) + query)
        return desk

    return go


def codes_seen(page):
    """What a reader makes of the page as it is painted, from the top left on."""
    image = Image.open(io.BytesIO(page.screenshot(full_page=True))).convert("L")
    return qr.read(np.asarray(image))


def pages_of(pdf: bytes) -> int:
    return pdf.count(b"/Type /Page\n")


def test_every_tag_on_the_screen_is_read_by_a_reader(opened):
    page = opened("tags")
    assert sorted(codes_seen(page)) == sorted(
        f"{BASE}/field/line/home-hill/L{number}/" for number in (1, 2, 3, 10)
    )


def test_a_code_stays_black_on_white_in_the_dark(opened, desk):
    desk.emulate_media(color_scheme="dark")
    assert len(codes_seen(opened("tags"))) == 4


def test_on_paper_a_tag_is_as_large_as_it_says(opened, desk):
    page = opened("tags")
    desk.emulate_media(media="print")
    box = page.locator(".tag").first.bounding_box()
    picture = page.locator(".tag img").first.bounding_box()
    # CSS Values 3 (2024), 6.2: 96 px are an inch, 25.4 mm.
    assert (box["width"], box["height"]) == pytest.approx((90 * 96 / 25.4, 48 * 96 / 25.4), abs=1)
    assert picture["width"] == pytest.approx(40 * 96 / 25.4, abs=1)


@pytest.mark.parametrize("paper", ["Letter", "A4"])
@pytest.mark.parametrize(("lines", "pages"), [(4, 1), (10, 1), (11, 2), (30, 3)])
def test_tags_come_ten_to_a_page(opened, lot, paper, lines, pages):
    for number in range(20, 20 + lines - 4):
        woods.line(lot, f"L{number}")
    assert pages_of(opened("tags").pdf(format=paper)) == pages


@pytest.mark.parametrize("paper", ["Letter", "A4"])
@pytest.mark.parametrize(("lines", "pages"), [(4, 1), (36, 1), (37, 1), (72, 1), (73, 2), (144, 2)])
def test_a_woodlots_paper_form_is_one_page_up_to_72_lines(opened, lot, paper, lines, pages):
    woods.many_lines(woods.woodlot("Else"), 3)
    for number in range(20, 20 + lines - 4):
        woods.line(lot, f"L{number}")
    assert pages_of(opened("paper").pdf(format=paper)) == pages


@pytest.mark.parametrize("lines", [4, 60])
def test_no_column_of_the_paper_form_is_cut_off(opened, lot, desk, lines):
    for number in range(20, 16 + lines):
        woods.line(lot, f"R12-{number}")
    page = opened("paper")
    # The width of a letter sheet less its margins, in px.
    desk.set_viewport_size({"width": round((8.5 * 25.4 - 22) * 96 / 25.4), "height": 900})
    desk.emulate_media(media="print")
    widths = page.locator(".sheet").evaluate_all(
        "all => all.map(it => [it.scrollWidth, it.parentElement.clientWidth])"
    )
    columns = 1 if lines <= 36 else 2
    assert len(widths) == columns
    assert all(table <= around / columns for table, around in widths)


@pytest.fixture
def typing(opened):
    page = opened("paper_entry", "?order=label")
    page.get_by_label("About when").fill("06:30")
    return page


def focused(page):
    return page.evaluate("document.activeElement.getAttribute('aria-label')")


def test_a_sheet_is_typed_in_by_the_keyboard_alone(typing, lot):
    typing.get_by_label("Go to line").focus()
    for key in ("1", "Enter", "t", "Enter", "f", "Enter", "Enter", "z", "Enter"):
        typing.keyboard.press(key)
    # After the last line Enter stands on the button, and once more it saves.
    typing.keyboard.press("Enter")
    typing.wait_for_selector("h1:has-text('sheet typed in')")
    states = dict(LeakCheck.objects.values_list("line__label", "state"))
    assert states == {"L1": "tight", "L2": "leak_fixed", "L10": "frozen"}


def test_the_state_typed_is_said_in_words_beside_it(typing):
    row = typing.locator("tr[data-line=L2]")
    words = []
    for key in "tflzx":
        row.locator(".state-key").fill(key)
        words.append(row.locator(".state-words").inner_text())
    expected = ["Tight", "Leak fixed", "Leak left", "Frozen: no verdict", "No such state"]
    assert words == expected
    assert typing.locator("#entry-count").inner_text() == "1 of 4 lines have a state."


@pytest.mark.parametrize(
    ("typed", "line"), [("L3", "L3"), ("l3", "L3"), ("10", "L10"), ("1", "L1")]
)
def test_a_line_is_found_by_its_number(typing, typed, line):
    box = typing.get_by_label("Go to line")
    box.fill(typed)
    box.press("Enter")
    assert focused(typing) == f"{line}: state, T, F, L or Z"


def test_an_unknown_line_leaves_one_where_one_was(typing):
    box = typing.get_by_label("Go to line")
    box.fill("77")
    box.press("Enter")
    assert typing.evaluate("document.activeElement.id") == "goto"
    assert LeakCheck.objects.count() == 0


def test_arrows_go_up_and_down_and_tab_to_the_readings(typing):
    typing.locator("tr[data-line=L1] .state-key").focus()
    seen = []
    for key in ("ArrowDown", "ArrowDown", "ArrowUp", "Tab", "Enter"):
        typing.keyboard.press(key)
        seen.append(focused(typing).split(",")[0])
    assert seen == ["L2: state", "L3: state", "L2: state", "L2: reading before", "L3: state"]


def test_a_cause_is_chosen_by_its_number_on_the_paper(typing):
    select = typing.locator("tr[data-line=L1] select")
    select.focus()
    typing.keyboard.press("2")
    assert select.evaluate("it => it.selectedOptions[0].textContent") == "2 Limb or tree down"


def test_control_and_enter_save_from_anywhere(typing):
    typing.locator("tr[data-line=L3] .state-key").fill("L")
    typing.keyboard.press("Control+Enter")
    typing.wait_for_selector("h1:has-text('sheet typed in')")
    assert LeakCheck.objects.get().state == "leak_left"


def test_leaving_with_something_typed_asks_first(typing, live_server):
    asked = []
    typing.on("dialog", lambda dialog: (asked.append(dialog.type), dialog.accept()))
    typing.locator("tr[data-line=L3] .state-key").press("t")
    typing.goto(live_server.url + reverse("field:sheets"))
    assert asked == ["beforeunload"]


def test_after_a_bad_row_the_keyboard_stands_on_it(typing):
    typing.locator("tr[data-line=L1] .state-key").fill("t")
    typing.locator("tr[data-line=L3] .state-key").fill("q")
    typing.get_by_role("button", name="Save the sheet").click()
    typing.wait_for_selector("text=nothing typed is lost")
    assert focused(typing) == "L3: state, T, F, L or Z"
    assert typing.locator("tr[data-line=L1] .state-key").input_value() == "t"


def test_without_scripts_a_sheet_is_typed_in_all_the_same(page_at, live_server, sign_in, lot):
    bare = page_at(1366, 900, java_script_enabled=False)
    sign_in(bare, "sol")
    bare.goto(live_server.url + reverse("field:paper_entry", args=[lot.pk]))
    bare.get_by_label("About when").fill("06:30")
    bare.get_by_label("L2: state, T, F, L or Z").fill("l")
    bare.get_by_role("button", name="Save the sheet").click()
    bare.wait_for_selector("h1:has-text('sheet typed in')")
    assert LeakCheck.objects.get().line.label == "L2"


@pytest.mark.parametrize("label", ["L7", "North 3", "A/3", "50%"])
def test_what_a_tag_says_chooses_its_line_on_the_phone(field_page, fixed_clock, settings, label):
    lot = woods.woodlot("Home Hill")
    people.crew("sol")
    # The phone's page waits for a list that has a line in it.
    woods.line(lot, "L1", planned_taps=10)
    woods.line(lot, label, planned_taps=10)
    (tag,) = tags.tags_of(lot, BASE, only=label)
    path = qr.read_data_uri(tag.code).removeprefix(f"{BASE}/field/")
    page = field_page(path)
    assert page.locator(".chosen strong").inner_text() == label

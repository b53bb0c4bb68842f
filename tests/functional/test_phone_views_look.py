"""Every page of the phone, in sun and in the dark: reachable, readable, large enough, by keys."""

import pytest
from axe_playwright_python.sync_playwright import Axe

from apps.leaks.models import LeakCheck
from tests.factories import leaks, sugarhouse, woods
from tests.factories import operation as people
from tests.functional import phone as phones
from tests.functional import phone_views as views

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

SMALLEST_TARGET_PX = 56
# As many as the lines below come with.
CHECKS = 3
PAGES = [
    "",
    "check/",
    "line/tamarack-hollow/L2/",
    "tally/",
    "pull/",
    "dip/",
    "gauge/",
    "obstruction/",
    "note/",
    "outbox/",
]
# What a finger can aim at: a radio's or a tick's target is the whole label around it.
TARGETS = """() => [...document.querySelectorAll(
    "a, button, summary, select, textarea, input:not([type=hidden])")]
  .filter((it) => it.checkVisibility() && !it.matches(".skip, .unseen"))
  .map((it) => (it.matches("[type=radio], [type=checkbox]") ? it.closest("label") : it))
  .map((it) => [it.outerHTML.slice(0, 90), it.getBoundingClientRect()])
  .map(([html, box]) => ({ html, width: box.width, height: box.height }))"""


@pytest.fixture(autouse=True)
def lines(fixed_clock):
    """Three woodlots of lines with long names, leaks and storms among them."""
    sol = people.crew("sol")
    marek = people.crew("marek")
    hollow = woods.woodlot()
    rows = [leaks.a_line(f"L{n}", woodlot=hollow, planned_taps=99 - n) for n in range(1, 8)]
    far = woods.woodlot("Old Sugarhouse Ridge, upper")
    leaks.a_line("M12-3", woodlot=far, planned_taps=1200)
    woods.pump_house(hollow)
    woods.pump_house(far, "Pump house by the brook, upper")
    sugarhouse.tank("Round tank")
    sugarhouse.tank("Horizontal cylinder at the road")
    leaks.check(rows[0], "frozen", hours=2, crew=marek)
    leaks.check(rows[1], "leak_left", hours=50, crew=sol)
    leaks.check(rows[2], "tight", hours=1, crew=marek)
    leaks.obstruction(rows[3], "chainsaw", hours=40, note="a whole crown across the main")
    return rows


def opened(page):
    """Everything that can be unfolded is."""
    for summary in page.locator("summary").all():
        summary.tap()
    return page


def filled(field_page, path, **options):
    """The page in the middle of the work: something waits, and everything is unfolded."""
    page = field_page("check/", **options)
    views.cut_off(page)
    page.locator(".next-lines label").nth(1).tap()
    page.locator(".state-leak_fixed").tap()
    views.save(page)
    if path != "check/":
        page = field_page(path)
        page.wait_for_selector("main > *:nth-child(2)", state="attached")
    return opened(page)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("path", PAGES)
def test_axe_finds_nothing_against_the_page(field_page, path, scheme):
    page = filled(field_page, path, color_scheme=scheme)
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()


@pytest.mark.parametrize("path", PAGES)
def test_every_target_is_large_enough_for_a_glove_and_nothing_runs_off(field_page, path):
    page = filled(field_page, path)
    found = page.evaluate(TARGETS)
    assert len(found) >= 8
    small = [it for it in found if min(it["width"], it["height"]) < SMALLEST_TARGET_PX]
    assert small == []
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


def test_no_part_of_the_page_is_styled_or_scripted_in_line(field_page):
    page = filled(field_page, "check/")
    assert page.locator("[style], [onclick], style, script:not([src])").count() == 0


def press(page, *keys):
    for key in keys:
        page.keyboard.press(key)


def tab_to(page, selector):
    """Tab on until the focus is inside of what is meant."""
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.evaluate("(it) => document.activeElement.closest(it) !== null", selector):
            return
    raise AssertionError(f"the Tab key never reaches {selector}")


def test_a_check_is_logged_and_taken_back_with_keys_alone(field_page, lines):
    page = field_page("check/")
    tab_to(page, ".next-lines")
    press(page, "Space")
    tab_to(page, ".states")
    press(page, "ArrowDown", "ArrowDown")
    tab_to(page, ".savebar")
    press(page, "Enter")
    page.wait_for_selector(".saved h2")
    check = views.wait_for(LeakCheck, CHECKS + 1)
    assert check.state == "leak_left"
    # From the heading the next stop is Undo.
    press(page, "Tab", "Enter")
    page.wait_for_selector("h2:has-text('Taken back')")
    assert views.soon(lambda: LeakCheck.objects.get(pk=check.pk).voided)


def test_digits_typed_on_a_keyboard_reach_the_pad(field_page, lines):
    page = field_page("check/")
    # The walk's first line is in the other woodlot, and numbers are looked up within one.
    tab_to(page, "select")
    press(page, "ArrowDown")
    tab_to(page, ".pad")
    press(page, "5")
    tab_to(page, ".states")
    press(page, "Space")
    tab_to(page, ".savebar")
    press(page, "Enter")
    assert views.wait_for(LeakCheck, CHECKS + 1).line == lines[4]


def test_the_focus_can_be_seen_wherever_it_is(field_page):
    page = field_page("check/")
    tab_to(page, ".next-lines")
    ring = "getComputedStyle(document.activeElement.closest('.choice')).outlineWidth"
    assert page.evaluate(ring) == "4px"


def test_what_was_saved_is_spoken(field_page):
    page = field_page("check/")
    page.locator(".next-lines label").first.tap()
    page.locator(".state-tight").tap()
    views.save(page)
    said = page.locator("#said[role=status]")
    assert views.soon(lambda: "Saved on this phone: " in said.inner_text())


def test_the_walk_keeps_the_ranked_order_and_says_taps_state_and_days(field_page):
    page = field_page()
    rows = page.locator("main > div > ul a.line").all_inner_texts()
    # Frozen is no verdict, so L1 stays; L3 was found tight today and is done.
    labels = [row.split()[0] for row in rows]
    stored = phones.run(page, "(await (await load('data')).cached()).data.lines")
    assert labels == [label for _, _, label, *_ in stored if label != "L3"]
    assert len(labels) == 7
    leaking = next(row for row in rows if row.startswith("L2"))
    assert "97 taps · Leak left · 2 days ago" in leaking
    views.unfold(page, "Done today: 1 line")
    assert "L3" in page.locator("details a.line").inner_text()


def test_the_walk_is_narrowed_to_one_woodlot(field_page):
    page = field_page()
    views.choose(page, "Old Sugarhouse Ridge")
    page.get_by_text("To walk: 1 line").wait_for()
    assert page.locator("main > div a.line strong").first.inner_text() == "M12-3"


def later(page, hours):
    """Open the page anew, hours later, with no server to be had."""
    # A list still on its way would arrive with the later time on it.
    page.wait_for_load_state("networkidle")
    page.route("**/data.json*", lambda route: route.abort())
    page.clock.install(time=page.evaluate("Date.now()") / 1000 + hours * 3600)
    page.reload()


@pytest.mark.parametrize(
    ("hours", "says"),
    [(1, "List as of"), (13, "This list is 13 h old"), (50, "This list is 2 days old")],
)
def test_an_old_list_says_so_loudly(field_page, hours, says):
    page = field_page()
    later(page, hours)
    page.get_by_text(says).wait_for()
    assert (page.locator(".notice.error").count() == 1) == (hours > 12)


def test_a_clock_set_back_leaves_the_age_untold(field_page):
    page = field_page()
    later(page, -2)
    page.get_by_text("how old the list is cannot be told").wait_for()


def test_on_the_next_day_what_was_done_is_to_walk_again(field_page):
    page = field_page()
    later(page, 26)
    page.get_by_text("Done today: 0 lines").wait_for()
    row = page.locator("a.line", has_text="L3").first.inner_text()
    assert "Tight · yesterday" in row or "Tight · 2 days ago" in row


def test_without_a_list_every_page_says_what_to_do(field_context, live_server):
    page = field_context()
    for path in ("", "check/"):
        page.goto(f"{live_server.url}/field/{path}")
        page.get_by_text("This phone has no list of lines yet.").wait_for()
    page.goto(f"{live_server.url}/field/outbox/")
    page.get_by_text("Nobody has signed in on this phone yet.").wait_for()


def test_ready_is_said_only_when_all_is_stored(woods_phone):
    page = woods_phone.boot()
    woods_phone.visit(page)
    ready = page.locator("#ready")
    ready.get_by_text("Not ready for the woods:").wait_for()
    assert "nobody has signed in yet" in ready.inner_text()
    woods_phone.sign_in(page, "sol")
    woods_phone.visit(page)
    phones.until_ready(page)
    ready.get_by_text("Ready for the woods", exact=True).wait_for()


def test_moves_between_the_pages_ask_the_network_for_nothing(field_page):
    page = field_page()
    page.wait_for_timeout(500)
    asked = []
    page.on("request", lambda request: asked.append(request.url))
    page.get_by_role("link", name="Leak check").tap()
    page.locator("h1", has_text="Leak check").wait_for()
    page.go_back()
    page.locator("h1", has_text="Today's walk").wait_for()
    # The browser draws its own tab's icon anew; nothing else is asked.
    assert [url for url in asked if not url.endswith("/img/thawline.svg")] == []


def test_skipping_to_the_page_keeps_a_form_half_filled_in(field_page):
    page = field_page("check/")
    views.pick(page, "5")
    page.locator(".skip").focus()
    press(page, "Enter")
    page.wait_for_timeout(200)
    assert page.locator(".typed").inner_text().strip() == "5"

"""A leak check on the phone's own pages: line, state, save, and one touch to take it back."""

import pytest
from django.urls import reverse

from apps.leaks.models import LeakCheck
from tests.factories import leaks, woods
from tests.factories import operation as people
from tests.functional import phone_views as views

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

STATES = ["tight", "leak_fixed", "leak_left", "frozen"]


@pytest.fixture(autouse=True)
def lines(fixed_clock):
    """Twelve lines of one woodlot, L1 first in the walk."""
    people.crew("sol")
    return [leaks.a_line(f"L{number}", planned_taps=500 - number) for number in range(1, 13)]


def logged(page, state="tight"):
    """Log the first line offered and give back the row."""
    page.locator(".next-lines label").first.tap()
    page.locator(f".state-{state}").tap()
    views.save(page)
    return views.wait_for(LeakCheck)


def test_three_touches_from_the_walk_record_a_check(field_page, lines):
    page = field_page()
    views.count_touches(page)
    page.locator("a.line").first.tap()
    page.locator(".state-leak_left").tap()
    views.save(page)
    assert views.touches(page) == 3
    check = views.wait_for(LeakCheck)
    assert (check.line, check.state, check.crew.username) == (lines[0], "leak_left", "sol")


def test_three_touches_on_the_check_page_record_a_check(field_page, lines):
    page = field_page("check/")
    views.count_touches(page)
    check = logged(page, "tight")
    assert views.touches(page) == 3
    assert (check.line, check.state) == (lines[0], "tight")


def test_a_fourth_touch_takes_it_back(field_page):
    page = field_page("check/")
    views.count_touches(page)
    check = logged(page)
    views.touch(page, "Undo: take this back")
    page.wait_for_selector("h2:has-text('Taken back')")
    assert views.touches(page) == 4
    assert views.soon(lambda: LeakCheck.objects.get(pk=check.pk).voided)


def test_what_was_taken_back_is_logged_again_with_the_right_state(field_page, lines):
    page = field_page("check/")
    logged(page)
    views.touch(page, "Undo: take this back")
    views.touch(page, "Log it again")
    page.locator(".state-leak_left").tap()
    views.save(page)
    check = views.wait_for(LeakCheck, 2)
    assert (check.line, check.state, check.voided) == (lines[0], "leak_left", False)


def test_no_state_is_chosen_beforehand(field_page):
    page = field_page("check/")
    assert page.locator("input[name=state]").count() == 4
    assert page.locator("input[name=state]:checked").count() == 0


@pytest.mark.parametrize(
    ("touch", "says"),
    [
        (".state-tight", "Touch a line first."),
        (".next-lines label", "Touch one of the four states."),
    ],
)
def test_a_save_that_lacks_something_says_what_and_saves_nothing(field_page, touch, says):
    page = field_page("check/")
    page.locator(touch).first.tap()
    assert views.try_to_save(page) == says
    page.wait_for_timeout(300)
    assert not LeakCheck.objects.exists()


def test_save_names_the_line_and_the_state_it_will_save(field_page):
    page = field_page("check/")
    views.pick(page, "12")
    page.locator(".state-frozen").tap()
    page.get_by_role("button", name="3. Save L12: frozen: no verdict").wait_for()


def test_line_state_and_save_share_the_first_screen(field_page):
    page = field_page("check/")
    save = page.locator(".savebar").bounding_box()
    for state in STATES:
        box = page.locator(f".state-{state}").bounding_box()
        assert box["y"] + box["height"] <= save["y"]
    assert save["y"] + save["height"] <= 844


def test_the_number_pad_finds_the_line_and_the_last_digit_decides(field_page, lines):
    page = field_page("check/")
    views.pick(page, "12")
    page.locator(".state-tight").tap()
    views.save(page)
    assert views.wait_for(LeakCheck).line == lines[11]


def test_rubbing_out_a_digit_goes_back_to_the_shorter_number(field_page, lines):
    page = field_page("check/")
    views.pick(page, "12")
    views.touch(page, "Rub out the last")
    page.locator(".state-tight").tap()
    views.save(page)
    assert views.wait_for(LeakCheck).line == lines[0]


def test_a_number_nobody_has_chooses_no_line(field_page):
    page = field_page("check/")
    views.pick(page, "77")
    page.get_by_text("No such line here.").wait_for()
    page.locator(".state-tight").tap()
    assert views.try_to_save(page) == "Touch a line first."


def test_a_number_is_looked_up_in_the_woodlot_chosen(field_page):
    other = leaks.a_line("L1", woodlot=woods.woodlot("Hemlock Rise"))
    page = field_page("check/")
    page.get_by_label("Woodlot").select_option("Hemlock Rise")
    views.pick(page, "1")
    page.locator(".state-tight").tap()
    views.save(page)
    assert views.wait_for(LeakCheck).line == other


def test_a_line_of_the_list_is_touched_and_stays_in_sight(field_page, lines):
    page = field_page("check/")
    views.choose(page, "List")
    page.locator(".rows label", has_text="L9").tap()
    assert page.locator(".chosen").inner_text().startswith("L9")
    page.locator(".state-tight").tap()
    views.save(page)
    assert views.wait_for(LeakCheck).line == lines[8]


def test_another_page_chooses_the_line(field_page, lines):
    page = field_page(f"check/?line={lines[4].pk}")
    assert page.locator(".chosen strong").inner_text() == "L5"


def test_a_tags_link_chooses_its_line(field_page):
    page = field_page("line/tamarack-hollow/L7/")
    assert page.locator(".chosen strong").inner_text() == "L7"


def test_a_tag_of_an_unknown_line_says_so_and_lets_choose(field_page):
    page = field_page("line/tamarack-hollow/L99/")
    page.get_by_text("The tag says line L99").wait_for()
    assert page.locator(".pad").is_visible()


def test_frozen_says_no_verdict_and_the_line_stays_to_be_walked(field_page, lines):
    page = field_page("check/")
    logged(page, "frozen")
    page.get_by_text("the line does not count as walked").wait_for()
    page.locator(".home").tap()
    first = page.locator("a.line").first
    assert "Frozen: no verdict" in first.inner_text()
    assert first.inner_text().startswith("L1")
    page.get_by_text("To walk: 12 lines").wait_for()


def test_a_line_with_a_verdict_drops_out_of_the_walk_at_once(field_page):
    page = field_page("check/")
    views.cut_off(page)
    page.locator(".next-lines label").first.tap()
    page.locator(".state-tight").tap()
    views.save(page)
    page.locator(".home").tap()
    page.get_by_text("To walk: 11 lines").wait_for()
    views.unfold(page, "Done today: 1 line")
    assert "Tight · today" in page.locator("details a.line").inner_text()


def test_the_next_line_is_offered_and_leads_to_its_state(field_page, lines):
    page = field_page("check/")
    logged(page)
    views.touch(page, "Next: L2")
    assert page.locator(".chosen strong").inner_text() == "L2"
    page.locator(".state-tight").tap()
    views.save(page)
    assert views.wait_for(LeakCheck, 2).line == lines[1]


def test_the_card_says_waiting_until_the_server_has_it(field_page):
    page = field_page("check/")
    views.cut_off(page)
    page.locator(".next-lines label").first.tap()
    page.locator(".state-tight").tap()
    views.save(page)
    page.get_by_text("On this phone, waiting to be sent.").wait_for()
    assert not LeakCheck.objects.exists()
    views.connect(page)
    page.evaluate("dispatchEvent(new Event('online'))")
    page.get_by_text("Sent: the server has it.").wait_for()
    assert LeakCheck.objects.count() == 1


def test_two_touches_on_save_are_one_check(field_page):
    page = field_page("check/")
    page.locator(".next-lines label").first.tap()
    page.locator(".state-tight").tap()
    page.evaluate("""() => {
      const button = document.querySelector(".savebar button");
      button.click();
      button.click();
    }""")
    page.wait_for_selector(".saved h2")
    views.wait_for(LeakCheck)
    page.wait_for_timeout(500)
    assert LeakCheck.objects.count() == 1


def test_what_another_logged_today_stands_beside(field_page, lines):
    page = field_page("check/")
    leaks.check(lines[0], "tight", hours=1, crew=people.crew("marek"))
    page.locator(".next-lines label").first.tap()
    page.locator(".state-leak_left").tap()
    views.save(page)
    page.locator(".saved", has_text="Marek logged L1 today 06:00: tight.").wait_for()
    assert LeakCheck.objects.count() == 2


def test_it_stands_beside_the_line_too_when_it_is_chosen_again(field_page, lines):
    page = field_page("check/")
    leaks.check(lines[0], "tight", hours=1, crew=people.crew("marek"))
    page.locator(".next-lines label").first.tap()
    page.locator(".state-leak_left").tap()
    views.save(page)
    page.locator(".saved", has_text="Marek").wait_for()
    views.pick(page, "1")
    page.locator("form .notice", has_text="Marek logged L1 today 06:00: tight.").wait_for()


def test_the_old_form_and_the_shell_know_of_each_other(client):
    shell = client.get(reverse("field:phone_check")).content.decode()
    assert f'href="{reverse("field:check")}"' in shell

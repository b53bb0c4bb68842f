"""The half-minute valve test: told by clocks, kept awake, honest about a screen that was off."""

import pytest

from tests.factories import leaks
from tests.factories import operation as people
from tests.functional import phone as phones
from tests.functional import phone_views as views

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

# Stand-ins that keep a record of being asked, since a test's browser shows neither.
EARS = """() => {
  window.asked = { lock: 0, buzz: 0, tone: 0 };
  navigator.wakeLock.request = async () => {
    window.asked.lock += 1;
    return { release: async () => {} };
  };
  navigator.vibrate = () => (window.asked.buzz += 1);
  const make = AudioContext.prototype.createOscillator;
  AudioContext.prototype.createOscillator = function () {
    window.asked.tone += 1;
    return make.call(this);
  };
}"""
HIDE = """(state) => {
  Object.defineProperty(document, "visibilityState", { value: state, configurable: true });
  document.dispatchEvent(new Event("visibilitychange"));
}"""


@pytest.fixture
def timer(field_page, fixed_clock):
    """The check page with its timer unfolded and the browser's clock in the test's hands."""
    people.crew("sol")
    leaks.a_line("L1", planned_taps=40)
    page = field_page("check/")
    page.evaluate(EARS)
    views.unfold(page, "Valve test")
    page.clock.install()
    return page


def shown(page) -> str:
    return page.locator(".timer").inner_text()


def test_it_counts_half_a_minute_and_then_says_so(timer):
    views.touch(timer, "Start the half minute")
    timer.clock.run_for(12_000)
    assert shown(timer) == "18 s"
    timer.clock.run_for(19_000)
    assert shown(timer) == "Done"
    timer.get_by_text("The half minute is over: read the gauge.").first.wait_for()
    assert timer.evaluate("window.asked") == {"lock": 1, "buzz": 1, "tone": 1}


def test_a_page_that_was_stopped_tells_how_long_ago_it_ended(timer):
    views.touch(timer, "Start the half minute")
    # The clock goes on while no tick of the page comes through, as with the screen off.
    timer.clock.fast_forward(75_000)
    assert shown(timer) == "Done"
    timer.get_by_text("It ended 45 s ago, while this page was not in view.").wait_for()


def test_it_asks_to_stay_awake_again_when_it_comes_back_into_view(timer):
    views.touch(timer, "Start the half minute")
    timer.clock.run_for(5_000)
    timer.evaluate(HIDE, "hidden")
    timer.evaluate(HIDE, "visible")
    assert timer.evaluate("window.asked.lock") == 2


def test_out_of_view_it_neither_buzzes_nor_sounds(timer):
    views.touch(timer, "Start the half minute")
    timer.evaluate(HIDE, "hidden")
    timer.clock.run_for(31_000)
    assert timer.evaluate("[window.asked.buzz, window.asked.tone]") == [0, 0]


def test_it_can_be_stopped_and_started_anew(timer):
    views.touch(timer, "Start the half minute")
    timer.clock.run_for(10_000)
    views.touch(timer, "Stop")
    assert shown(timer) == "30 s"
    timer.clock.run_for(40_000)
    assert timer.evaluate("window.asked.buzz") == 0


def test_it_runs_on_through_a_look_at_another_page(timer):
    views.touch(timer, "Start the half minute")
    timer.clock.run_for(5_000)
    timer.locator(".home").tap()
    timer.clock.run_for(5_000)
    timer.get_by_role("link", name="Leak check").tap()
    timer.clock.run_for(1_000)
    assert shown(timer) in {"19 s", "20 s"}


def test_a_phone_that_refuses_to_stay_awake_is_no_hindrance(timer):
    timer.evaluate("() => { navigator.wakeLock.request = () => Promise.reject(new Error()); }")
    views.touch(timer, "Start the half minute")
    timer.clock.run_for(31_000)
    assert shown(timer) == "Done"


@pytest.mark.parametrize(
    ("wall_s", "mono_s", "gone_s"),
    [
        (12, 12, 12),
        # Set back by an hour in the middle: the page's own counter tells.
        (-3588, 12, 12),
        # The counter slept with the screen: the clock tells.
        (45, 3, 45),
        (0, 0, 0),
    ],
)
def test_the_time_gone_is_what_neither_fault_made_short(timer, wall_s, mono_s, gone_s):
    from_here = {"wall": 5_000_000_000_000, "mono": 7_000}
    to_there = {"wall": from_here["wall"] + wall_s * 1000, "mono": 7_000 + mono_s * 1000}
    script = "(await load('timer')).secondsGone(...it)"
    assert phones.run(timer, script, [from_here, to_there]) == gone_s


def test_it_promises_no_sound_with_the_screen_off_and_no_verdict_on_a_still_line(timer):
    words = timer.locator("details", has_text="Valve test").inner_text()
    assert "With the screen off no sound and no buzz will come" in words
    assert "No rise says tight only while sap is moving" in words
    assert "(Common practice, no source.)" in words
    # Half an inch of mercury, in the operation's own unit.
    assert "Up by 0.5 inHg or more" in words

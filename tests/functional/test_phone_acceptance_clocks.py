"""Wrong clocks in a real browser: what the form saves, what the books make of it, both kept.

Each page reads its wall clock and its timer from a phone whose true time is known; the server's
clock is true. What is asserted is true time, never the browser's.
"""

from datetime import UTC, datetime, timedelta
from itertools import pairwise

import pytest

from apps.field.models import Receipt
from apps.leaks.models import LeakCheck
from tests.factories import operation as people
from tests.functional import hillside
from tests.functional import phone as phones
from tests.functional import phone_views as views
from tests.unit.domain.phone_simulation import HOUR, MINUTE, SimulatedPhone

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

CLOCKS = """(() => {
  const Real = Date;
  const told = () => JSON.parse(localStorage.getItem("clocks"));
  const timer = performance.now.bind(performance);
  Date = class extends Real {
    constructor(...given) { given.length ? super(...given) : super(told()?.wall ?? Real.now()); }
    static now() { return told()?.wall ?? Real.now(); }
  };
  performance.now = () => told()?.mono ?? timer();
})();"""
SET = "(it) => localStorage.setItem('clocks', JSON.stringify(it))"


class Walk:
    """A walk with a browser whose two clocks are those of a simulated phone."""

    def __init__(self, phone, wire, monkeypatch):
        self.phone, self.wire, self.monkeypatch = phone, wire, monkeypatch
        self.clocks = SimulatedPhone()
        self.shown = []

    def begin(self, *, at=None):
        """One visit with signal, then none."""
        if at:
            self.clocks.true_ms = round(at.timestamp() * 1000)
        sol = people.crew("sol")
        self.page = self.phone.boot()
        self.phone.context.add_init_script(CLOCKS)
        self.tell_server()
        # Any page of this origin: the phone's own must read the clocks from its first line on.
        self.phone.visit(self.page, "/sign-in/")
        self.phone.admit(sol)
        self.tell_page()
        phones.until_ready(self.phone.visit(self.page))
        self.wire.stop()
        self.clocks.reboot()
        self.tell_page()
        self.phone.visit(self.page, "/field/check/")

    def tell_server(self):
        true = datetime.fromtimestamp(self.clocks.true_ms / 1000, UTC)
        self.monkeypatch.setattr(people, "FIXED_NOW", true)

    def tell_page(self):
        now = self.clocks.clocks()
        self.page.evaluate(SET, {"wall": now.wall_ms, "mono": now.mono_ms})

    def check(self, state="tight"):
        """Three touches, at this very moment."""
        self.tell_page()
        hillside.put_away(self.page)
        self.page.locator(".next-lines label").first.tap()
        self.page.locator(f".state-{state}").tap()
        views.save(self.page)
        self.clocks.save()
        self.shown.append(self.page.locator(".saved-at").inner_text())

    def send(self):
        self.tell_page()
        self.tell_server()
        self.wire.start()
        # By a person's touch: in frozen time no timer of the page ever comes round.
        phones.until(self.page, "(await load('sync')).sync('touch').then((it) => it.why === 'ok')")

    def abroad(self, zone):
        """The phone's own zone changes under the open page, as at a border."""
        cdp = self.phone.context.new_cdp_session(self.page)
        cdp.send("Emulation.setTimezoneOverride", {"timezoneId": zone})

    @property
    def truth(self):
        return [datetime.fromtimestamp(ms / 1000, UTC) for ms in self.clocks.truth]

    @property
    def device(self):
        return [datetime.fromtimestamp(it.wall_ms / 1000, UTC) for it in self.clocks.saved]


@pytest.fixture
def walk(woods_phone, wire, monkeypatch, fixed_clock, five_lines):
    return Walk(woods_phone, wire, monkeypatch)


def assert_true_times_and_both_clocks(walk):
    """In the books' order, and each receipt with what the phone showed beside what was true."""
    receipts = list(Receipt.objects.order_by("observed_at", "pk"))
    rows = dict(LeakCheck.objects.values_list("uuid", "observed_at"))
    assert len(receipts) == len(rows) == len(walk.truth)
    told = zip(receipts, walk.truth, walk.device, strict=True)
    for receipt, true, device in told:
        assert abs(receipt.observed_at - true) <= timedelta(seconds=1)
        assert rows[receipt.uuid] == receipt.observed_at
        assert abs(receipt.device_at - device) <= timedelta(milliseconds=1)
        assert receipt.received_at == people.FIXED_NOW


def test_a_clock_47_minutes_slow(walk):
    walk.clocks.off_ms = 47 * MINUTE
    walk.begin()
    for _ in range(3):
        walk.clocks.sleep(20 * MINUTE)
        walk.check()
    walk.send()
    assert_true_times_and_both_clocks(walk)
    offsets = {round(it.clock_offset_ms / MINUTE) for it in Receipt.objects.all()}
    assert offsets == {47}
    assert Receipt.objects.worth_showing().count() == 3


def test_a_clock_set_back_an_hour_between_two_checks_keeps_their_order(walk):
    walk.begin()
    walk.clocks.awake(10 * MINUTE)
    walk.check("leak_left")
    walk.clocks.awake(5 * MINUTE)
    walk.clocks.set_clock(-HOUR)
    walk.check("leak_fixed")
    walk.clocks.awake(30 * MINUTE)
    walk.send()
    assert walk.device[1] < walk.device[0]
    assert_true_times_and_both_clocks(walk)
    states = LeakCheck.objects.order_by("observed_at").values_list("state", flat=True)
    assert list(states) == ["leak_left", "leak_fixed"]


def test_a_time_zone_changed_on_the_way_moves_nothing(walk):
    walk.begin(at=datetime(2026, 3, 16, 14, 5, tzinfo=UTC))
    walk.check()
    walk.abroad("Asia/Kolkata")
    walk.clocks.awake(30 * MINUTE)
    walk.check()
    walk.clocks.awake(30 * MINUTE)
    walk.send()
    assert walk.page.evaluate("new Date().getTimezoneOffset()") == -330
    assert_true_times_and_both_clocks(walk)
    # The page goes on telling the operation's time, and not that of the phone's new zone.
    assert [it.split()[1] for it in walk.shown] == ["10:05", "10:35"]
    assert not Receipt.objects.worth_showing().exists()


@pytest.mark.parametrize(
    ("start", "shown"),
    [
        # 8 March 2026, 07:00 UTC: in New York 01:59 is followed by 03:00.
        (datetime(2026, 3, 8, 6, 30, tzinfo=UTC), ["1:55", "3:20", "3:45"]),
        # 1 November 2026, 06:00 UTC: the hour from 01:00 comes twice.
        (datetime(2026, 11, 1, 5, 15, tzinfo=UTC), ["1:40", "1:05", "1:30"]),
    ],
)
def test_the_nights_of_summer_time_keep_order_and_distance(walk, start, shown):
    walk.begin(at=start)
    walk.abroad("America/New_York")
    for _ in shown:
        walk.clocks.sleep(25 * MINUTE)
        walk.check()
    walk.send()
    assert_true_times_and_both_clocks(walk)
    at = LeakCheck.objects.order_by("observed_at").values_list("observed_at", flat=True)
    assert {two - one for one, two in pairwise(at)} == {timedelta(minutes=25)}
    assert [it.split()[1].lstrip("0") for it in walk.shown] == shown

"""A day in the woods from the first visit to the books: nothing lost, nothing doubled.

The browser is a real one with a profile of its own, the server the one of production in a process
of its own, and whatever is killed is killed without a word.
"""

import os
import random
import re
from threading import Timer
from time import monotonic

import pytest

from apps.field.models import Receipt
from apps.leaks.models import LeakCheck, Photo
from tests.factories import leaks
from tests.factories import operation as people
from tests.functional import hillside
from tests.functional import phone as phones
from tests.soak.kills import say

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

RECORDS, PHOTOS = "/field/records/", "/field/photos/"
CHECKS, BY_TOUCH = 50, 6
KILLS = 60 if os.environ.get("THAWLINE_SOAK") else 10
PER_KILL = 6
ALWAYS = 1000
RECORDS_UP = """load("sync").then(({ sync }) => sync("touch"))
  .then(() => load("outbox")).then(({ counts }) => counts()).then((it) => it.waiting === 0)"""
# "Not ready for the woods" has the same words in it.
READY = re.compile("^Ready for the woods")


@pytest.fixture
def lines():
    people.operation()
    return [leaks.a_line(f"L{number}", planned_taps=90).pk for number in range(1, 61)]


@pytest.fixture
def farm(lines, tmp_path):
    with phones.wired(0) as wire:
        made = hillside.Farm(tmp_path, wire)
        try:
            made.start()
            yield made
        finally:
            wire.heal()
            made.close()


@pytest.fixture
def phone(make_phone, farm):
    return make_phone(farm.wire.url)


@pytest.fixture
def page(phone, farm):
    """After one visit with signal: signed in, and ready for the woods."""
    sol = people.crew("sol")
    page = phone.boot()
    phone.admit(sol)
    phone.visit(page)
    page.locator("#ready", has_text=READY).wait_for()
    return page


@pytest.fixture
def log_fifty(page, phone, farm, lines):
    """The server dies, the phone is booted anew, fifty checks are logged, and it boots again."""

    def log(by_touch=0):
        farm.kill()
        woods = phone.visit(phone.reboot(), "/field/check/")
        logged = hillside.Logged(woods, lines)
        logged.touch(by_touch)
        logged.keep(CHECKS - by_touch)
        logged.page = phone.visit(phone.reboot())
        return logged

    return log


def test_one_visit_then_a_dead_server_two_reboots_and_fifty_checks_arrive_once(
    log_fifty, farm, tmp_path
):
    logged = log_fifty(by_touch=BY_TOUCH)
    assert phones.statuses(logged.page) == ["waiting"] * CHECKS
    logged.page.locator("#waiting", has_text=f"{CHECKS} waiting").wait_for()
    logged.page.locator("#ready", has_text=READY).wait_for()
    farm.start()
    hillside.send_all(logged.page)
    logged.assert_there_once(tmp_path / "photos")
    assert len(logged.hashes) == CHECKS
    assert set(phones.statuses(logged.page)) == {"sent"}
    logged.page.locator("#waiting", has_text="All sent").wait_for()


def test_with_every_answer_of_the_first_round_lost_they_arrive_once(log_fifty, farm, tmp_path):
    logged = log_fifty()
    farm.start()
    farm.wire.cut("POST", RECORDS, ALWAYS)
    assert phones.sync(logged.page)["why"] == "no_answer"
    # The books have them all, and the phone claims none of them sent.
    assert LeakCheck.objects.count() == CHECKS
    assert phones.statuses(logged.page) == ["waiting"] * CHECKS
    farm.wire.heal()
    farm.wire.cut("PUT", PHOTOS, ALWAYS)
    phones.until(logged.page, RECORDS_UP)
    phones.until(logged.page, "(await load('sync')).sync('touch').then((it) => it.photosLeft > 0)")
    assert Photo.objects.exists()
    assert not hillside.all_gone_up(logged.page)
    farm.wire.heal()
    hillside.send_all(logged.page)
    logged.assert_there_once(tmp_path / "photos")


def test_two_tabs_sending_at_once_hand_them_in_once(log_fifty, phone, farm, tmp_path):
    logged = log_fifty()
    other = phone.visit(phone.tab())
    farm.start()
    for tab in (logged.page, other):
        phones.run(tab, hillside.BEGIN)
    whys = {tab.evaluate("window.told")["why"] for tab in (logged.page, other)}
    assert "ok" in whys
    for tab in (logged.page, other):
        hillside.send_all(tab)
    logged.assert_there_once(tmp_path / "photos")
    # One tab sends for both: no record crossed the wire twice.
    assert len([it for it in farm.wire.asked("POST", RECORDS) if it.status == 200]) == 1


def undisturbed(logged, farm):
    """Seconds that one round takes when nothing happens, and its number of photos."""
    logged.keep(PER_KILL)
    started = monotonic()
    hillside.send_all(logged.page)
    return monotonic() - started


def test_a_server_killed_at_random_while_the_browser_sends_loses_and_doubles_nothing(
    page, farm, lines, tmp_path
):
    chance, logged = random.Random(20260316), hillside.Logged(page, lines)
    undisturbed(logged, farm)
    seconds = undisturbed(logged, farm)
    broken = 0
    for _ in range(KILLS):
        farm.make_spare()
        logged.keep(PER_KILL)
        timer = Timer(chance.uniform(0, 1.2 * seconds), farm.server.kill)
        timer.start()
        broken += phones.sync(page)["why"] != "ok"
        timer.join()
        farm.server.gone()
        farm.start()
    hillside.send_all(page)
    say(f"{KILLS} kills under a browser: {len(logged.states)} checks, {broken} sendings broken off")
    assert broken >= KILLS // 3
    logged.assert_there_once(tmp_path / "photos")
    assert Receipt.objects.count() == len(logged.states)

"""Times of records from phones whose clocks are wrong: what is known, and what is called unsure.

The offset of one exchange is that of NTP (RFC 5905, 2010, section 8) with its round trip left
out; every other expected time is the true one that the simulated phone was told.
"""

import pytest

from apps.domain.errors import OutOfRange
from apps.domain.phone_clock import (
    LAST_MS,
    OLDEST_MS,
    SHOWN_FROM_MS,
    Anchor,
    Clocks,
    Corrected,
    Method,
    correct,
    is_too_old,
)
from tests.unit.domain.phone_simulation import HOUR, MINUTE, SECOND, START_MS, SimulatedPhone


def corrected(phone, late_ms=0):
    return correct(phone.saved, phone.anchors, phone.sync(late_ms))


def errors_ms(phone, found):
    return [one.at_ms - true for one, true in zip(found, phone.truth, strict=True)]


def methods(found):
    return [(one.method.value, one.is_certain) for one in found]


def test_the_offset_is_that_of_the_exchange_of_rfc_5905():
    # Section 8, its figure 15, with no time under way: T2 - T1 is the offset.
    assert Anchor(Clocks(1_000), 4_000, 0).offset_ms == 3_000


def test_a_clock_47_minutes_slow_is_put_right_by_what_it_lacks():
    phone = SimulatedPhone(off_ms=47 * MINUTE)
    phone.anchor()
    phone.awake(HOUR)
    phone.save()
    phone.sleep(3 * HOUR)
    found = corrected(phone)
    assert errors_ms(phone, found) == [0]
    assert (found[0].offset_ms, found[0].worth_showing) == (47 * MINUTE, True)
    assert methods(found) == [("steady", True)]


def test_without_anchors_a_page_that_stayed_awake_is_known_by_the_sync_alone():
    phone = SimulatedPhone(off_ms=-3 * HOUR)
    phone.save()
    phone.awake(20 * MINUTE)
    phone.save()
    phone.awake(20 * MINUTE)
    found = corrected(phone)
    assert errors_ms(phone, found) == [0, 0]
    assert methods(found) == [("steady", True)] * 2


def test_without_anchors_a_sleep_is_believed_and_called_uncertain():
    phone = SimulatedPhone(off_ms=10 * MINUTE)
    phone.save()
    phone.sleep(HOUR)
    phone.save()
    found = corrected(phone)
    assert errors_ms(phone, found) == [0, 0]
    assert methods(found) == [("reckoned", False), ("steady", True)]


def test_without_anchors_a_clock_set_back_gives_way_to_the_timer():
    phone = SimulatedPhone()
    phone.save()
    phone.awake(10 * MINUTE)
    phone.set_clock(-HOUR)
    phone.save()
    phone.awake(10 * MINUTE)
    found = corrected(phone)
    assert errors_ms(phone, found) == [0, 0]
    # A sleep may have hidden behind the setting: the time is the best there is, not a sure one.
    assert methods(found) == [("reckoned", False), ("steady", True)]


@pytest.mark.parametrize("by_ms", [-HOUR, -47 * MINUTE, 2 * HOUR, 90 * SECOND])
def test_a_clock_set_between_two_checks_is_seen_on_either_side(by_ms):
    phone = SimulatedPhone()
    phone.anchor()
    phone.awake(30 * MINUTE)
    phone.save()
    phone.awake(10 * MINUTE)
    phone.set_clock(by_ms)
    phone.save()
    # Longer than it was awake, so that the timer alone could not tell.
    phone.sleep(3 * HOUR)
    found = corrected(phone)
    assert errors_ms(phone, found) == [0, 0]
    assert methods(found) == [("set_once", True)] * 2


def test_an_awake_phone_needs_no_wall_clock_however_often_it_is_set():
    phone = SimulatedPhone()
    phone.anchor()
    for by_ms in (-HOUR, 5 * HOUR, -2 * HOUR, -7 * HOUR):
        phone.awake(10 * MINUTE)
        phone.set_clock(by_ms)
        phone.save()
    phone.awake(MINUTE)
    found = corrected(phone)
    assert errors_ms(phone, found) == [0] * 4
    assert methods(found) == [("counted", True)] * 4


def test_a_clock_set_forward_in_a_gap_of_sleep_may_have_been_set_before_or_after():
    phone = SimulatedPhone()
    phone.anchor()
    phone.sleep(2 * HOUR)
    phone.save()
    phone.sleep(2 * HOUR)
    phone.set_clock(HOUR)
    found = corrected(phone)
    assert methods(found) == [("set_once", False)]
    # Taken for the later anchor's side, which it was not: an hour early, and said to be unsure.
    assert errors_ms(phone, found) == [-HOUR]
    assert found[0].worth_showing


def test_the_order_of_saving_tells_before_from_after_where_no_timer_does():
    phone = SimulatedPhone(off_ms=47 * MINUTE)
    phone.anchor()
    phone.awake(MINUTE)
    phone.save()
    phone.reboot()
    phone.sleep(10 * MINUTE)
    phone.anchor()
    phone.save()
    phone.set_clock(47 * MINUTE)
    phone.reboot()
    phone.sleep(10 * MINUTE)
    found = corrected(phone)
    assert errors_ms(phone, found) == [0, 0]
    assert found[0].is_certain


def test_set_twice_and_asleep_it_is_reckoned_back_and_unsure():
    phone = SimulatedPhone()
    phone.anchor()
    phone.awake(MINUTE)
    phone.save()
    for _ in range(2):
        phone.sleep(10 * MINUTE)
        phone.set_clock(-HOUR)
        phone.save()
    found = corrected(phone)
    assert methods(found) == [("steady", True), ("reckoned", False), ("steady", True)]
    at = [one.at_ms for one in found]
    assert at == sorted(at)
    # The first hangs on the earlier anchor, the last on the sync itself.
    assert errors_ms(phone, found)[::2] == [0, 0]


def test_a_timer_that_ran_longer_than_there_was_time_is_believed_next_to_the_anchor():
    # Only a server whose own clock was set can have brought this about.
    saved = [Clocks(START_MS + MINUTE, MINUTE, "a")]
    sync = Anchor(Clocks(START_MS + 2 * HOUR, 2 * HOUR, "a"), START_MS + HOUR, 1)
    found = correct(saved, [Anchor(Clocks(START_MS, 0, "a"), START_MS, 0)], sync)
    assert found == (Corrected(START_MS + MINUTE, 0, Method.STEADY, is_certain=True),)


def test_reckoned_back_nothing_comes_before_the_anchor_that_was_before_it():
    phone = SimulatedPhone()
    phone.anchor()
    phone.sleep(10 * MINUTE)
    phone.set_clock(-9 * HOUR)
    phone.save()
    phone.set_clock(12 * HOUR)
    phone.sleep(10 * MINUTE)
    phone.set_clock(-3 * HOUR)
    phone.sleep(MINUTE)
    found = corrected(phone)
    assert found[0].at_ms == phone.anchors[0].server_ms
    assert methods(found) == [("reckoned", False)]


def test_a_second_page_open_beside_has_only_its_place_in_the_order():
    phone = SimulatedPhone()
    phone.anchor()
    phone.awake(10 * MINUTE)
    phone.save()
    phone.saved.append(Clocks(START_MS + 90 * MINUTE, 5, "beside"))
    phone.truth.append(phone.true_ms)
    phone.set_clock(-HOUR)
    phone.awake(10 * MINUTE)
    phone.save()
    phone.awake(MINUTE)
    found = corrected(phone)
    assert errors_ms(phone, found) == [0, 1, 0]
    assert methods(found) == [("counted", True), ("counted", False), ("counted", True)]


def test_a_phone_that_tells_no_timer_goes_by_its_wall_between_anchors_that_agree():
    saved = [Clocks(START_MS + HOUR), Clocks(START_MS + 2 * HOUR)]
    anchors = [Anchor(Clocks(START_MS), START_MS + MINUTE, 0)]
    sync = Anchor(Clocks(START_MS + 3 * HOUR), START_MS + 3 * HOUR + MINUTE, 2)
    found = correct(saved, anchors, sync)
    assert [one.at_ms - START_MS for one in found] == [HOUR + MINUTE, 2 * HOUR + MINUTE]


def test_a_drifting_clock_is_put_right_evenly_between_two_anchors():
    phone = SimulatedPhone(drift_per_million=50.0)
    phone.anchor()
    for _ in range(6):
        phone.sleep(24 * HOUR)
        phone.save()
    phone.sleep(24 * HOUR)
    found = corrected(phone)
    # A week at 50 parts in a million is 30 s, all of it made good.
    assert max(abs(error) for error in errors_ms(phone, found)) <= 2
    assert found[-1].offset_ms == pytest.approx(-26 * SECOND, abs=SECOND)


def test_two_anchors_at_one_moment_of_the_wall_divide_nothing():
    saved = [Clocks(START_MS)]
    sync = Anchor(Clocks(START_MS), START_MS + SECOND, 1)
    found = correct(saved, [Anchor(Clocks(START_MS), START_MS, 0)], sync)
    assert found == (Corrected(START_MS, 0, Method.STEADY, is_certain=True),)


@pytest.mark.parametrize(
    "odd",
    [
        Anchor(Clocks(START_MS), START_MS + 9 * HOUR, 0),
        Anchor(Clocks(START_MS), START_MS + HOUR, 2),
    ],
    ids=["later than the sync", "after more records than there are"],
)
def test_an_anchor_that_cannot_be_is_left_out(odd):
    phone = SimulatedPhone()
    phone.awake(HOUR)
    phone.save()
    sync = phone.sync()
    assert correct(phone.saved, [odd], sync) == correct(phone.saved, [], sync)


def test_of_two_anchors_that_contradict_each_other_the_first_stands():
    phone = SimulatedPhone()
    first = phone.anchor()
    phone.awake(HOUR)
    phone.save()
    back = Anchor(Clocks(START_MS), first.server_ms - HOUR, 1)
    sync = phone.sync()
    assert correct(phone.saved, [first, back], sync) == correct(phone.saved, [first], sync)


def test_nothing_is_later_than_it_was_received_and_no_two_are_at_one_moment():
    # Both clocks say two hours from now; the server has the word.
    saved = [Clocks(START_MS + 2 * HOUR)] * 3
    found = correct(saved, [], Anchor(Clocks(START_MS), START_MS, 3))
    assert [one.at_ms - START_MS for one in found] == [-2, -1, 0]
    assert [one.offset_ms for one in found] == [-2 * HOUR - 2, -2 * HOUR - 1, -2 * HOUR]


def test_a_sure_time_that_had_to_be_moved_is_sure_no_more():
    steady = Anchor(Clocks(START_MS, 0, "a"), START_MS, 0)
    saved = [Clocks(START_MS + HOUR, HOUR, "a"), Clocks(START_MS, 0, "b")]
    sync = Anchor(Clocks(START_MS, 0, "b"), START_MS + 30 * MINUTE, 2)
    found = correct(saved, [steady], sync)
    at = [one.at_ms for one in found]
    assert at == sorted(at)
    assert at[-1] <= sync.server_ms
    assert not found[0].is_certain


def test_a_clock_that_says_1970_is_no_reason_to_fall_out_of_time():
    found = correct([Clocks(0)], [], Anchor(Clocks(9 * HOUR), START_MS, 1))
    assert found[0].at_ms == START_MS - 9 * HOUR
    ahead = correct([Clocks(0)], [], Anchor(Clocks(LAST_MS), START_MS, 1))
    assert ahead[0].at_ms == 0


def test_no_records_have_no_times():
    assert correct([], [], Anchor(Clocks(START_MS), START_MS, 0)) == ()


def test_a_sync_before_a_record_is_refused():
    with pytest.raises(OutOfRange) as refusal:
        correct([Clocks(START_MS)], [], Anchor(Clocks(START_MS), START_MS, 0))
    assert (refusal.value.name, refusal.value.low) == ("saved_before", 1)


@pytest.mark.parametrize(
    ("make", "name"),
    [
        (lambda: Clocks(-1), "wall_ms"),
        (lambda: Clocks(LAST_MS + 1), "wall_ms"),
        (lambda: Clocks(0, -1, "a"), "mono_ms"),
        (lambda: Clocks(0, LAST_MS + 1, "a"), "mono_ms"),
        (lambda: Anchor(Clocks(0), -1, 0), "server_ms"),
        (lambda: Anchor(Clocks(0), LAST_MS + 1, 0), "server_ms"),
        (lambda: Anchor(Clocks(0), 0, -1), "saved_before"),
        (lambda: Anchor(Clocks(0), 0, 1_000_001), "saved_before"),
    ],
)
def test_a_clock_outside_all_time_is_refused_by_name(make, name):
    with pytest.raises(OutOfRange) as refusal:
        make()
    assert refusal.value.name == name


@pytest.mark.parametrize(
    ("earlier", "later", "gone_ms"),
    [
        (Clocks(0, 10, "a"), Clocks(0, 25, "a"), 15),
        (Clocks(0, 10, "a"), Clocks(0, 25, "b"), None),
        (Clocks(0), Clocks(0), None),
        (Clocks(0, None, "a"), Clocks(0, 25, "a"), None),
        (Clocks(0, 10, "a"), Clocks(0, None, "a"), None),
        (Clocks(0, 25, "a"), Clocks(0, 10, "a"), None),
    ],
)
def test_a_timer_counts_within_one_page_load_and_never_backwards(earlier, later, gone_ms):
    assert earlier.timer_gap_ms(later) == gone_ms


@pytest.mark.parametrize(
    ("offset_ms", "is_certain", "shown"),
    [
        (SHOWN_FROM_MS, True, False),
        (SHOWN_FROM_MS + 1, True, True),
        (-SHOWN_FROM_MS - 1, True, True),
        (0, False, True),
    ],
)
def test_five_minutes_and_every_doubt_are_worth_showing(offset_ms, is_certain, shown):
    assert Corrected(0, offset_ms, Method.STEADY, is_certain).worth_showing is shown


@pytest.mark.parametrize(("age_ms", "too_old"), [(OLDEST_MS, False), (OLDEST_MS + 1, True)])
def test_four_hundred_days_are_the_oldest_a_record_may_be(age_ms, too_old):
    assert is_too_old(START_MS - age_ms, START_MS) is too_old

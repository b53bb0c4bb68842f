"""Wrong clocks end to end: what the phone showed, what was true, and both kept."""

from datetime import UTC, datetime, timedelta
from itertools import pairwise

import pytest

from apps.field.models import Receipt
from apps.leaks.models import LeakCheck
from apps.tapping.models import TapTally
from tests.factories import leaks, phone
from tests.factories import operation as people
from tests.unit.domain.phone_simulation import HOUR, MINUTE, SimulatedPhone

pytestmark = pytest.mark.django_db


@pytest.fixture
def line():
    return leaks.a_line("L7")


@pytest.fixture
def woods(crew_client, crew, line):
    return Woods(crew_client, crew, line)


class Woods:
    """A walk with a phone: checks as they are saved, and one post at the end."""

    def __init__(self, client, person, line):
        self.client, self.person, self.line = client, person, line
        self.phone = SimulatedPhone()
        self.records = []

    def save(self, kind="check", **fields):
        said = {"line": self.line.pk, "state": "tight"} | fields
        self.phone.save()
        clocks = self.phone.saved[-1]
        stamps = {"at": clocks.wall_ms, "mono": clocks.mono_ms, "boot": clocks.boot}
        self.records.append(phone.record(kind, **said) | stamps)

    def body(self):
        sync = self.phone.sync()
        anchors = [
            [a.clocks.wall_ms, a.clocks.mono_ms, a.clocks.boot, a.server_ms, a.saved_before]
            for a in self.phone.anchors
        ]
        clocks = sync.clocks
        stamps = {"now": clocks.wall_ms, "mono": clocks.mono_ms, "boot": clocks.boot}
        return phone.post_of(self.person, *self.records, anchors=anchors, **stamps)

    def send(self, monkeypatch):
        now = datetime.fromtimestamp(self.phone.true_ms / 1000, UTC)
        monkeypatch.setattr(people, "FIXED_NOW", now)
        return phone.send_body(self.client, self.body())

    def moment(self, minutes):
        """So long after now in truth, or before."""
        return datetime.fromtimestamp((self.phone.true_ms + minutes * MINUTE) / 1000, UTC)

    @property
    def truth(self):
        return [datetime.fromtimestamp(ms / 1000, UTC) for ms in self.phone.truth]


def observed():
    return list(LeakCheck.objects.order_by("observed_at", "pk").values_list("observed_at", "uuid"))


def assert_as_saved(walk):
    rows = observed()
    assert [str(uuid) for _, uuid in rows] == [one["uuid"] for one in walk.records]
    for (at, _), true in zip(rows, walk.truth, strict=True):
        assert abs(at - true) <= timedelta(seconds=1)


def test_a_clock_47_minutes_slow_puts_no_check_in_the_wrong_hour(woods, monkeypatch):
    woods.phone.off_ms = 47 * MINUTE
    woods.phone.anchor()
    for _ in range(3):
        woods.phone.sleep(20 * MINUTE)
        woods.save()
    assert phone.answers(woods.send(monkeypatch)) == ["accepted"] * 3
    assert_as_saved(woods)
    receipt = Receipt.objects.order_by("pk")[0]
    assert receipt.observed_at - receipt.device_at == timedelta(minutes=47)
    assert Receipt.objects.worth_showing().count() == 3


def test_a_clock_that_is_right_is_nothing_to_show(woods, monkeypatch):
    woods.phone.anchor()
    woods.save()
    woods.phone.sleep(HOUR)
    woods.send(monkeypatch)
    assert Receipt.objects.count() == 1
    assert not Receipt.objects.worth_showing().exists()


def test_a_clock_set_back_between_two_checks_leaves_them_in_their_order(woods, monkeypatch):
    woods.phone.anchor()
    woods.phone.awake(10 * MINUTE)
    woods.save(state="leak_left")
    woods.phone.awake(5 * MINUTE)
    woods.phone.set_clock(-HOUR)
    woods.save(state="leak_fixed")
    woods.phone.sleep(2 * HOUR)
    woods.send(monkeypatch)
    assert woods.records[1]["at"] < woods.records[0]["at"]
    assert_as_saved(woods)
    # In the other order the leak would have been opened after its own mending.
    assert LeakCheck.objects.get(state="leak_left").opened_leak.closed_by.state == "leak_fixed"


def test_what_cannot_be_known_is_marked_and_still_in_order(woods, monkeypatch):
    woods.phone.anchor()
    woods.phone.sleep(2 * HOUR)
    woods.save()
    woods.phone.sleep(2 * HOUR)
    woods.phone.set_clock(90 * MINUTE)
    woods.send(monkeypatch)
    row = Receipt.objects.get()
    assert (row.time_is_certain, row.clock_method) == (False, "set_once")
    assert list(Receipt.objects.worth_showing()) == [row]


@pytest.mark.parametrize(
    ("start", "steps"),
    [
        # 8 March 2026, 07:00 UTC: in New York 01:59 is followed by 03:00.
        ((2026, 3, 8, 6, 30), 3),
        # 1 November 2026, 06:00 UTC: the hour from 01:00 comes twice.
        ((2026, 11, 1, 5, 15), 4),
    ],
)
def test_the_nights_of_summer_time_keep_order_and_hours(woods, monkeypatch, start, steps):
    woods.phone.true_ms = round(datetime(*start, tzinfo=UTC).timestamp() * 1000)
    woods.phone.anchor()
    for _ in range(steps):
        woods.phone.sleep(25 * MINUTE)
        woods.save()
    woods.send(monkeypatch)
    assert_as_saved(woods)
    at = [moment for moment, _ in observed()]
    assert {two - one for one, two in pairwise(at)} == {timedelta(minutes=25)}


def test_a_time_zone_changed_on_the_way_moves_nothing(woods, monkeypatch):
    # The phone's zone is no part of what it sends; a moment is a moment.
    woods.phone.anchor()
    woods.save()
    woods.phone.reboot()
    woods.phone.sleep(3 * HOUR)
    woods.save()
    woods.send(monkeypatch)
    assert_as_saved(woods)
    assert not Receipt.objects.worth_showing().exists()


def test_a_tally_counts_on_the_day_in_the_woods_by_the_true_time(woods, monkeypatch):
    # 23:50 on 15 March in New York, on a phone that thinks it is past noon of the 16th.
    woods.phone.true_ms = round(datetime(2026, 3, 16, 3, 50, tzinfo=UTC).timestamp() * 1000)
    woods.phone.off_ms = -13 * HOUR
    woods.phone.anchor()
    woods.save("tally", taps=40)
    woods.phone.awake(HOUR)
    assert phone.answers(woods.send(monkeypatch)) == ["accepted"]
    assert TapTally.objects.get().tallied_on.isoformat() == "2026-03-15"


def test_later_truth_wins_by_the_true_time_and_both_rows_stay(woods, crew_client, monkeypatch):
    """Another person's check, sent sooner and seen sooner, gives way in the list alone."""
    walk = woods
    walk.phone.off_ms = 47 * MINUTE
    walk.phone.anchor()
    walk.phone.awake(30 * MINUTE)
    theirs = leaks.bare_check(
        walk.line, "leak_left", crew=people.crew("marek"), observed_at=walk.moment(-10)
    )
    walk.save(state="frozen")
    walk.phone.awake(MINUTE)
    walk.send(monkeypatch)
    newest = LeakCheck.objects.standing().newest_per_line().get()
    assert (newest.state, LeakCheck.objects.count()) == ("frozen", 2)
    assert theirs.observed_at < newest.observed_at


def test_anchors_that_make_no_sense_are_left_out_and_the_records_kept(woods, monkeypatch):
    woods.save()
    woods.phone.awake(MINUTE)
    body = woods.body()
    odd = [7, None, [1, 2], [1, 2, "a", 4, "x"], [-1, 2, "a", 4, 0], [1, 2, 3, 4, 0], [1e3] * 5]
    now = datetime.fromtimestamp(woods.phone.true_ms / 1000, UTC)
    monkeypatch.setattr(people, "FIXED_NOW", now)
    answer = phone.send_body(woods.client, body | {"anchors": odd})
    assert phone.answers(answer) == ["accepted"]
    assert Receipt.objects.get().clock_method == "steady"


def test_a_record_that_nobody_can_read_takes_no_place_among_the_moments(woods, monkeypatch):
    woods.phone.anchor()
    woods.phone.awake(10 * MINUTE)
    woods.save()
    woods.phone.awake(10 * MINUTE)
    woods.phone.set_clock(-HOUR)
    woods.phone.reboot()
    woods.phone.sleep(HOUR)
    woods.phone.anchor()
    woods.save()
    woods.phone.sleep(HOUR)
    body = woods.body()
    body["records"].insert(0, {"uuid": "none"})
    body["anchors"] = [[*a[:4], a[4] + 1] for a in body["anchors"]]
    now = datetime.fromtimestamp(woods.phone.true_ms / 1000, UTC)
    monkeypatch.setattr(people, "FIXED_NOW", now)
    answer = phone.send_body(woods.client, body)
    assert phone.answers(answer) == ["refused", "accepted", "accepted"]
    assert_as_saved(woods)

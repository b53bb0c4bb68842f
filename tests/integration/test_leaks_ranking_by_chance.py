"""The order of the walk against the formula written down a second time, over woods by chance.

The loss is linear in the missing vacuum: Perkins and van den Berg, Maple News, 3 January 2020,
with the 5 % per inch of Wilmot (UVM), Maple News, 25 January 2018. One inch of mercury is
3.386389 kPa (NIST SP 811, 2008). Sap, walk and fix are this test's own numbers.
"""

from datetime import UTC, datetime

import pytest
from django.urls import reverse
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from apps.leaks import queries
from apps.operation.models import SettingValue
from apps.operation.queries import constants
from tests.factories import leaks, woods
from tests.factories import operation as people

INCH_KPA = 3.386389
WALK, FIX, SAP_GALLONS, TARGET_INCHES = 30, 15, 0.9, 26
# 28.54 in. at 400 m by the US Standard Atmosphere (1976), and half an inch of slack over it.
MOST_BELIEVED_INCHES = 29.04

a_line = st.fixed_dictionaries(
    {
        "taps": st.none() | st.integers(0, 500),
        "inches": st.none() | st.integers(0, 60).map(lambda half: half / 2),
        "walk": st.none() | st.integers(1, 90),
        "state": st.sampled_from(["tight", "leak_left", "frozen", None]),
    }
)


def plant(told):
    """Lines by number; a state of None is a line nobody ever looked at."""
    lot = woods.woodlot()
    for number, line in enumerate(told):
        row = woods.line(lot, f"L{number}", planned_taps=line["taps"], walk_minutes=line["walk"])
        if line["state"]:
            kpa = None if line["inches"] is None else line["inches"] * INCH_KPA
            leaks.check(row, line["state"], vacuum_before_kpa=kpa)


def group_by_hand(line):
    if line["state"] == "frozen":
        return "frozen"
    if line["state"] is None or line["inches"] is None:
        return "no_reading"
    if line["inches"] > MOST_BELIEVED_INCHES:
        return "gauge_fault"
    if not line["taps"]:
        return "no_taps"
    return "at_target" if line["inches"] >= TARGET_INCHES else "ranked"


def gallons_an_hour_by_hand(line):
    missing = TARGET_INCHES - line["inches"]
    share = 0.05 * missing / (1 + 0.05 * TARGET_INCHES)
    return line["taps"] * SAP_GALLONS * share / ((line["walk"] or WALK) + FIX) * 60


def standings():
    return queries.ranked_lines(season=2026, now=people.FIXED_NOW, constants=constants())


class ByChance(TestCase):
    """Woods of up to nine lines, each in a transaction of its own."""

    @settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])
    @given(st.lists(a_line, max_size=9))
    def test_every_line_is_in_its_group_and_the_ranked_ones_in_order(self, told):
        plant(told)
        rows = standings()
        assert {row.line.label: row.group for row in rows} == {
            f"L{number}": group_by_hand(line) for number, line in enumerate(told)
        }
        worth = [gallons_an_hour_by_hand(line) for line in told if group_by_hand(line) == "ranked"]
        ranked = [row for row in rows if row.ranked]
        assert [row.rank for row in ranked] == list(range(1, len(worth) + 1))
        assert [row.ranked.litres_per_hour / 3.785411784 for row in ranked] == pytest.approx(
            sorted(worth, reverse=True), rel=1e-6
        )

    @settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])
    @given(st.lists(a_line, max_size=9), st.integers(0, 9))
    def test_groups_come_in_one_block_each_and_the_next_lines_from_the_first_two(self, told, count):
        plant(told)
        rows = standings()
        groups = [row.group for row in rows]
        order = ["ranked", "no_reading", "at_target", "no_taps", "frozen", "gauge_fault"]
        assert groups == sorted(groups, key=order.index)
        first_two = [row for row in rows if row.group in order[:2]]
        assert queries.next_lines(rows, count) == first_two[:count]


def change(**values):
    for key, value in values.items():
        SettingValue.objects.create(
            key=f"leaks.{key}", value=str(value), changed_at=people.FIXED_NOW
        )


@pytest.fixture
def metric_woods(db):
    """Two lines worked by hand below, in kilopascals, litres and minutes."""
    people.operation(unit_system="metric")
    change(target_vacuum_kpa=85, sap_litres_per_tap_day=3.5, walk_minutes=20, fix_minutes=10)
    leaks.check(leaks.a_line("A", planned_taps=200), vacuum_before_kpa=75.0)
    leaks.check(leaks.a_line("B", planned_taps=50, walk_minutes=15), vacuum_before_kpa=60.0)


# The target is 85 / 3.386389 = 25.1005 in.; 1 + 0.05 x 25.1005 = 2.255025.
# A: 10 kPa = 2.95300 in. short, 0.147650 / 2.255025 = 0.065476; 700 L x that = 45.833 L;
#    20 + 10 minutes, so 91.666 an hour.
# B: 25 kPa = 7.38250 in. short, 0.369125 / 2.255025 = 0.163690; 175 L x that = 28.646 L;
#    15 + 10 minutes, so 68.750 an hour.
@pytest.mark.parametrize(
    ("label", "rank", "deficit_kpa", "share", "litres_a_day", "litres_an_hour"),
    [("A", 1, 10, 0.065476, 45.833, 91.666), ("B", 2, 25, 0.163690, 28.646, 68.750)],
)
def test_a_metric_ranking_is_the_arithmetic_by_hand(
    metric_woods, label, rank, deficit_kpa, share, litres_a_day, litres_an_hour
):
    row = next(row for row in standings() if row.line.label == label)
    assert row.rank == rank
    assert row.ranked.deficit_kpa == pytest.approx(deficit_kpa)
    assert row.ranked.share_lost == pytest.approx(share, abs=1e-6)
    assert row.ranked.litres_per_day == pytest.approx(litres_a_day, abs=1e-3)
    assert row.ranked.litres_per_hour == pytest.approx(litres_an_hour, abs=2e-3)


def test_the_page_of_a_metric_operation_says_it_in_metric_units(metric_woods, crew_client):
    text = " ".join(crew_client.get(reverse("leaks:lines")).content.decode().split())
    for words in (
        "91.7 L</td>",
        "200 taps (planned) \u00d7 3.50 L \u00d7 6.5 % lost",
        "45.8 L a day</strong>, for 20 min to walk and 10 min to fix",
        "Read 75.0 kPa on 16 Mar: 10.0 kPa under the target of 85.0 kPa",
        "It stands above B in Tamarack Hollow: more sap lost, for a longer job.",
    ):
        assert words in text
    assert "inHg" not in text
    assert " gal" not in text


def test_days_off_the_walk_change_no_rank(metric_woods):
    before = [row.line.label for row in standings()]
    later = queries.ranked_lines(
        season=2026, now=datetime(2026, 5, 20, tzinfo=UTC), constants=constants()
    )
    assert [row.line.label for row in later] == before
    assert {row.days_since_walked for row in later} == {65}


@pytest.mark.parametrize(
    ("utc", "group"),
    [
        (datetime(2025, 12, 1, 4, 59, tzinfo=UTC), "no_reading"),  # 30 November in the woods
        (datetime(2025, 12, 1, 5, 0, tzinfo=UTC), "ranked"),
    ],
)
def test_a_season_of_readings_begins_on_the_first_of_december_in_the_woods(crew_client, utc, group):
    line = leaks.a_line("A", planned_taps=9)
    leaks.check(line, observed_at=utc, vacuum_before_kpa=50.0)
    (row,) = crew_client.get(reverse("leaks:lines")).context["page"]
    assert row.group == group


def test_equal_lines_keep_the_order_of_their_labels(db):
    for label in ("L10", "L9", "L1"):
        leaks.check(leaks.a_line(label, planned_taps=50), vacuum_before_kpa=60.0)
    rows = standings()
    assert [row.line.label for row in rows] == ["L1", "L9", "L10"]
    assert rows[0].ranked.why.startswith("level with L9 in Tamarack Hollow")

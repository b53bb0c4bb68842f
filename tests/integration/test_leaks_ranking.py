"""Which line to walk next: the page's order against arithmetic done by hand.

The gain of 5 % per inch is Wilmot (UVM), Maple News, 25 January 2018; that it is read linearly is
Perkins and van den Berg, Maple News, 3 January 2020. Ceilings: US Standard Atmosphere (1976),
27.82 inHg at 2,000 ft. The 0.9 gal, 26 in., 30 and 15 minutes are common practice, no source.
"""

from datetime import UTC, datetime

import pytest

from apps.domain.units import (
    inhg_from_kpa,
    kpa_from_inhg,
    litres_from_us_gallons,
    metres_from_feet,
)
from apps.leaks import actions, queries
from apps.operation.models import SettingValue
from apps.operation.queries import constants
from tests.factories import leaks, woods
from tests.factories import operation as people

pytestmark = pytest.mark.django_db


def standings(**kwargs):
    return queries.ranked_lines(season=2026, now=people.FIXED_NOW, constants=constants(), **kwargs)


def by_label(**kwargs):
    return {row.line.label: row for row in standings(**kwargs)}


def groups():
    return {row.line.label: row.group for row in standings()}


def read_at(line, inches, **fields):
    return leaks.check(line, vacuum_before_kpa=kpa_from_inhg(inches), **fields)


def change(key, value):
    SettingValue.objects.create(key=key, value=str(value), changed_at=people.FIXED_NOW)


@pytest.fixture
def two_lines():
    """Worked by hand below: 400 taps at 20 inches, and 100 taps at 10 inches close by."""
    read_at(leaks.a_line("A", planned_taps=400), 20)
    read_at(leaks.a_line("B", planned_taps=100, walk_minutes=5), 10)


# A: 6 in. under 26, 0.05 x 6 / (1 + 0.05 x 26) = 0.130435; x 400 x 0.9 gal = 46.957 gal a day;
#    45 minutes, so 62.609 an hour.  B: 16 in. under, 0.8 / 2.3 = 0.347826; x 90 gal = 31.304 gal;
#    20 minutes, so 93.913 an hour.
@pytest.mark.parametrize(
    ("label", "rank", "share", "gallons_a_day", "gallons_an_hour"),
    [("A", 2, 0.130435, 46.957, 62.609), ("B", 1, 0.347826, 31.304, 93.913)],
)
def test_the_linear_ranking_is_the_arithmetic_by_hand(
    two_lines, label, rank, share, gallons_a_day, gallons_an_hour
):
    row = by_label()[label]
    assert row.rank == rank
    assert row.ranked.share_lost == pytest.approx(share, abs=1e-6)
    assert row.ranked.litres_per_day == pytest.approx(
        litres_from_us_gallons(gallons_a_day), rel=1e-4
    )
    assert row.ranked.litres_per_hour == pytest.approx(
        litres_from_us_gallons(gallons_an_hour), rel=1e-4
    )


def test_the_compounding_model_is_used_when_the_owner_chose_it(two_lines):
    change("leaks.loss_model", "compounding")
    # 1 - 1.05^-6 = 0.253785
    assert by_label()["A"].ranked.share_lost == pytest.approx(0.253785, abs=1e-6)


@pytest.mark.parametrize(
    ("key", "value", "litres"),
    [
        ("leaks.sap_litres_per_tap_day", litres_from_us_gallons(1.8), 93.913),
        ("leaks.target_vacuum_kpa", kpa_from_inhg(24), 32.727),
        ("leaks.gain_per_inhg", 0.1, 60.0),
    ],
)
def test_each_constant_the_owner_changes_moves_the_loss(two_lines, key, value, litres):
    change(key, value)
    # By hand for A: 720 x 0.3/2.3; 360 x 0.2/2.2; 360 x 0.6/3.6.
    row = by_label()["A"]
    assert row.ranked.litres_per_day == pytest.approx(litres_from_us_gallons(litres), rel=1e-4)


def test_the_target_is_two_inches_under_a_low_ceiling():
    high = woods.woodlot("High lot", elevation_m=metres_from_feet(4000))
    read_at(leaks.a_line("A", woodlot=high, planned_taps=100), 20)
    row = by_label()["A"]
    assert inhg_from_kpa(row.ceiling_kpa) == pytest.approx(25.84, abs=0.005)
    assert inhg_from_kpa(row.target_kpa) == pytest.approx(23.84, abs=0.005)


def test_the_pump_house_height_goes_before_the_woodlots_also_up_the_branch():
    lot = woods.woodlot(elevation_m=metres_from_feet(4000))
    house = woods.pump_house(lot, elevation_m=metres_from_feet(2000))
    main = leaks.a_line("M", woodlot=lot, pump_house=house)
    leaks.a_line("M1", woodlot=lot, parent=main)
    assert inhg_from_kpa(by_label()["M1"].ceiling_kpa) == pytest.approx(27.82, abs=0.005)


# The lot stands at 400 m, where the ceiling is 28.54 in.: at most 29.0 is believed.
@pytest.mark.parametrize(
    ("inches", "group"),
    [(25.9, "ranked"), (26.0, "at_target"), (29.0, "at_target"), (29.1, "gauge_fault")],
)
def test_a_reading_is_ranked_at_target_or_a_gauge_fault(inches, group):
    read_at(leaks.a_line("A", planned_taps=10), inches)
    assert groups() == {"A": group}


def test_the_owners_slack_decides_what_a_gauge_fault_is():
    read_at(leaks.a_line("A", planned_taps=10), 29.1)
    change("leaks.gauge_slack_kpa", kpa_from_inhg(1))
    assert groups() == {"A": "at_target"}


def test_a_line_without_a_reading_is_never_ranked_as_if_it_read_zero():
    leaks.check(leaks.a_line("A", planned_taps=400), "tight")
    leaks.a_line("B", planned_taps=400)
    assert groups() == {"A": "no_reading", "B": "no_reading"}


def test_lines_without_a_reading_come_longest_unwalked_first():
    for label, hours in [("A", 30), ("B", 100), ("C", None)]:
        line = leaks.a_line(label, planned_taps=10)
        if hours:
            leaks.check(line, hours=hours)
    assert [row.line.label for row in standings()] == ["C", "B", "A"]


def test_a_frozen_line_is_set_aside_until_somebody_finds_it_thawed():
    line = leaks.a_line("A", planned_taps=400)
    read_at(line, 15, hours=9)
    leaks.check(line, "frozen", hours=5)
    assert groups() == {"A": "frozen"}
    leaks.check(line, "tight", hours=1)
    assert groups() == {"A": "ranked"}


def test_a_line_without_taps_counted_or_planned_is_not_ranked():
    read_at(leaks.a_line("A"), 15)
    assert groups() == {"A": "no_taps"}


def test_a_fix_nobody_measured_outdates_the_reading_before_it():
    line = leaks.a_line("A", planned_taps=400)
    read_at(line, 15, hours=9)
    leaks.check(line, "leak_fixed", hours=5, vacuum_before_kpa=kpa_from_inhg(15))
    assert groups() == {"A": "no_reading"}


def test_the_reading_after_a_fix_is_the_one_that_counts():
    line = leaks.a_line("A", planned_taps=400)
    leaks.check(line, "leak_fixed", vacuum_before_kpa=50.0, vacuum_after_kpa=80.0)
    assert by_label()["A"].reading_kpa == 80.0


def test_a_reading_taken_back_does_not_count():
    line = leaks.a_line("A", planned_taps=400)
    check = read_at(line, 15)
    actions.void_check(check=check, by=check.crew, at=people.FIXED_NOW)
    assert groups() == {"A": "no_reading"}


def test_a_reading_of_last_season_does_not_rank_this_one():
    line = leaks.a_line("A", planned_taps=400)
    leaks.check(line, observed_at=datetime(2025, 3, 20, tzinfo=UTC), vacuum_before_kpa=50.0)
    row = by_label()["A"]
    assert (row.group, row.days_since_walked) == ("no_reading", 361)


def test_one_woodlot_is_ranked_by_itself():
    other = woods.woodlot("Beech Hill")
    read_at(leaks.a_line("A", woodlot=other, planned_taps=400), 20)
    read_at(leaks.a_line("B", woodlot=woods.woodlot("Ash Swale"), planned_taps=400), 10)
    assert [(row.line.label, row.rank) for row in standings(woodlot=other)] == [("A", 1)]


def test_two_lines_whose_names_read_alike_keep_their_own_ranks():
    inner, outer = woods.woodlot("North in Hollow"), woods.woodlot("Hollow")
    first = leaks.a_line("L4", woodlot=inner, planned_taps=400)
    read_at(first, 10)
    second = leaks.a_line("L4 in North", woodlot=outer, planned_taps=100)
    read_at(second, 20)
    rows = {row.line: (row.rank, row.taps.taps) for row in standings()}
    assert rows == {first: (1, 400), second: (2, 100)}


def test_a_tree_of_very_many_taps_is_ranked_and_breaks_nothing():
    main = leaks.a_line("M", planned_taps=0)
    read_at(main, 20)
    for number in range(6):
        leaks.a_line(f"L{number}", parent=main, planned_taps=20_000)
    assert by_label()["M"].taps.taps == 120_000
    assert by_label()["M"].rank == 1


def test_the_next_lines_are_the_ranked_ones_then_those_without_a_reading(two_lines):
    leaks.a_line("C", planned_taps=10)
    read_at(leaks.a_line("D", planned_taps=10), 26)
    rows = queries.next_lines(standings(), 3)
    assert [row.line.label for row in rows] == ["B", "A", "C"]

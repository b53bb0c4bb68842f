"""Changes to the woods keep their promises and say in words what they refuse."""

import pytest
from django.db import IntegrityError

from apps.woods import actions
from apps.woods.models import Landowner, Line, PumpHouse, TapCount, Woodlot
from tests.factories import woods

LINE = {"label": "M1", "kind": "main"}


@pytest.fixture
def lot(db):
    return woods.woodlot("North")


def save_line(lot, *, planned_taps=None, season=2026, **fields):
    return actions.save_line(woodlot=lot, season=season, planned_taps=planned_taps, **LINE | fields)


def taps(line, season=2026):
    counts = TapCount.objects.filter(line=line, season=season)
    return counts.values_list("planned_taps", flat=True).first()


@pytest.mark.parametrize("planned", [None, 0, 340])
def test_a_new_line_is_kept_with_its_taps_or_without(lot, planned):
    assert taps(save_line(lot, planned_taps=planned)) == planned


@pytest.mark.parametrize(
    ("before", "after"), [(None, 5), (5, 7), (5, 0), (5, None), (None, None), (0, None)]
)
def test_changing_a_line_changes_the_count_of_that_season_only(lot, before, after):
    line = save_line(lot, planned_taps=before)
    save_line(lot, planned_taps=11, season=2025, line=line)
    save_line(lot, planned_taps=after, line=line)
    assert (taps(line), taps(line, 2025)) == (after, 11)


def test_changing_a_line_leaves_what_was_not_named(lot):
    line = save_line(lot, length_m=30.0)
    actions.save_line(
        woodlot=lot, season=2026, planned_taps=None, line=line, label="M9", parent=None
    )
    line.refresh_from_db()
    assert (line.label, line.kind, line.length_m) == ("M9", "main", 30.0)


def test_a_label_taken_in_the_woodlot_is_refused_at_its_field(lot):
    save_line(lot)
    with pytest.raises(actions.Taken, match="North already has a line labelled M1") as refusal:
        save_line(lot, planned_taps=5)
    assert refusal.value.field == "label"
    assert TapCount.objects.count() == 0


def test_the_same_label_in_another_woodlot_is_welcome(lot):
    save_line(lot)
    assert save_line(woods.woodlot("South")).pk


@pytest.mark.parametrize("field", ["parent", "pump_house"])
def test_a_line_stays_inside_its_woodlot(lot, field):
    other = woods.woodlot("South")
    foreign = {"parent": woods.line, "pump_house": woods.pump_house}[field](other)
    with pytest.raises(actions.WrongWoodlot, match="is in another woodlot") as refusal:
        save_line(lot, **{field: foreign})
    assert refusal.value.field == field
    assert not lot.lines.exists()


@pytest.mark.parametrize("depth", [0, 1, 5])
def test_a_line_cannot_run_into_itself_or_its_own_branches(lot, depth):
    chain = [save_line(lot, label="0")]
    for number in range(depth):
        chain.append(save_line(lot, label=str(number + 1), parent=chain[-1]))
    with pytest.raises(actions.LinesInARing, match="would make a ring"):
        save_line(lot, label="0", line=chain[0], parent=chain[-1])
    chain[0].refresh_from_db()
    assert chain[0].parent is None


def test_a_line_may_move_to_any_line_that_does_not_run_into_it(lot):
    first, second = save_line(lot, label="A"), save_line(lot, label="B")
    branch = save_line(lot, label="C", parent=first)
    save_line(lot, label="C", line=branch, parent=second)
    save_line(lot, label="A", line=first, parent=branch)
    assert Line.objects.get(label="A").parent == branch


def test_a_ring_made_behind_our_back_hangs_nothing(lot):
    first = save_line(lot, label="A")
    second = save_line(lot, label="B", parent=first)
    Line.objects.filter(pk=first.pk).update(parent=second)
    third = save_line(lot, label="C")
    save_line(lot, label="C", line=third, parent=first)
    third.refresh_from_db()
    assert third.parent == first


def test_other_refusals_of_the_database_are_not_called_taken(lot):
    with pytest.raises(IntegrityError):
        save_line(lot, kind="pipe")


def test_carrying_fills_only_the_gaps(lot):
    carried = save_line(lot, label="A", planned_taps=5, season=2025)
    counted = save_line(lot, label="B", planned_taps=6, season=2025)
    save_line(lot, label="B", line=counted, planned_taps=9)
    never = save_line(lot, label="C")
    other = save_line(woods.woodlot("South"), label="A", planned_taps=7, season=2025)
    assert actions.plan_as_season_before(woodlot=lot, season=2026) == 1
    assert [taps(line) for line in (carried, counted, never, other)] == [5, 9, None, None]
    assert actions.plan_as_season_before(woodlot=lot, season=2026) == 0


def test_a_line_entered_by_mistake_goes_with_its_taps_of_this_season(lot):
    line = save_line(lot, planned_taps=5)
    actions.remove_line(line=line, season=2026)
    assert not Line.objects.exists()
    assert not TapCount.objects.exists()


def test_a_line_with_branches_stays_and_so_do_its_taps(lot):
    line = save_line(lot, planned_taps=5)
    save_line(lot, label="L1", parent=line)
    with pytest.raises(actions.StillInUse, match="M1 stays, because this stands on it: 1 "):
        actions.remove_line(line=line, season=2026)
    assert taps(line) == 5


def test_a_line_counted_in_a_past_season_stays(lot):
    line = save_line(lot, planned_taps=5, season=2025)
    with pytest.raises(actions.StillInUse, match="counted in past seasons"):
        actions.remove_line(line=line, season=2026)
    assert taps(line, 2025) == 5


WOODLOT = {"latitude": 43.9, "longitude": -75.3, "elevation_m": 400.0}


def test_a_woodlot_name_is_taken_once(lot):
    with pytest.raises(actions.Taken, match="already a woodlot called North"):
        actions.save_woodlot(name="North", **WOODLOT)
    assert Woodlot.objects.count() == 1


def test_a_woodlot_keeps_its_own_name_when_changed(lot):
    actions.save_woodlot(woodlot=lot, name="North", elevation_m=410.0)
    lot.refresh_from_db()
    assert (lot.elevation_m, lot.latitude) == (410.0, 43.9)


def test_a_landowner_is_listed_once(db):
    actions.save_landowner(name="Beech Hill Trust", phone="")
    with pytest.raises(actions.Taken, match="Beech Hill Trust is already listed"):
        actions.save_landowner(name="Beech Hill Trust")
    assert Landowner.objects.count() == 1


def test_a_pump_house_name_is_taken_once_in_a_woodlot(lot):
    actions.save_pump_house(woodlot=lot, name="Lower")
    with pytest.raises(actions.Taken, match="North already has a pump house called Lower"):
        actions.save_pump_house(woodlot=lot, name="Lower")
    assert PumpHouse.objects.count() == 1


def test_a_lease_that_starts_a_second_time_that_day_is_refused_at_its_field(lot):
    first = woods.lease(lot)
    with pytest.raises(actions.Taken) as refusal:
        actions.save_lease(
            woodlot=lot,
            landowner=first.landowner,
            rule="fixed",
            rate_per_tap=first.rate_per_tap,
            starts_on=first.starts_on,
            ends_on=first.ends_on,
        )
    assert refusal.value.field == "starts_on"

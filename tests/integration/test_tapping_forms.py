"""What the forms of tapping take, clean and refuse."""

from datetime import date
from uuid import uuid4

import pytest

from apps.tapping.forms import CrewPlanForm, FindLineForm, FirstRunForm, SnowForm, TallyForm
from tests.factories import woods

TODAY = date(2026, 3, 16)


def tally(**typed) -> TallyForm:
    return TallyForm({"uuid": str(uuid4()), **typed}, today=TODAY)


def snow(lots, unit_system="us", **typed) -> SnowForm:
    data = {"seen_on": "2026-03-15", **typed}
    return SnowForm(data, woodlots=lots, today=TODAY, unit_system=unit_system)


@pytest.mark.parametrize(
    ("typed", "cleaned"),
    [
        ({"taps_set": "7"}, (7, 0, None, False)),
        ({"drops_renewed": "3"}, (0, 3, None, False)),
        ({"finishes_line": "on"}, (0, 0, None, True)),
        ({"taps_set": "0", "finishes_line": "on"}, (0, 0, None, True)),
        ({"taps_set": "60", "pair_hours": "0.75"}, (60, 0, 0.75, False)),
    ],
)
def test_a_tally_needs_only_one_thing_to_say(typed, cleaned):
    form = tally(**typed)
    assert form.is_valid()
    names = ("taps_set", "drops_renewed", "pair_hours", "finishes_line")
    assert tuple(form.cleaned_data[name] for name in names) == cleaned


@pytest.mark.parametrize("typed", [{}, {"taps_set": "0"}, {"note": "snowed in"}])
def test_a_tally_that_says_nothing_is_refused_at_the_taps(typed):
    assert list(tally(**typed).errors) == ["taps_set"]


@pytest.mark.parametrize(
    ("typed", "day"), [({}, TODAY), ({"tallied_on": "2026-03-02"}, date(2026, 3, 2))]
)
def test_a_tally_is_for_today_unless_a_day_is_typed(typed, day):
    form = tally(taps_set="1", **typed)
    assert form.is_valid()
    assert form.cleaned_data["tallied_on"] == day


def test_an_error_elsewhere_does_not_blame_the_taps():
    assert list(tally(pair_hours="30").errors) == ["pair_hours"]


def test_a_note_is_no_longer_than_the_record_takes():
    assert tally(taps_set="1", note="x" * 200).is_valid()
    assert list(tally(taps_set="1", note="x" * 201).errors) == ["note"]


@pytest.mark.parametrize("month", range(1, 13))
def test_first_runs_come_from_december_to_may(db, month):
    form = FirstRunForm({"ran_on": f"2025-{month:02}-10"}, today=TODAY)
    assert form.is_valid() is (month in {12, 1, 2, 3, 4, 5})


def test_a_first_run_may_be_today(db):
    assert FirstRunForm({"ran_on": "2026-03-16"}, today=TODAY).is_valid()


@pytest.mark.parametrize(
    ("typed", "ok"),
    [
        ("", True),
        ("2025-12-01", True),
        ("2026-11-30", True),
        ("2025-11-30", False),
        ("2026-12-01", False),
    ],
)
def test_an_own_ready_morning_lies_in_its_season(typed, ok):
    data = {
        "pairs": "2",
        "hours_per_day": "6",
        "lost_days": "2",
        "rest_day": "none",
        "accept_missing": "2",
        "ready_morning": typed,
    }
    assert CrewPlanForm(data, season=2026).is_valid() is ok


@pytest.mark.parametrize(("unit_system", "typed"), [("us", "12"), ("metric", "30.48")])
def test_snow_is_typed_in_the_operations_unit_and_kept_in_metres(db, unit_system, typed):
    lot = woods.woodlot()
    form = snow([lot], unit_system, **{f"snow_{lot.pk}": typed})
    assert form.is_valid()
    assert form.depths_m == pytest.approx({lot.pk: 0.3048})


def test_bare_ground_is_a_depth_and_an_empty_field_is_none(db):
    bare, unseen = woods.woodlot("Bare"), woods.woodlot("Unseen")
    form = snow([bare, unseen], **{f"snow_{bare.pk}": "0"})
    assert form.is_valid()
    assert form.depths_m == {bare.pk: 0.0}


def test_snow_fields_belong_to_one_form_and_not_to_all(db):
    lot = woods.woodlot()
    assert f"snow_{lot.pk}" in snow([lot]).fields
    assert list(snow([]).fields) == ["seen_on"]


def test_all_lines_are_wanted_by_default(db):
    form = FindLineForm({})
    assert form.is_valid()
    assert form.cleaned_data == {"woodlot": None, "line": "", "everything": False}

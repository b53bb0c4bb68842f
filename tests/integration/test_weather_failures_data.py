"""Failures within the data: missing hours and members, other models, values that cannot be.

Cases F23 to F33, seen in the services' issue threads. What can be used is used, and missing
stays missing; what cannot be believed leaves the last good series as it was.
"""

import numpy as np
import pytest

from apps.weather.models import ForecastRun
from tests.factories import failing
from tests.factories import weather as made
from tests.factories.failing import LATER, NOW
from tests.standin import StandIn

pytestmark = pytest.mark.django_db


@pytest.fixture
def standin():
    with StandIn(now=NOW) as running:
        yield running


@pytest.fixture
def farm(standin):
    return failing.forecast(standin).begin()


@pytest.fixture
def members(standin):
    return failing.ensemble(standin).begin()


def temps(farm, place=0):
    rows = {row.woodlot_id: row for row in made.newest(LATER)}
    return rows[farm.lots[place].pk].temps_c()


def remarks():
    newest = ForecastRun.objects.order_by("-fetched_at")[0]
    return {note["kind"] for note in newest.findings}


def missing_stay_missing(farm, fault, hours):
    farm.standin.fail(fault)
    assert farm.ask().outcome == "ok"
    assert np.isnan(temps(farm)[0, hours]).all()
    assert np.isnan(temps(farm)).sum() == temps(farm)[0, hours].size
    assert remarks() == {"missing_hours"}


def test_f23_trailing_nulls_are_stored_as_missing_and_remarked_on(farm):
    missing_stay_missing(farm, "nulls_trailing", slice(-24, None))


def test_f23_a_day_that_ends_in_nulls_is_unknown_not_frostless(farm):
    farm.standin.fail("nulls_trailing")
    farm.ask()
    last = farm.row().days[-1]
    assert last.known_hours < last.full_hours
    assert last.verdict in {"yes", "unknown"}


def test_f24_leading_nulls_are_stored_as_missing_and_remarked_on(farm):
    missing_stay_missing(farm, "nulls_leading", slice(0, 30))


def test_f25_one_site_all_null_keeps_its_old_hours_and_the_others_get_new_ones(farm):
    farm.standin.fail("nulls_one_site")
    attempt = farm.ask()
    ages = [farm.row(lot).staleness.words for lot in farm.lots]
    assert (attempt.outcome, ages) == ("partial", ["fetched 6 h ago", "fetched just now"])
    assert "Lot 0: Every hour is missing." in attempt.detail
    assert bytes_of(farm.lots[0]) == farm.before[farm.lots[0].pk, "best_match"][1]


def bytes_of(lot):
    return next(bytes(row.packed) for row in made.newest(LATER) if row.woodlot_id == lot.pk)


def test_f26_a_control_cut_short_leaves_the_chances_to_the_other_members(members):
    members.standin.fail("nulls_control")
    assert members.ask().outcome == "ok"
    assert np.isnan(temps(members)[0, 60:]).all()
    assert not np.isnan(temps(members)[1:]).any()
    days = members.chances()
    assert {day.full for day in days[4:10]} == {30}
    assert all(day.probability is not None for day in days[:14])


def test_f27_thirty_of_thirty_one_members_are_used_and_remarked_on(members):
    members.standin.fail("member_missing")
    assert members.ask().outcome == "ok"
    assert len(temps(members)) == 30
    assert remarks() == {"members_missing"}


def test_f27_nineteen_of_thirty_one_members_are_too_few(members):
    members.standin.fail("members_few")
    attempt = members.ask()
    assert "Only 19 of 31 members" in attempt.detail
    members.kept(attempt, "few_members", "from last night, 11 h old")


@pytest.mark.parametrize(
    ("fault", "kind"), [("nulls_all", "all_missing"), ("model_missing", "wrong_unit")]
)
def test_f28_a_model_of_nulls_keeps_the_last_good_members(members, fault, kind):
    members.standin.fail(fault)
    members.kept(members.ask(), kind, "from last night, 11 h old")


@pytest.mark.parametrize("fault", ["", "suffix_own"])
def test_f29_one_model_is_asked_for_so_a_lost_suffix_loses_nothing(members, fault):
    assert [seen.query["models"] for seen in asked(members)] == ["ncep_gefs_seamless"]
    if fault:
        members.standin.fail(fault)
    assert members.ask().outcome == "ok"
    assert {row.run.model for row in made.newest(LATER)} == {"ncep_gefs_seamless"}
    assert len(temps(members)) == 31


def asked(farm):
    return [seen for seen in farm.standin.seen if seen.path == "/v1/ensemble"]


@pytest.mark.parametrize("fault", ["suffix_renamed", "suffix_other"])
def test_f30_members_of_another_model_are_never_taken_for_those_asked_for(members, fault):
    members.standin.fail(fault)
    members.kept(members.ask(), "other_model", "from last night, 11 h old")


def test_f31_members_that_are_all_alike_are_a_frozen_run(members):
    members.standin.fail("members_alike")
    members.kept(members.ask(), "members_alike", "from last night, 11 h old")


def test_f32_a_value_that_cannot_be_keeps_the_last_good_hours(farm):
    farm.standin.fail("implausible")
    attempt = farm.ask()
    assert "-99 °C is not believable" in attempt.detail
    farm.kept(attempt, "implausible")


def test_f33_a_cell_far_above_the_site_is_moved_down_and_remarked_on(farm):
    low = farm.row().days[0].minimum_c
    farm.standin.fail("high_cell")
    assert farm.ask().outcome == "ok"
    assert remarks() == {"height_differs"}
    # The same values, said to stand for 500 m more: 0.0065 C a metre warmer at the woodlot.
    assert farm.row().days[0].minimum_c == pytest.approx(low + 3.25, abs=0.01)

"""The night's plan against published ratios and a separate minute-by-minute walk.

Tolerances: published ratios to the digits printed; the walk to one minute, its own step.
THAWLINE_SOAK=1 walks 1,000 random nights in place of 100.
"""

import math
import os
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.domain.errors import DomainError, OutOfRange
from apps.domain.run_plan import (
    Night,
    NothingToBoil,
    Pans,
    PansWouldRunDry,
    ReverseOsmosis,
    levels,
    plan_run,
)
from apps.domain.sugar import sap_per_syrup_jones
from tests.unit.domain.night_simulation import random_night, walk

GALLON_LITRES = 3.785411784
MINUTE = 1 / 60
NIGHTS = 1000 if os.environ.get("THAWLINE_SOAK") == "1" else 100
STEADY = Pans(water_litres_per_hour=600.0, fuel_per_hour=40.0, shutdown_hours=1.5)


def _machine(**changes):
    settled = ReverseOsmosis(2000.0, 10.0, 10.0, concentrate_brix=8.0)
    return replace(settled, **changes)


def _night(**changes):
    settled = Night(8000.0, 2.0, (500.0, 300.0), STEADY, _machine())
    return replace(settled, **changes)


# Gallons of concentrate from 1,000 gallons of sap, mass balance on the density polynomial with
# Llano-Restrepo 2005 coefficients, computed outside this project; four digits, so 0.05 gallon.
CONCENTRATE_PER_1000 = [
    (2.0, 8.0, 244.2),
    (2.0, 12.0, 160.2),
    (2.0, 16.0, 118.2),
    (2.0, 20.0, 93.1),
    (1.5, 8.0, 182.8),
]


@pytest.mark.parametrize(("sap_brix", "concentrate_brix", "gallons"), CONCENTRATE_PER_1000)
def test_concentrate_from_1000_gallons(sap_brix, concentrate_brix, gallons):
    machine = _machine(concentrate_brix=concentrate_brix)
    plan = plan_run(Night(1000.0, sap_brix, (), STEADY, machine))
    assert plan.concentrate_litres == pytest.approx(gallons, abs=0.06)


@pytest.mark.parametrize(("sap_brix", "concentrate_brix", "_gallons"), CONCENTRATE_PER_1000)
def test_ratio_rule_agrees_with_mass_balance_within_half_a_percent(
    sap_brix, concentrate_brix, _gallons
):
    # Revised Jones rule, Perkins and Isselhardt (UVM Proctor): 87.1 / x - 0.32 at 66.0 Brix.
    machine = _machine(concentrate_brix=concentrate_brix)
    plan = plan_run(Night(1000.0, sap_brix, (), STEADY, machine))
    by_rule = 1000 * sap_per_syrup_jones(concentrate_brix) / sap_per_syrup_jones(sap_brix)
    assert by_rule == pytest.approx(plan.concentrate_litres, rel=0.005)


@pytest.mark.parametrize(
    ("removed", "sap_brix", "concentrate_brix"),
    [(50.0, 2, 4), (75.0, 2, 8), (83.3, 2, 12), (87.5, 2, 16), (90.0, 2, 20)],
)
def test_water_removed_is_near_the_published_rule(removed, sap_brix, concentrate_brix):
    # UVM Extension, Maple Minute: 75 % (2 to 8) to 90 % (2 to 20) removed, by 1 - Cin / Cout. The
    # rule leaves out that concentrate is denser, which is worth up to 1 point of a hundred.
    plan = plan_run(Night(100.0, sap_brix, (), STEADY, _machine(concentrate_brix=concentrate_brix)))
    assert 100 - plan.concentrate_litres == pytest.approx(removed, abs=1.0)


def test_syrup_is_the_same_with_or_without_the_machine():
    # 1,000 gallons at 2 Brix make 1000 / 43.389 = 23.05 gallons at 66.0 Brix whichever way.
    with_machine = plan_run(Night(1000 * GALLON_LITRES, 2.0, (), STEADY, _machine()))
    without = plan_run(Night(1000 * GALLON_LITRES, 2.0, (), STEADY))
    assert with_machine.syrup_litres / GALLON_LITRES == pytest.approx(23.05, abs=0.005)
    assert without.syrup_litres == pytest.approx(with_machine.syrup_litres, rel=1e-9)


def test_concentrating_to_8_brix_leaves_the_computed_share_of_the_boil():
    # Boil-water ratio 2 to 8 Brix: exact 0.226, where the trade says "a quarter".
    boiled = plan_run(Night(1000.0, 2.0, (), STEADY)).water_litres
    assert plan_run(Night(1000.0, 2.0, (), STEADY, _machine())).water_litres / boiled == (
        pytest.approx(0.226, abs=0.0005)
    )


def test_eight_hours_of_800_taps_need_100_gallons_an_hour():
    # Farming Magazine, evaporator sizing: 800 taps x 1 gallon / 8 hours = 100 gallons an hour of
    # sap drawn; as 42.4 of 43.4 gallons drawn are water, 97.7 gallons of it boiled an hour.
    pans = Pans(100 * GALLON_LITRES * (1 - 1 / 43.389), 0.0)
    plan = plan_run(Night(800 * GALLON_LITRES, 2.0, (), pans))
    assert plan.pan_hours == pytest.approx(8.0, abs=0.001)


def test_all_in_hand_can_be_boiled_at_once():
    plan = plan_run(Night(8000.0, 2.0, (), STEADY))
    assert plan.earliest_pan_start_hour == 0.0
    assert plan.ro_finish_hour is None
    assert plan.feed_litres_per_hour is None
    assert plan.lowest_concentrate_litres is None


def test_slow_machine_makes_the_pans_wait_for_its_finish():
    # 8,000 l at 500 l an hour end at hour 16; the pans draw faster than it makes, so they must
    # end with it, however short their own run.
    night = Night(8000.0, 2.0, (), STEADY, _machine(feed_litres_per_hour=500.0))
    plan = plan_run(night)
    assert plan.ro_finish_hour == pytest.approx(16.0)
    assert plan.finish_hour == pytest.approx(16.0)
    assert plan.earliest_pan_start_hour == pytest.approx(16.0 - plan.pan_hours)


def test_hand_worked_night():
    # 8,800 l at 2,000 l an hour: done at 4.4 h. Concentrate 8800 x .24419 = 2148.9 l; syrup
    # 8800 / 43.389 = 202.8; water 1946.1; at 600 l an hour 3.2435 h, so start at 1.1565 h.
    plan = plan_run(_night())
    assert plan.ro_finish_hour == pytest.approx(4.4)
    assert plan.concentrate_litres == pytest.approx(2148.9, abs=0.5)
    assert plan.syrup_litres == pytest.approx(202.8, abs=0.05)
    assert plan.pan_hours == pytest.approx(3.2435, abs=0.001)
    assert plan.earliest_pan_start_hour == pytest.approx(1.1565, abs=0.001)
    assert plan.finish_hour == pytest.approx(4.4, abs=0.001)


def test_sleep_fuel_and_draw_follow_from_the_boil():
    plan = plan_run(_night(), pan_start_hour=2.0)
    assert plan.latest_sleep_hour == pytest.approx(2.0 + plan.pan_hours + 1.5)
    assert plan.fuel == pytest.approx(plan.pan_hours * 40.0)
    assert plan.draw_litres_per_hour == pytest.approx(plan.concentrate_litres / plan.pan_hours)
    assert plan.water_litres == pytest.approx(plan.pan_hours * 600.0)


def test_sap_tank_peaks_while_inflow_beats_the_feed():
    plan = plan_run(Night(1000.0, 2.0, (3000.0, 2500.0, 100.0), STEADY, _machine()))
    assert plan.highest_sap_litres == pytest.approx(1000 + 1000 + 500)


def test_machine_waits_for_its_own_start():
    plan = plan_run(_night(ro=_machine(start_hour=3.0)))
    assert plan.ro_finish_hour == pytest.approx(3.0 + 4.4)
    assert plan.highest_sap_litres == pytest.approx(8800.0)


def test_empty_tank_lets_only_the_inflow_through():
    plan = plan_run(Night(1000.0, 2.0, (400.0, 400.0, 400.0), STEADY, _machine()))
    assert plan.ro_finish_hour == pytest.approx(3.0)


def test_cold_sap_slows_the_machine():
    # Viscosity 1.5182 mPa s at 5 C over 1.3059 at 10 C: 2,000 falls to 1,720 l an hour.
    plan = plan_run(_night(ro=_machine(sap_temperature_c=5.0)))
    assert plan.feed_litres_per_hour == pytest.approx(1720.4, abs=1.0)
    assert plan.ro_finish_hour > plan_run(_night()).ro_finish_hour


def test_reserve_stays_behind():
    night = _night(reserve_litres=300.0)
    plan = plan_run(night)
    _, in_tank = levels(night, plan, np.array([plan.finish_hour, plan.finish_hour + 5]))
    assert in_tank == pytest.approx([300.0, 300.0])


def test_lowest_concentrate_is_seen_while_the_machine_runs():
    night = _night(reserve_litres=50.0)
    assert plan_run(night).lowest_concentrate_litres == pytest.approx(50.0)
    later = plan_run(night, pan_start_hour=3.0)
    assert 50.0 < later.lowest_concentrate_litres < later.concentrate_litres
    assert plan_run(night, pan_start_hour=10.0).lowest_concentrate_litres is None


def test_earlier_start_is_refused_with_the_hour_of_running_dry():
    # Drawing d = 662.5 l an hour from hour 0 against 488.4 made: short from the first moment.
    with pytest.raises(PansWouldRunDry, match=r"run dry at hour 0\.00") as refusal:
        plan_run(_night(), pan_start_hour=0.0)
    assert refusal.value.earliest_hour == pytest.approx(1.1565, abs=0.001)
    assert refusal.value.start_hour == 0.0


def test_dry_hour_is_where_drawn_meets_made():
    # 100 l in hand and 244.19 made an hour by 1,000 l an hour against a draw of 662.5: gone after
    # 100 / (662.5 - 244.19) = 0.2391 h.
    night = _night(concentrate_litres=100.0, ro=_machine(feed_litres_per_hour=1000.0))
    with pytest.raises(PansWouldRunDry) as refusal:
        plan_run(night, pan_start_hour=0.0)
    assert refusal.value.dry_hour == pytest.approx(0.2391, abs=0.0005)


def test_start_under_the_reserve_is_dry_at_once():
    night = _night(reserve_litres=400.0)
    with pytest.raises(PansWouldRunDry) as refusal:
        plan_run(night, pan_start_hour=0.25)
    assert refusal.value.dry_hour == 0.25


def test_reserve_still_filling_does_not_push_the_start_too_far():
    # 244.19 x 4 = 976.8 made an hour outruns the draw: wait only until the reserve is made.
    night = _night(ro=_machine(feed_litres_per_hour=4000.0), reserve_litres=300.0, sap_litres=2e4)
    assert plan_run(night).earliest_pan_start_hour == pytest.approx(300 / 976.8, abs=0.001)


@pytest.mark.parametrize(
    "night",
    [
        Night(0.0, 2.0, (), STEADY),
        Night(0.0, 2.0, (), STEADY, _machine()),
        Night(0.0, 2.0, (0.0, 0.0), STEADY, _machine(start_hour=1.0)),
        Night(400.0, 2.0, (), STEADY, _machine(), reserve_litres=100.0),
    ],
)
def test_nothing_over_the_reserve_is_nothing_to_boil(night):
    with pytest.raises(NothingToBoil, match="above the reserve"):
        plan_run(night)


@pytest.mark.parametrize(
    ("make", "named"),
    [
        (lambda: _night(sap_litres=-1.0), "sap_litres"),
        (lambda: _night(sap_brix=8.1), "sap_brix"),
        (lambda: _night(inflow_litres_per_hour=(1.0, math.nan)), "inflow_litres_per_hour"),
        (lambda: _night(inflow_litres_per_hour=(-1.0,)), "inflow_litres_per_hour"),
        (lambda: _night(inflow_litres_per_hour=(0.0,) * 241), "hours of inflow"),
        (lambda: _night(reserve_litres=-1.0), "reserve_litres"),
        (lambda: _night(syrup_brix=50.0), "syrup_brix"),
        (lambda: _night(ro=None, concentrate_litres=5.0), "concentrate_litres"),
        (lambda: _machine(feed_litres_per_hour=0.0), "feed_litres_per_hour"),
        (lambda: _machine(start_hour=-1.0), "start_hour"),
        (lambda: _machine(concentrate_brix=51.0), "concentrate_brix"),
        (lambda: _machine(sap_temperature_c=-5.0), "sap_temperature_c"),
        (lambda: _machine(measured_at_c=55.0), "measured_at_c"),
        (lambda: Pans(0.0, 1.0), "water_litres_per_hour"),
        (lambda: Pans(1.0, -1.0), "fuel_per_hour"),
        (lambda: Pans(1.0, 1.0, 25.0), "shutdown_hours"),
        (lambda: plan_run(_night(), pan_start_hour=-0.5), "pan_start_hour"),
        (lambda: levels(_night(), plan_run(_night()), np.array([-1.0])), "hours"),
    ],
)
def test_impossible_input_is_refused_by_name(make, named):
    with pytest.raises(OutOfRange, match=named):
        make()


def _nothing_to_boil(night, walked):
    """Whether the walk never gets over the reserve, and then that the plan says so too."""
    if walked.supplied_litres[-1] > night.reserve_litres:
        return False
    with pytest.raises(NothingToBoil):
        plan_run(night)
    return True


@pytest.mark.parametrize("seed", range(NIGHTS))
def test_earliest_start_and_finish_agree_with_the_walk(seed):
    night = random_night(seed)
    walked = walk(night)
    if _nothing_to_boil(night, walked):
        return
    plan = plan_run(night)
    assert abs(plan.earliest_pan_start_hour - walked.earliest_minute * MINUTE) <= MINUTE + 1e-9
    start = math.ceil(plan.earliest_pan_start_hour * 60)
    finish = walked.finish_minute(start, night.reserve_litres) * MINUTE
    assert abs(plan_run(night, start * MINUTE).finish_hour - finish) <= MINUTE + 1e-9


@pytest.mark.parametrize("seed", range(NIGHTS))
def test_refusal_names_the_minute_the_walk_runs_dry(seed):
    night = random_night(seed)
    walked = walk(night)
    if _nothing_to_boil(night, walked):
        return
    earliest = plan_run(night).earliest_pan_start_hour
    start = int(earliest * 60 * 0.6)
    dry = walked.dry_minute(start, night.reserve_litres)
    if dry is None:
        # The walk looks once a minute, so it cannot see a shortfall that short.
        assert earliest - start * MINUTE <= MINUTE
        return
    with pytest.raises(PansWouldRunDry) as refusal:
        plan_run(night, start * MINUTE)
    assert abs(refusal.value.dry_hour - dry * MINUTE) <= MINUTE + 1e-9


@pytest.mark.parametrize("seed", range(0, NIGHTS, 5))
def test_levels_agree_with_the_walk_at_every_minute(seed):
    night = random_night(seed)
    walked = walk(night)
    if _nothing_to_boil(night, walked):
        return
    plan = plan_run(night)
    minutes = np.arange(len(walked.supplied_litres))
    drawn = np.clip(minutes * MINUTE - plan.pan_start_hour, 0, plan.pan_hours)
    waiting, in_tank = levels(night, plan, minutes * MINUTE)
    assert in_tank + drawn * plan.draw_litres_per_hour == pytest.approx(
        np.array(walked.supplied_litres), rel=1e-6, abs=0.01
    )
    assert waiting == pytest.approx(np.array(walked.waiting_litres), abs=0.01)


@given(st.integers(0, 10_000), st.floats(min_value=0.0, max_value=500.0))
def test_more_concentrate_in_hand_never_delays_the_start(seed, extra_litres):
    night = random_night(seed)
    if night.ro is None:
        night = replace(night, ro=_machine(concentrate_brix=9.0))
    more = replace(night, concentrate_litres=night.concentrate_litres + extra_litres)
    try:
        least = plan_run(night)
    except DomainError:
        return
    assert plan_run(more).finish_hour >= least.ro_finish_hour - 1e-6
    assert plan_run(more).earliest_pan_start_hour <= least.earliest_pan_start_hour + 1e-6


@given(st.integers(0, 10_000), st.floats(min_value=0.0, max_value=15.0))
def test_warmer_sap_never_delays_the_machine(seed, warmer_c):
    night = random_night(seed)
    machine = night.ro or _machine(sap_temperature_c=2.0)
    warm = replace(machine, sap_temperature_c=machine.sap_temperature_c + warmer_c)
    assert warm.feed_now_litres_per_hour >= machine.feed_now_litres_per_hour
    assert warm.feed_now_litres_per_hour <= warm.feed_litres_per_hour

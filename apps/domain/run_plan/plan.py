"""The earliest pan start with which concentrate lasts, and what follows from a start.

Formula: syrup = concentrate / mass-balance ratio from concentrate to syrup Brix; water =
concentrate - syrup; pan hours = water / measured rate; the pans draw concentrate / pan hours, a
steady d. With A(t) supplied less the reserve, the pans have enough from a start s when A(t) >=
d (t - s) at every hour t until the supply is complete, so the earliest s is the greatest of
t - A(t) / d over the knots of A. An earlier start is refused with the hour at which the pans
would run dry.
Units: litres at 20 C, hours, litres per hour; fuel in the unit of its hourly rate.
Validity: steady rates, as measured on this rig; warming up and finishing the last draw-off are in
shutdown_hours or not at all. The reserve is what stays behind when the pans stop. Pans that run
dry scorch and can start a fire: the plan is no leave to walk away from a lit evaporator.
Source: conservation of volume and of sugar mass; the ratios as in apps.domain.sugar.
"""

from dataclasses import dataclass

import numpy as np

from apps.domain.errors import DomainError, require_range
from apps.domain.run_plan.supply import Hours, Litres, Night, Supply, supply_of
from apps.domain.sugar import sap_per_syrup_mass_balance

# Starts that differ by under four milliseconds are the same start.
SAME_HOUR = 1e-6


class NothingToBoil(DomainError):
    """All there is tonight does not exceed the reserve."""

    def __init__(self, supplied_litres: float, reserve_litres: float) -> None:
        super().__init__(
            f"supplied litres must be above the reserve of {reserve_litres:g}, "
            f"not {supplied_litres:g}"
        )


class PansWouldRunDry(DomainError):
    """A pan start before the earliest one, with the hour at which concentrate would run out."""

    def __init__(self, start_hour: float, earliest_hour: float, dry_hour: float) -> None:
        super().__init__(
            f"pan start hour must be at least {earliest_hour:.2f}, not {start_hour:.2f}: "
            f"the pans would run dry at hour {dry_hour:.2f}"
        )
        self.start_hour = start_hour
        self.earliest_hour = earliest_hour
        self.dry_hour = dry_hour


@dataclass(frozen=True)
class RunPlan:
    """A night that works. Hours count from the moment planned at.

    ro_finish_hour is None without a machine. lowest_concentrate_litres is the least in the tank
    while both pans and supply run, None when the supply is complete before the pans start.
    latest_sleep_hour is when the last of the crew can lie down: pans off and shut down.
    """

    feed_litres_per_hour: float | None
    ro_finish_hour: float | None
    highest_sap_litres: float
    concentrate_litres: float
    syrup_litres: float
    water_litres: float
    draw_litres_per_hour: float
    earliest_pan_start_hour: float
    pan_start_hour: float
    pan_hours: float
    finish_hour: float
    latest_sleep_hour: float
    lowest_concentrate_litres: float | None
    fuel: float


def plan_run(night: Night, pan_start_hour: float | None = None) -> RunPlan:
    """Plan the night from the earliest pan start, or from a later one.

    Raises NothingToBoil when the reserve is not exceeded, PansWouldRunDry for a start before the
    earliest, OutOfRange for a start under zero.
    """
    supply = supply_of(night)
    ratio = float(sap_per_syrup_mass_balance(night.pan_brix, night.syrup_brix))
    draw = night.pans.water_litres_per_hour / (1.0 - 1.0 / ratio)
    spare = supply.supplied_litres - night.reserve_litres
    if spare[-1] <= 0:
        raise NothingToBoil(float(supply.supplied_litres[-1]), night.reserve_litres)
    earliest = _earliest_start(supply, spare, draw)
    start = earliest if pan_start_hour is None else pan_start_hour
    require_range("pan_start_hour", start, 0.0, np.inf)
    if start < earliest - SAME_HOUR:
        raise PansWouldRunDry(start, earliest, _dry_hour(supply, spare, draw, start))
    # The reserve stays behind, so only what lies over it is boiled.
    concentrate = float(spare[-1])
    pan_hours = concentrate / draw
    return RunPlan(
        feed_litres_per_hour=night.ro.feed_now_litres_per_hour if night.ro else None,
        ro_finish_hour=supply.complete_hour if night.ro else None,
        highest_sap_litres=float(supply.sap_waiting_litres.max()),
        concentrate_litres=concentrate,
        syrup_litres=concentrate / ratio,
        water_litres=concentrate - concentrate / ratio,
        draw_litres_per_hour=draw,
        earliest_pan_start_hour=earliest,
        pan_start_hour=start,
        pan_hours=pan_hours,
        finish_hour=start + pan_hours,
        latest_sleep_hour=start + pan_hours + night.pans.shutdown_hours,
        lowest_concentrate_litres=_lowest(night, supply, draw, start),
        fuel=pan_hours * night.pans.fuel_per_hour,
    )


def levels(night: Night, plan: RunPlan, hours: Hours) -> tuple[Litres, Litres]:
    """Litres of sap waiting and in the pans' tank at each hour, for a picture or a table.

    Both have the shape of hours. Raises OutOfRange for an hour under zero.
    """
    require_range("hours", hours, 0.0, np.inf)
    supply = supply_of(night)
    # Before the start nothing is drawn, and after the finish nothing more.
    drawn = plan.draw_litres_per_hour * np.clip(hours - plan.pan_start_hour, 0.0, plan.pan_hours)
    waiting = np.interp(hours, supply.hours, supply.sap_waiting_litres)
    return waiting, np.interp(hours, supply.hours, supply.supplied_litres) - drawn


def _earliest_start(supply: Supply, spare: Litres, draw: float) -> float:
    hours = supply.hours
    complete = supply.complete_hour
    first = _first_hour_with(hours, spare, 0.0)
    # A straight line less a straight line is lowest at a knot, so the knots are enough. After the
    # last supply the tank only falls, to the reserve at the finish.
    binding = (hours >= first) & (hours <= complete)
    # Plenty in hand would ask for a start before there is anything over the reserve, or in the
    # past: the first hour is as early as it gets.
    return float(np.max(hours[binding] - spare[binding] / draw, initial=first))


def _dry_hour(supply: Supply, spare: Litres, draw: float, start: float) -> float:
    """First hour after start at which what was supplied no longer covers what was drawn."""
    later = supply.hours > start
    hours = np.concatenate(([start], supply.hours[later]))
    left = np.concatenate(([np.interp(start, supply.hours, spare)], spare[later]))
    left -= draw * (hours - start)
    short = int(np.argmax(left < 0))
    # Under the reserve from the first moment: there is no line to cross.
    if short == 0:
        return start
    fraction = left[short - 1] / (left[short - 1] - left[short])
    return float(hours[short - 1] + fraction * (hours[short] - hours[short - 1]))


def _first_hour_with(hours: Hours, rising: Litres, level: float) -> float:
    """First hour at which a line that never falls, and ends above it, reaches the level."""
    after = int(np.argmax(rising >= level))
    if after == 0:
        return float(hours[0])
    step = rising[after] - rising[after - 1]
    share = (level - rising[after - 1]) / step
    return float(hours[after - 1] + share * (hours[after] - hours[after - 1]))


def _lowest(night: Night, supply: Supply, draw: float, start: float) -> float | None:
    complete = supply.complete_hour
    if start >= complete:
        return None
    between = (supply.hours > start) & (supply.hours <= complete)
    hours = np.concatenate(([start], supply.hours[between]))
    in_tank = np.interp(hours, supply.hours, supply.supplied_litres) - draw * (hours - start)
    return float(in_tank.min())

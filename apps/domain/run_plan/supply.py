"""What waits in the sap tank and what has reached the concentrate tank, hour by hour.

Formula: sap in hand grows with the inflow and falls with the machine's feed from its start; when
the tank is empty the machine passes only what flows in. Concentrate made = sap passed divided by
the mass-balance ratio from sap to concentrate Brix. All rates are constant between knots, so both
tanks are straight lines between them and exact at any hour. Without a machine the sap itself is
what the pans draw on.
Units: litres at 20 C, hours, litres per hour, Brix.
Validity: the inflow curve is one rate per hour from hour 0 and nothing flows in after its end. An
unknown hour (NaN) is refused: the caller plans to the last known hour or states an assumption.
Concentrate already in the tank counts as being at the machine's concentrate Brix.
Source: conservation of volume and of sugar mass; density as in apps.domain.sugar.
"""

import itertools
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from apps.domain.errors import require_range
from apps.domain.run_plan.viscosity import feed_at_temperature
from apps.domain.sugar import sap_per_syrup_mass_balance

LARGEST_LITRES = 1e8
LONGEST_HOURS = 240.0
# The strongest concentrate any source mentions is 35 Brix; beyond 50 nothing is left to remove.
STRONGEST_CONCENTRATE_BRIX = 50.0

Hours = npt.NDArray[np.float64]
Litres = npt.NDArray[np.float64]


@dataclass(frozen=True)
class ReverseOsmosis:
    """A concentrating machine: its feed measured at one temperature, and tonight's sap.

    Raises OutOfRange for a feed not over zero or a start, temperature or Brix out of range.
    """

    feed_litres_per_hour: float
    measured_at_c: float
    sap_temperature_c: float
    concentrate_brix: float
    start_hour: float = 0.0

    def __post_init__(self) -> None:
        require_range("feed_litres_per_hour", self.feed_litres_per_hour, 1e-3, 1e6)
        require_range("start_hour", self.start_hour, 0.0, LONGEST_HOURS)
        require_range("concentrate_brix", self.concentrate_brix, 0.5, STRONGEST_CONCENTRATE_BRIX)
        # Asked once here so that an impossible temperature is refused when it is given.
        feed_at_temperature(self.feed_litres_per_hour, self.measured_at_c, self.sap_temperature_c)

    @property
    def feed_now_litres_per_hour(self) -> float:
        """Feed on tonight's sap, scaled down when it is colder than at the measurement."""
        return feed_at_temperature(
            self.feed_litres_per_hour, self.measured_at_c, self.sap_temperature_c
        )


@dataclass(frozen=True)
class Pans:
    """An evaporator: measured water boiled off and fuel burnt an hour, hours to shut down."""

    water_litres_per_hour: float
    fuel_per_hour: float
    shutdown_hours: float = 1.0

    def __post_init__(self) -> None:
        require_range("water_litres_per_hour", self.water_litres_per_hour, 1e-3, 1e6)
        require_range("fuel_per_hour", self.fuel_per_hour, 0.0, 1e6)
        require_range("shutdown_hours", self.shutdown_hours, 0.0, 24.0)


@dataclass(frozen=True)
class Night:
    """Everything a plan starts from. reserve_litres stays in the tank when the pans stop.

    Raises OutOfRange for an impossible or unknown figure: sap must be weaker than concentrate,
    concentrate weaker than syrup, and there is no concentrate in hand without a machine.
    """

    sap_litres: float
    sap_brix: float
    inflow_litres_per_hour: tuple[float, ...]
    pans: Pans
    ro: ReverseOsmosis | None = None
    concentrate_litres: float = 0.0
    reserve_litres: float = 0.0
    syrup_brix: float = 66.0

    def __post_init__(self) -> None:
        require_range("sap_litres", self.sap_litres, 0.0, LARGEST_LITRES)
        require_range("hours of inflow", len(self.inflow_litres_per_hour), 0, LONGEST_HOURS)
        inflow = np.asarray(self.inflow_litres_per_hour, dtype=np.float64)
        require_range("inflow_litres_per_hour", inflow, 0.0, LARGEST_LITRES)
        # Without a machine there is no Brix at which concentrate in hand could be counted.
        in_hand = LARGEST_LITRES if self.ro else 0.0
        require_range("concentrate_litres", self.concentrate_litres, 0.0, in_hand)
        require_range("reserve_litres", self.reserve_litres, 0.0, LARGEST_LITRES)
        require_range("syrup_brix", self.syrup_brix, 60.0, 70.0)
        strongest_sap = self.ro.concentrate_brix if self.ro else STRONGEST_CONCENTRATE_BRIX
        require_range("sap_brix", self.sap_brix, 0.5, strongest_sap)

    @property
    def pan_brix(self) -> float:
        """Brix of what the pans draw: concentrate, or sap where there is no machine."""
        return self.ro.concentrate_brix if self.ro else self.sap_brix

    @property
    def sap_total_litres(self) -> float:
        """Sap in hand and still to come."""
        return self.sap_litres + sum(self.inflow_litres_per_hour)


@dataclass(frozen=True)
class Supply:
    """Knots of two broken lines: sap waiting and all that ever reached the pans' tank."""

    hours: Hours
    sap_waiting_litres: Litres
    supplied_litres: Litres

    @property
    def complete_hour(self) -> float:
        """The first hour from which nothing more is supplied."""
        whole = self.supplied_litres[-1]
        # Sums of hourly inflow may miss the total by rounding.
        done = self.supplied_litres >= whole - 1e-9 * max(whole, 1.0)
        return float(self.hours[int(np.argmax(done))])


def supply_of(night: Night) -> Supply:
    """The night's supply to the pans, knot by knot."""
    if night.ro is None:
        hours = np.arange(len(night.inflow_litres_per_hour) + 1, dtype=np.float64)
        arrived = np.concatenate(([0.0], np.cumsum(night.inflow_litres_per_hour)))
        return Supply(hours, np.zeros_like(hours), night.sap_litres + arrived)
    hours, waiting, passed = _pass_through(night, night.ro)
    ratio = float(sap_per_syrup_mass_balance(night.sap_brix, night.ro.concentrate_brix))
    return Supply(hours, waiting, night.concentrate_litres + passed / ratio)


def _pass_through(night: Night, ro: ReverseOsmosis) -> tuple[Hours, Litres, Litres]:
    """Knots of the sap waiting and of the sap that has passed the machine."""
    feed = ro.feed_now_litres_per_hour
    hour, waiting, passed = 0.0, night.sap_litres, 0.0
    knots = [(hour, waiting, passed)]
    for until, inflow in _stretches(night, ro):
        if hour >= ro.start_hour:
            # The tank may empty inside the stretch; from there only the inflow passes.
            empty_in = waiting / (feed - inflow) if feed > inflow else np.inf
            if 0 < empty_in < until - hour:
                hour, passed, waiting = hour + empty_in, passed + feed * empty_in, 0.0
                knots.append((hour, waiting, passed))
            # An empty tank passes what flows in, unless that is more than the machine takes.
            rate = feed if waiting > 0 or inflow > feed else inflow
            passed += rate * (until - hour)
            waiting = max(waiting + (inflow - rate) * (until - hour), 0.0)
        else:
            waiting += inflow * (until - hour)
        hour = until
        knots.append((hour, waiting, passed))
    hours, waitings, passeds = (np.array(column) for column in zip(*knots, strict=True))
    return hours, waitings, passeds


def _stretches(night: Night, ro: ReverseOsmosis) -> list[tuple[float, float]]:
    """Stretches of steady inflow as (end hour, inflow), cut at the machine's start.

    The last one is long enough to pass everything still waiting.
    """
    inflow = night.inflow_litres_per_hour
    drained = max(float(len(inflow)), ro.start_hour)
    drained += night.sap_total_litres / ro.feed_now_litres_per_hour
    ends = sorted({*map(float, range(1, len(inflow) + 1)), ro.start_hour, drained} - {0.0})
    return [
        (end, inflow[int(begin)] if begin < len(inflow) else 0.0)
        for begin, end in itertools.pairwise([0.0, *ends])
    ]

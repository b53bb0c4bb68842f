"""A night walked through minute by minute, sharing no formula with the plan but the density.

Every minute moves whole portions of sap, sugar and concentrate between tanks; nothing is solved
for. The earliest start is found by trying starts, a minute apart, until one never runs short.
"""

from dataclasses import dataclass
from random import Random

from apps.domain.run_plan import Night, Pans, ReverseOsmosis
from apps.domain.sugar import density_kg_m3

MINUTES = 60


@dataclass(frozen=True)
class Walked:
    """What the walk saw: totals in hand each minute, the earliest start and the finish."""

    supplied_litres: list[float]
    waiting_litres: list[float]
    draw_litres_per_minute: float
    earliest_minute: int

    def dry_minute(self, start, reserve_litres):
        """First minute after a start at which the tank holds less than the reserve, or None."""
        drawn = 0.0
        whole = self.supplied_litres[-1] - reserve_litres
        for minute in range(start, len(self.supplied_litres)):
            if self.supplied_litres[minute] - drawn < reserve_litres - 1e-6:
                return minute
            drawn = min(drawn + self.draw_litres_per_minute, whole)
        return None

    def finish_minute(self, start, reserve_litres):
        """The minute at which all but the reserve has gone through the pans."""
        left, minute = self.supplied_litres[-1] - reserve_litres, start
        while left > 1e-9:
            left -= self.draw_litres_per_minute
            minute += 1
        return minute


def kilograms_of_sugar(litres, brix):
    return litres / 1000 * float(density_kg_m3(brix)) * brix / 100


def litres_holding(kilograms, brix):
    return kilograms / (float(density_kg_m3(brix)) * brix / 100) * 1000


def _draw_litres_per_minute(night):
    syrup_from_one = litres_holding(kilograms_of_sugar(1.0, night.pan_brix), night.syrup_brix)
    return night.pans.water_litres_per_hour / MINUTES / (1.0 - syrup_from_one)


def _feed_litres(night, minute, waiting):
    if night.ro is None:
        return waiting
    if minute < round(night.ro.start_hour * MINUTES):
        return 0.0
    return min(waiting, night.ro.feed_now_litres_per_hour / MINUTES)


def _supply(night):
    one_litre_kg = kilograms_of_sugar(1.0, night.sap_brix)
    litres_per_sap = litres_holding(one_litre_kg, night.pan_brix)
    waiting, made = night.sap_litres, night.concentrate_litres
    if night.ro is None:
        waiting, made = 0.0, night.sap_litres
    supplied, waitings, minute = [made], [waiting], 0
    inflow = night.inflow_litres_per_hour
    while minute < len(inflow) * MINUTES or waiting > 1e-9:
        hour = minute // MINUTES
        waiting += inflow[hour] / MINUTES if hour < len(inflow) else 0.0
        fed = _feed_litres(night, minute, waiting)
        waiting, made, minute = waiting - fed, made + fed * litres_per_sap, minute + 1
        supplied.append(made)
        waitings.append(waiting)
    return supplied, waitings


def walk(night):
    """Walk the night; the earliest start is looked for by halving, as later is never worse."""
    supplied, waiting = _supply(night)
    trial = Walked(supplied, waiting, _draw_litres_per_minute(night), -1)
    low, high = -1, len(supplied)
    while high - low > 1:
        middle = (low + high) // 2
        if trial.dry_minute(middle, night.reserve_litres) is None:
            high = middle
        else:
            low = middle
    return Walked(supplied, waiting, trial.draw_litres_per_minute, high)


def random_night(seed):
    """A believable or an awkward night: dribbles, floods, cold sap, reserves, no machine."""
    pick = Random(seed)
    machine = None
    if pick.random() < 0.85:
        machine = ReverseOsmosis(
            feed_litres_per_hour=pick.uniform(300, 4000),
            measured_at_c=pick.uniform(4, 20),
            sap_temperature_c=pick.uniform(0, 15),
            concentrate_brix=pick.uniform(6, 20),
            start_hour=pick.randrange(0, 6 * MINUTES) / MINUTES if pick.random() < 0.5 else 0.0,
        )
    strength = pick.choice([0, 200, 800, 2500])
    inflow = tuple(pick.uniform(0, strength) for _ in range(pick.randrange(0, 14)))
    return Night(
        sap_litres=pick.choice([0.0, pick.uniform(100, 12_000)]) + 50.0,
        sap_brix=pick.uniform(1.2, 3.5),
        inflow_litres_per_hour=inflow,
        pans=Pans(pick.uniform(100, 1500), pick.uniform(5, 60), pick.uniform(0.25, 2)),
        ro=machine,
        concentrate_litres=pick.choice([0.0, pick.uniform(0, 900)]) if machine else 0.0,
        reserve_litres=pick.choice([0.0, 0.0, pick.uniform(0, 150)]),
    )

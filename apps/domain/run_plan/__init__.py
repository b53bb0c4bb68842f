"""The night's plan: when to start the pans so that concentrate lasts, and when it is over.

Formula: see supply (what the tanks hold hour by hour), viscosity (how much slower the reverse
osmosis machine feeds when the sap is cold) and plan (the earliest start that never runs dry).
Units: litres, hours from the moment planned at, litres per hour, C, Brix; fuel in its own unit.
Validity: from measured feed and evaporation rates; see each module.
Source: see each module.
"""

from apps.domain.run_plan.plan import NothingToBoil, PansWouldRunDry, RunPlan, levels, plan_run
from apps.domain.run_plan.supply import Night, Pans, ReverseOsmosis
from apps.domain.run_plan.viscosity import feed_at_temperature, water_viscosity_mpa_s

__all__ = [
    "Night",
    "NothingToBoil",
    "Pans",
    "PansWouldRunDry",
    "ReverseOsmosis",
    "RunPlan",
    "feed_at_temperature",
    "levels",
    "plan_run",
    "water_viscosity_mpa_s",
]

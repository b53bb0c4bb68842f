"""The night's plan: concentrating, and when to start the pans."""

import numpy as np

from apps.domain import run_plan
from apps.domain.run_plan import supply
from apps.domain.units import celsius_from_fahrenheit, litres_from_us_gallons
from apps.operation.numbers import show
from apps.operation.numbers.entry import Area, Basis, Worked

AREA = Area("run_plan", "The night's plan")
WATER = (
    "IAPWS SR6-08(2011), eq. 7, coefficients from memory, held to a reference library; that rates "
    "fall in the cold: OSU Extension (2022)"
)
BALANCE = "conservation of volume and of sugar, density as above"
NIGHT_WORDS = {
    "sap in hand": f"{show.litres(litres_from_us_gallons(2000.0), 0)} of 2.0 Brix",
    "still to come": "200 gal an hour for 3 hours",
    "machine": "600 gal an hour to 8 Brix, measured at the sap's 40 °F",
    "pans": "240 gal of water and 18 gal of oil an hour, 1 hour to shut down",
}


def _night() -> run_plan.Night:
    cold = celsius_from_fahrenheit(40.0)
    feed = litres_from_us_gallons(600.0)
    return run_plan.Night(
        sap_litres=litres_from_us_gallons(2000.0),
        sap_brix=2.0,
        inflow_litres_per_hour=(litres_from_us_gallons(200.0),) * 3,
        pans=run_plan.Pans(litres_from_us_gallons(240.0), 18.0),
        ro=run_plan.ReverseOsmosis(feed, cold, cold, concentrate_brix=8.0),
    )


@AREA.explain(
    "viscosity.water_viscosity_mpa_s",
    "How thick cold water is",
    formula="Σ aᵢ (T / 300)^bᵢ / 1000, T in kelvin, four terms",
    units="mPa·s from °C",
    validity="-20 to 110 °C at 0.1 MPa; sap is taken as water",
    source=WATER,
    basis=Basis.MEMORY,
)
def thick() -> Worked:
    rows = {
        show.celsius(warmth, 0): f"{run_plan.water_viscosity_mpa_s(warmth):.4f} mPa·s"
        for warmth in (4.0, 20.0)
    }
    return Worked({"water": "cold and warm"}, rows)


@AREA.explain(
    "viscosity.feed_at_temperature supply.ReverseOsmosis.feed_now_litres_per_hour",
    "Feed of a machine on colder sap",
    formula="feed = measured × viscosity at the measurement / viscosity now, never more",
    units="litres an hour, °C",
    validity="-1 to 40 °C; the least a membrane loses, so measure on cold sap if you can",
    source=WATER,
    basis=Basis.MEMORY,
)
def cold_feed() -> Worked:
    measured, now = celsius_from_fahrenheit(55.0), celsius_from_fahrenheit(36.0)
    feed = litres_from_us_gallons(600.0)
    machine = run_plan.ReverseOsmosis(feed, measured, now, 8.0)
    return Worked(
        {"measured": f"{show.litres_hour(feed, 0)} at 55 °F", "sap": "36 °F"},
        {"feed": show.litres_hour(machine.feed_now_litres_per_hour, 0)},
    )


@AREA.explain(
    "supply.supply_of supply.Supply.complete_hour supply.Night.sap_total_litres",
    "What reaches the pans, hour by hour",
    formula="concentrate made = sap passed / S from sap to concentrate; nothing before it is there",
    units="litres at 20 °C, hours",
    validity="steady rates within each hour; an unknown hour of inflow is refused",
    source=BALANCE,
    basis=Basis.COMPUTED,
)
def supplied() -> Worked:
    night = _night()
    found = supply.supply_of(night)
    return Worked(
        NIGHT_WORDS,
        {
            "sap in all": show.litres(night.sap_total_litres, 0),
            "concentrate in all": show.litres(float(found.supplied_litres[-1]), 0),
            "machine done after": f"{found.complete_hour:.2f} h",
        },
    )


@AREA.explain(
    "plan.plan_run supply.Night.pan_brix",
    "When to start the pans",
    formula=(
        "pan hours = water to boil off / measured rate; start = the greatest of t − A(t) / d, "
        "A supplied by hour t and d the pans' draw"
    ),
    units="hours from now, litres at 20 °C, fuel in its own unit",
    validity="steady measured rates; no leave to walk away from a lit evaporator",
    source=BALANCE,
    basis=Basis.COMPUTED,
)
def plan() -> Worked:
    found = run_plan.plan_run(_night())
    return Worked(
        NIGHT_WORDS,
        {
            "syrup": show.litres(found.syrup_litres),
            "earliest pan start": f"{found.earliest_pan_start_hour:.2f} h",
            "pans run": f"{found.pan_hours:.2f} h, off at {found.finish_hour:.2f} h",
            "last to bed": f"{found.latest_sleep_hour:.2f} h",
            "oil": f"{found.fuel:.1f} gal",
        },
    )


@AREA.explain(
    "plan.levels",
    "What is in the tanks at an hour",
    formula="tank = supplied − drawn; drawn = d × hours since the start, until the finish",
    units="litres at 20 °C, hours",
    validity="as the plan",
    source=BALANCE,
    basis=Basis.COMPUTED,
)
def tanks() -> Worked:
    night = _night()
    found = run_plan.plan_run(night)
    sap, concentrate = run_plan.levels(night, found, np.array([0.0, 2.0, found.finish_hour]))
    rows = {
        words: f"sap {show.litres(float(waiting), 0)}, concentrate {show.litres(abs(kept), 0)}"
        for words, waiting, kept in zip(
            ("now", "after 2 h", "at the finish"),
            sap,
            np.round(concentrate, 6).tolist(),
            strict=True,
        )
    }
    return Worked({"night": "as above"}, rows)

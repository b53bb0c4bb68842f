"""Vacuum: what a place can hold, what air costs, what a deficit loses."""

from apps.domain import vacuum
from apps.domain.units import kpa_from_inhg, metres_from_feet
from apps.operation.numbers import show
from apps.operation.numbers.entry import Area, Basis, Worked

AREA = Area("vacuum", "Vacuum and air")
GAIN = (
    "about 5 % an inch: Wilmot, Maple News (25 Jan 2018); Perkins, Isselhardt and van den Berg, "
    "Maple News (5 Feb 2018). Which model: ours, and said beside the figure"
)
CFM = "1 cubic foot a minute for 100 taps: UVM Extension; OSU Extension (Ober, 2013)"


def _in(inches: float) -> float:
    return kpa_from_inhg(inches)


@AREA.explain(
    "ceiling_kpa",
    "The most vacuum a place can hold",
    formula="101.325 kPa × (1 − 6.87535e−6 h)^5.2559, h in feet; or the station pressure if known",
    units="kPa from m",
    validity="-430 to 5,000 m, 45 to 110 kPa",
    source="ISO 2533 (1975) / US Standard Atmosphere (1976)",
    basis=Basis.PUBLISHED,
)
def ceiling() -> Worked:
    rows = {
        f"{feet:,} ft": show.kpa(vacuum.ceiling_kpa(metres_from_feet(feet)))
        for feet in (0, 1000, 1500, 2000)
    }
    return Worked({"elevation": "four heights"}, rows)


@AREA.explain(
    "default_target_kpa",
    "Target of a line",
    formula="the vacuum wanted, or 2 inHg under the ceiling, whichever is lower",
    units="kPa",
    validity="ceilings from 45 to 110 kPa",
    source="common practice, no source",
    basis=Basis.PRACTICE,
)
def target() -> Worked:
    ceiling_kpa = vacuum.ceiling_kpa(metres_from_feet(2500.0))
    return Worked(
        {"wanted": show.kpa(_in(26.0)), "ceiling at 2,500 ft": show.kpa(ceiling_kpa)},
        {"target": show.kpa(vacuum.default_target_kpa(ceiling_kpa))},
    )


@AREA.explain(
    "is_gauge_fault",
    "A gauge that must be wrong",
    formula="reading over the ceiling by more than 0.5 inHg",
    units="kPa",
    validity="readings from 0 to 200 kPa",
    source="the ceiling as above; the slack of 0.5 inHg is common practice, no source",
    basis=Basis.PRACTICE,
)
def fault() -> Worked:
    ceiling_kpa = vacuum.ceiling_kpa(metres_from_feet(1500.0))
    rows = {
        f"reading {inches:g} inHg": (
            "gauge fault" if vacuum.is_gauge_fault(_in(inches), ceiling_kpa) else "can be"
        )
        for inches in (28.8, 28.9)
    }
    return Worked({"ceiling at 1,500 ft": show.kpa(ceiling_kpa)}, rows)


@AREA.explain(
    "share_of_air_removed",
    "Share of the air that is gone",
    formula="reading / ceiling",
    units="share of 1, from kPa",
    validity="readings up to the ceiling",
    source="ideal gas; OSU Extension (2020) prints 25 inHg as about 85 %",
    basis=Basis.COMPUTED,
)
def removed() -> Worked:
    share = vacuum.share_of_air_removed(_in(25.0), vacuum.ceiling_kpa(0.0))
    return Worked({"reading": "25 inHg at sea level"}, {"air gone": show.percent(share)})


@AREA.explain(
    "pump_need_m3_h",
    "Air wanted in the woods",
    formula="CFM = taps / 100",
    units="m³/h of free air (CFM) at the lines' vacuum",
    validity="whole systems; other advice asks 1 to 1.5 (UNH Extension)",
    source=CFM,
    basis=Basis.PUBLISHED,
)
def need() -> Worked:
    return Worked({"taps": "2,400"}, {"air": show.air(vacuum.pump_need_m3_h(2400))})


@AREA.explain(
    "taps_served",
    "Taps that an air flow serves",
    formula="taps = CFM × 100, rounded down",
    units="taps from m³/h (CFM)",
    validity="air as delivered in the woods, after line loss",
    source=f"{CFM}: 8 CFM left at the end of 1,000 ft of 1 in. line serve 800 taps",
    basis=Basis.PUBLISHED,
)
def served() -> Worked:
    delivered = 8 * vacuum.M3_H_PER_CFM
    return Worked({"air": show.air(delivered)}, {"taps": f"{vacuum.taps_served(delivered):,} taps"})


@AREA.explain(
    "pump_air_m3_h",
    "Air a pump still moves deeper",
    formula="air = rated × (1 − 0.08)^(inches over the rated vacuum)",
    units="m³/h (CFM), kPa",
    validity="near the rated vacuum; the pump's own curve is better",
    source="8 % less an inch: OSU Extension; Childs (Cornell, 2011)",
    basis=Basis.PUBLISHED,
)
def pump() -> Worked:
    rated = 60 * vacuum.M3_H_PER_CFM
    left = vacuum.pump_air_m3_h(rated, _in(15.0), _in(25.0))
    return Worked(
        {"rated": f"{show.air(rated)} at 15 inHg", "run at": "25 inHg"}, {"air": show.air(left)}
    )


@AREA.explain(
    "leak_air_m3_h",
    "Air through a hole",
    formula=(
        "m = C A p √(2 γ/(γ − 1) / (R T) × (r^(2/γ) − r^((γ+1)/γ))), r the pressure ratio but "
        "never under 0.528, C = 0.62, γ = 1.4"
    ),
    units="m³/h of free air (CFM) at 60 °F, from mm and kPa",
    validity="holes to 50 mm; a tube behind the hole passes less",
    source="orifice law and 0.62 of a sharp edge: from memory of any text on compressible flow",
    basis=Basis.MEMORY,
)
def hole() -> Worked:
    rows = {
        f"hole of {name} in.": show.air(vacuum.leak_air_m3_h(inches * 25.4, _in(25.0)))
        for name, inches in (("1/32", 1 / 32), ("1/16", 1 / 16), ("1/8", 1 / 8))
    }
    return Worked({"vacuum": show.kpa(_in(25.0)), "outside": show.kpa(101.325)}, rows)


@AREA.explain(
    "sap_gain",
    "Sap under vacuum against none",
    formula="linear 1 + k V; compounding (1 + k)^V, V in inches, k = 0.05",
    units="multiple of the sap without vacuum, from kPa",
    validity="one rule for small changes; over the full range the two part ways",
    source=GAIN,
    basis=Basis.PUBLISHED,
)
def gain() -> Worked:
    return Worked(
        {"vacuum": show.kpa(_in(15.0)), "k": "5 % an inch"},
        {
            "linear": f"{vacuum.sap_gain(_in(15.0)):.2f} times",
            "compounding": f"{vacuum.sap_gain(_in(15.0), model='compounding'):.2f} times",
        },
    )


@AREA.explain(
    "share_lost",
    "Sap lost to a deficit",
    formula="linear k d / (1 + k P); compounding 1 − (1 + k)^−d; d and P in inches",
    units="share of the sap at the target P, from kPa",
    validity="deficits d from 0 to the target",
    source=GAIN,
    basis=Basis.PUBLISHED,
)
def lost() -> Worked:
    deficit, target_kpa = _in(20.0), _in(25.0)
    linear = vacuum.share_lost(deficit, target_kpa)
    compounding = vacuum.share_lost(deficit, target_kpa, model="compounding")
    return Worked(
        {"line": "5 inHg", "target": "25 inHg", "k": "5 % an inch"},
        {"linear": show.percent(linear), "compounding": show.percent(compounding)},
    )

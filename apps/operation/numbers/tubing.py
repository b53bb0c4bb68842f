"""Slopes, sap flow and air flow of lines."""

from apps.domain import tubing, vacuum
from apps.domain.units import (
    acres_from_hectares,
    kpa_from_inhg,
    metres_from_feet,
    mm_from_inches,
)
from apps.operation.numbers import show
from apps.operation.numbers.entry import Area, Basis, Worked

AREA = Area("tubing", "Tubing")
ADVICE = (
    "Perkins and van den Berg, Maple News (3 Jan 2020): 5 taps a lateral, never over 10, mains at "
    "2 to 4 %; UNH Extension: mains under 1,000 ft, 0.5 % in short pieces only"
)
MANNING = (
    "Manning's equation, Chow, Open-Channel Hydraulics (1959), from memory; peak flow of 0.2 gal "
    "a tap and hour from memory, weak. A producer's own table takes its place"
)
ISOTHERMAL = (
    "Churchill, Chemical Engineering (1977), and the isothermal pipe equation; the sap fill of 0.4 "
    "is set by line losses that OSU Extension (Ober, 2013) prints"
)
NOTHING = "nothing against it"


@AREA.explain(
    "layout.slope_percent",
    "Slope of a line",
    formula="slope = 100 × fall / length",
    units="% from m",
    validity="a straight run between two known heights; a sag inside it is not seen",
    source="geometry",
    basis=Basis.COMPUTED,
)
def slope() -> Worked:
    fall, length = metres_from_feet(6.0), metres_from_feet(200.0)
    return Worked(
        {"fall": show.metres(fall), "length": show.metres(length)},
        {"slope": f"{tubing.slope_percent(fall, length):.2f} %"},
    )


@AREA.explain(
    "layout.check_lateral",
    "A lateral against the advice",
    formula="5 taps to aim for, 10 at most; 100 ft at most; 5 % of slope at least",
    units="taps, m, %",
    validity="5/16 in. laterals; a practice of 5 to 20 taps is seen as well",
    source=f"{ADVICE}; 100 ft and 5 %: an equipment page",
    basis=Basis.PUBLISHED,
)
def lateral() -> Worked:
    found = tubing.check_lateral(12, metres_from_feet(130.0), 3.0)
    return Worked({"lateral": "12 taps, 130 ft, 3 %"}, {"findings": ", ".join(found) or NOTHING})


@AREA.explain(
    "layout.check_mainline",
    "A mainline against the advice",
    formula="1,000 ft at most; 2 to 4 % of slope, 0.5 % in short pieces only",
    units="m, %",
    validity="a straight run",
    source=ADVICE,
    basis=Basis.PUBLISHED,
)
def mainline() -> Worked:
    rows = {
        f"{percent:g} %": ", ".join(tubing.check_mainline(metres_from_feet(800.0), percent))
        or NOTHING
        for percent in (0.3, 1.0, 3.0, 6.0)
    }
    return Worked({"mainline": "800 ft at four slopes"}, rows)


@AREA.explain(
    "layout.area_served_hectares",
    "Woods a mainline serves",
    formula="area = spacing × length",
    units="ha from m",
    validity="neighbours the same distance apart all along",
    source="geometry; UNH Extension prints 150 ft × 1,000 ft as 3.5 acres",
    basis=Basis.COMPUTED,
)
def served() -> Worked:
    spacing, length = metres_from_feet(150.0), metres_from_feet(1000.0)
    area = tubing.area_served_hectares(spacing, length)
    return Worked(
        {"spacing": show.metres(spacing), "length": show.metres(length)},
        {"woods": f"{area:.2f} ha ({acres_from_hectares(area):.2f} acres)"},
    )


@AREA.explain(
    "layout.natural_vacuum_kpa",
    "Vacuum of a full column of sap",
    formula="1,006 kg/m³ × 9.80665 m/s² × drop, never over the ceiling",
    units="kPa from m",
    validity="a full column without air; leaks and air make it less",
    source="hydrostatics; Childs (Cornell) reports 15 to 26 inHg for 30 to 40 ft",
    basis=Basis.COMPUTED,
)
def natural() -> Worked:
    drop = metres_from_feet(30.0)
    found = tubing.natural_vacuum_kpa(drop, vacuum.ceiling_kpa(metres_from_feet(1000.0)))
    return Worked({"drop": show.metres(drop)}, {"at most": show.kpa(found)})


@AREA.explain(
    "sap_flow.sap_flow_litres_per_hour",
    "Sap a mainline carries",
    formula="Q = A R^(2/3) S^(1/2) / 0.010, the pipe half full",
    units="litres an hour from mm and %",
    validity="steady flow downhill in a straight smooth pipe of 5 to 300 mm",
    source=MANNING,
    basis=Basis.MEMORY,
)
def flow() -> Worked:
    rows = {
        f"{name} in. at 2 %": show.litres_hour(
            tubing.sap_flow_litres_per_hour(mm_from_inches(inches), 2.0), 0
        )
        for name, inches in (("3/4", 0.75), ("1", 1.0), ("1-1/4", 1.25))
    }
    return Worked({"mainline": "three inner diameters"}, rows)


@AREA.explain(
    "sap_flow.mainline_capacity",
    "Taps a mainline carries",
    formula="taps = flow / 0.2 gal a tap and hour, rounded down; or the producer's own table",
    units="taps from mm and %",
    validity="computed, not published; air may limit a line long before sap does",
    source=MANNING,
    basis=Basis.MEMORY,
)
def capacity() -> Worked:
    found = tubing.mainline_capacity(mm_from_inches(0.75), 2.0)
    return Worked(
        {"mainline": "3/4 in. at 2 %"}, {"taps": f"{found.taps:,}", "how known": found.basis}
    )


@AREA.explain(
    "air_flow.air_at_distance",
    "Air left at the far end of a line",
    formula="G² R T (f L / D + 2 ln(p₁ / p₂)) = p₁² − p₂², D of the airway above the sap",
    units="m³/h (CFM) at the far end's pressure, from mm, m and kPa",
    validity="a guide: short lines are understated; a gauge at the far end is the answer",
    source=ISOTHERMAL,
    basis=Basis.COMPUTED,
)
def far_end() -> Worked:
    pump = 60 * vacuum.M3_H_PER_CFM
    found = tubing.air_at_distance(mm_from_inches(1.0), metres_from_feet(1000.0), pump)
    return Worked(
        {
            "mainline": "1 in., 1,000 ft",
            "pump": show.air(pump, 1),
            "vacuum at the far end": show.kpa(kpa_from_inhg(15.0)),
        },
        {"air left": show.air(found.air_m3_h, 1), "share": show.percent(found.share)},
    )


@AREA.explain(
    "air_flow.darcy_friction",
    "Friction in a smooth pipe",
    formula="f = 8 ((8 / Re)^12 + (A + B)^−1.5)^(1/12), A = (2.457 ln((Re / 7)^0.9))^16, "
    "B = (37530 / Re)^16",
    units="no unit, from the Reynolds number",
    validity="smooth pipe, Reynolds numbers up to 1e8",
    source="Churchill, Chemical Engineering (1977); 64 / Re in slow flow",
    basis=Basis.PUBLISHED,
)
def friction() -> Worked:
    rows = {f"Re {re:,.0f}": f"{tubing.darcy_friction(re):.4f}" for re in (1000.0, 100_000.0)}
    return Worked({"flow": "slow and fast"}, rows)


@AREA.explain(
    "air_flow.share_air_by_area",
    "A pump's air split between lines",
    formula="air of a line = pump's air × diameter² / sum of diameters²",
    units="m³/h (CFM) from mm",
    validity="lines alike in length and in taps",
    source="OSU Extension (Ober, 2013): 60 CFM over four equal lines, 15 CFM each",
    basis=Basis.PUBLISHED,
)
def split() -> Worked:
    pump = 60 * vacuum.M3_H_PER_CFM
    equal = tubing.share_air_by_area(pump, [mm_from_inches(1.0)] * 4)
    mixed = tubing.share_air_by_area(pump, [mm_from_inches(d) for d in (1.25, 1.0, 1.0, 1.0)])
    return Worked(
        {"pump": show.air(pump, 1)},
        {
            "each of four 1 in. lines": show.air(equal[0], 1),
            "one 1-1/4 in. beside three 1 in.": show.air(mixed[0], 1),
        },
    )

"""Tanks: litres from a dip, and the hours to full."""

import math

import numpy as np

from apps.domain import tank
from apps.domain.units import mm_from_inches
from apps.operation.numbers import show
from apps.operation.numbers.entry import Area, Basis, Worked

AREA = Area("tank", "Tanks")
LEVEL = "a level tank with flat ends, measured inside the shell; sides from 1 mm to 100 m"
SEGMENT = (
    "MathWorld, Circular Segment, eq. 18 (after Beyer, CRC Standard Mathematical Tables, 1987)"
)


def _dipped(vessel: tank.Tank, depth_mm: float) -> dict[str, str]:
    volume = vessel.volume_litres(depth_mm)
    return {
        f"at {show.mm(depth_mm, 0)}": show.litres(volume),
        "dip for that volume": show.mm(vessel.depth_mm(volume), 0),
        "full": show.litres(vessel.full_litres),
    }


@AREA.explain(
    "VerticalCylinder.volume_litres VerticalCylinder.depth_mm VerticalCylinder.full_litres",
    "Round tank, standing",
    formula="litres = π/4 × diameter² × depth / 1,000,000",
    units="mm, litres",
    validity=LEVEL,
    source="geometry",
    basis=Basis.COMPUTED,
)
def standing() -> Worked:
    vessel = tank.VerticalCylinder(mm_from_inches(48.0), mm_from_inches(60.0))
    return Worked(
        {"diameter": show.mm(vessel.diameter_mm), "height": show.mm(vessel.height_mm)},
        _dipped(vessel, mm_from_inches(30.0)),
    )


@AREA.explain(
    "Box.volume_litres Box.depth_mm Box.full_litres",
    "Tank with four upright sides",
    formula="litres = width × length × depth / 1,000,000",
    units="mm, litres",
    validity=LEVEL,
    source="geometry; 231 cubic inches are a gallon: NIST Handbook 44, Appendix C",
    basis=Basis.COMPUTED,
)
def box() -> Worked:
    vessel = tank.Box(*(mm_from_inches(side) for side in (33.0, 70.0, 20.0)))
    return Worked(
        {"width, length, height": "33 × 70 × 20 in."}, _dipped(vessel, mm_from_inches(10.0))
    )


@AREA.explain(
    "segment_area_mm2",
    "Wetted end of a round tank",
    formula="A = R² acos((R − h) / R) − (R − h) √(2 R h − h²)",
    units="mm², from mm",
    validity="depths from 0 to the diameter",
    source=SEGMENT,
    basis=Basis.PUBLISHED,
)
def segment() -> Worked:
    area = tank.segment_area_mm2(500.0, 250.0)
    return Worked(
        {"radius": show.mm(500.0, 0), "depth": show.mm(250.0, 0)},
        {
            "wetted area": f"{area:,.0f} mm²",
            "share of the circle": show.percent(area / (math.pi * 500.0**2)),
        },
    )


@AREA.explain(
    "HorizontalCylinder.volume_litres HorizontalCylinder.depth_mm HorizontalCylinder.full_litres",
    "Round tank, on its side",
    formula="litres = wetted end × length / 1,000,000",
    units="mm, litres",
    validity=LEVEL,
    source=SEGMENT,
    basis=Basis.PUBLISHED,
)
def lying() -> Worked:
    vessel = tank.HorizontalCylinder(mm_from_inches(48.0), mm_from_inches(96.0))
    return Worked(
        {"diameter": show.mm(vessel.diameter_mm), "length": show.mm(vessel.length_mm)},
        _dipped(vessel, mm_from_inches(12.0)),
    )


@AREA.explain(
    "FlatOval.volume_litres FlatOval.depth_mm FlatOval.full_litres",
    "Oval tank with flat sides",
    formula="two half circles and a rectangle between them, wetted end × length / 1,000,000",
    units="mm, litres",
    validity=LEVEL,
    source=SEGMENT,
    basis=Basis.PUBLISHED,
)
def oval() -> Worked:
    vessel = tank.FlatOval(*(mm_from_inches(side) for side in (40.0, 60.0, 96.0)))
    return Worked(
        {"width, height, length": "40 × 60 × 96 in."}, _dipped(vessel, mm_from_inches(20.0))
    )


@AREA.explain(
    "DipTable.volume_litres DipTable.depth_mm DipTable.full_litres",
    "A producer's own dip table",
    formula="in a straight line between two points of the table",
    units="mm, litres",
    validity="inside the table's own depths; never beyond its ends",
    source="the producer's own measurement",
    basis=Basis.COMPUTED,
)
def table() -> Worked:
    vessel = tank.DipTable(((0.0, 0.0), (500.0, 900.0), (1000.0, 2100.0)))
    return Worked({"table": "0 mm 0 L, 500 mm 900 L, 1,000 mm 2,100 L"}, _dipped(vessel, 750.0))


@AREA.explain(
    "hours_to_full",
    "Hours to full at a steady inflow",
    formula="hours = (usable share × full − now) / inflow",
    units="litres, litres an hour, hours",
    validity="an inflow at or under 0 never fills; the usable share of 97 % is a setting",
    source="arithmetic; the 97 % is common practice, no source",
    basis=Basis.COMPUTED,
)
def filling() -> Worked:
    hours = tank.hours_to_full(4000.0, 1480.0, 300.0)
    return Worked(
        {
            "full": show.litres(4000.0, 0),
            "now": show.litres(1480.0, 0),
            "inflow": show.litres_hour(300.0, 0),
        },
        {"hours to 97 %": "never" if hours is None else f"{hours:.2f} h"},
    )


@AREA.explain(
    "hours_to_overflow",
    "Hours to full along an inflow curve",
    formula="hour by hour: litres + inflow, never under 0, until the usable share is reached",
    units="litres, litres an hour for each step, hours",
    validity="up to the first unknown hour; beyond that nothing is promised",
    source="arithmetic; the 97 % is common practice, no source",
    basis=Basis.COMPUTED,
)
def overflowing() -> Worked:
    curve = np.array([100.0, 400.0, 600.0, 600.0])
    forecast = tank.hours_to_overflow(2000.0, 900.0, curve)
    hours = "not within the curve" if forecast.hours is None else f"{forecast.hours:.2f} h"
    return Worked(
        {
            "full": show.litres(2000.0, 0),
            "now": show.litres(900.0, 0),
            "inflow": "100, 400, 600, 600 L/h",
        },
        {"hours to 97 %": hours},
    )

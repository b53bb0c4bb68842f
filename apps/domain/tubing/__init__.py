"""Tubing layout: slopes and lengths, sap a mainline carries, air it lets through.

Formula: see the parts: `layout` checks slopes, lengths and taps per lateral, `sap_flow` is
Manning's open-channel flow in a part-full pipe, `air_flow` isothermal flow of air above the sap.
Units: m, mm of inner diameter, percent slope, litres and m3 an hour, gauge vacuum in kPa.
Validity: smooth plastic pipe without sags. What is computed here is physics, not a published
table: a producer's own table with its source takes its place where there is one.
Source: named in each part.
"""

from apps.domain.tubing.air_flow import (
    AirAtDistance,
    air_at_distance,
    darcy_friction,
    share_air_by_area,
)
from apps.domain.tubing.layout import (
    Finding,
    area_served_hectares,
    check_lateral,
    check_mainline,
    natural_vacuum_kpa,
    slope_percent,
)
from apps.domain.tubing.sap_flow import (
    CapacityRow,
    CapacityTable,
    MainlineCapacity,
    mainline_capacity,
    sap_flow_litres_per_hour,
)

__all__ = [
    "AirAtDistance",
    "CapacityRow",
    "CapacityTable",
    "Finding",
    "MainlineCapacity",
    "air_at_distance",
    "area_served_hectares",
    "check_lateral",
    "check_mainline",
    "darcy_friction",
    "mainline_capacity",
    "natural_vacuum_kpa",
    "sap_flow_litres_per_hour",
    "share_air_by_area",
    "slope_percent",
]

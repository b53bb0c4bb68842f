"""Conversions between the trade's units and those the arithmetic uses."""

from decimal import Decimal

from apps.domain import units
from apps.operation.numbers.entry import Area, Basis, Worked

AREA = Area("units", "Units")
NIST = "NIST SP 811 (2008), Appendix B"
ANY = "any number; an unknown reading stays unknown"


def _both_ways(into_si: float, back: float, si: str, us: str) -> dict[str, str]:
    return {f"1 {us} in {si}": f"{into_si:.8g} {si}", f"1 {si} in {us}": f"{back:.8g} {us}"}


@AREA.explain(
    "litres_from_us_gallons us_gallons_from_litres",
    "Gallons and litres",
    formula="L = gal × 3.785411784 (231 cubic inches of 16.387064 mL)",
    units="US liquid gallons, litres",
    validity=ANY,
    source=f"{NIST}; exact",
    basis=Basis.PUBLISHED,
)
def volume() -> Worked:
    into = units.litres_from_us_gallons(1.0)
    return Worked(
        {"volume": "1 gal, 1 L"}, _both_ways(into, units.us_gallons_from_litres(1.0), "L", "gal")
    )


@AREA.explain(
    "celsius_from_fahrenheit fahrenheit_from_celsius",
    "Temperatures",
    formula="C = (F − 32) / 1.8",
    units="°F, °C",
    validity=ANY,
    source=f"{NIST}; exact",
    basis=Basis.PUBLISHED,
)
def temperature() -> Worked:
    return Worked(
        {"thaw limit": "36 °F", "freeze limit": "-1.1 °C"},
        {
            "36 °F": f"{units.celsius_from_fahrenheit(36.0):.2f} °C",
            "-1.1 °C": f"{units.fahrenheit_from_celsius(-1.1):.2f} °F",
        },
    )


@AREA.explain(
    "celsius_degrees fahrenheit_degrees",
    "Temperature differences",
    formula="C apart = F apart / 1.8 (no 32 in a difference)",
    units="°F apart, °C apart",
    validity=ANY,
    source=f"{NIST}; exact",
    basis=Basis.PUBLISHED,
)
def difference() -> Worked:
    return Worked(
        {"apart": "9 °F, 5 °C"},
        {
            "9 °F apart": f"{units.celsius_degrees(9.0):.2f} °C",
            "5 °C apart": f"{units.fahrenheit_degrees(5.0):.2f} °F",
        },
    )


@AREA.explain(
    "kpa_from_inhg inhg_from_kpa",
    "Inches of mercury and kilopascals",
    formula="kPa = inHg × 3.386389 (conventional, mercury at 0 °C)",
    units="inHg, kPa; vacuum or station pressure",
    validity=ANY,
    source=NIST,
    basis=Basis.PUBLISHED,
)
def pressure() -> Worked:
    into, back = units.kpa_from_inhg(1.0), units.inhg_from_kpa(1.0)
    return Worked({"pressure": "1 inHg, 1 kPa"}, _both_ways(into, back, "kPa", "inHg"))


@AREA.explain(
    "metres_from_feet feet_from_metres",
    "Feet and metres",
    formula="m = ft × 0.3048",
    units="international feet, metres",
    validity=ANY,
    source=f"{NIST}; exact",
    basis=Basis.PUBLISHED,
)
def length() -> Worked:
    into, back = units.metres_from_feet(1.0), units.feet_from_metres(1.0)
    return Worked({"length": "1 ft, 1 m"}, _both_ways(into, back, "m", "ft"))


@AREA.explain(
    "mm_from_inches inches_from_mm",
    "Inches and millimetres",
    formula="mm = in. × 25.4",
    units="inches, millimetres",
    validity=ANY,
    source=f"{NIST}; exact",
    basis=Basis.PUBLISHED,
)
def small_length() -> Worked:
    into, back = units.mm_from_inches(1.0), units.inches_from_mm(1.0)
    return Worked({"length": "1 in., 1 mm"}, _both_ways(into, back, "mm", "in."))


@AREA.explain(
    "kg_from_pounds pounds_from_kg",
    "Pounds and kilograms",
    formula="kg = lb × 0.45359237",
    units="avoirdupois pounds, kilograms",
    validity=ANY,
    source=f"{NIST}; exact",
    basis=Basis.PUBLISHED,
)
def mass() -> Worked:
    into, back = units.kg_from_pounds(1.0), units.pounds_from_kg(1.0)
    return Worked({"mass": "1 lb, 1 kg"}, _both_ways(into, back, "kg", "lb"))


@AREA.explain(
    "hectares_from_acres acres_from_hectares",
    "Acres and hectares",
    formula="ha = acres × 0.40468564224 (43,560 square feet)",
    units="international acres, hectares",
    validity=ANY,
    source=f"{NIST}; exact from the foot",
    basis=Basis.PUBLISHED,
)
def area() -> Worked:
    into, back = units.hectares_from_acres(1.0), units.acres_from_hectares(1.0)
    return Worked({"area": "1 acre, 1 ha"}, _both_ways(into, back, "ha", "acre"))


@AREA.explain(
    "kmh_from_mph mph_from_kmh",
    "Miles and kilometres an hour",
    formula="km/h = mph × 1.609344",
    units="mph, km/h",
    validity=ANY,
    source=f"{NIST}; exact",
    basis=Basis.PUBLISHED,
)
def speed() -> Worked:
    into, back = units.kmh_from_mph(1.0), units.mph_from_kmh(1.0)
    return Worked({"wind": "1 mph, 1 km/h"}, _both_ways(into, back, "km/h", "mph"))


@AREA.explain(
    "megajoules_from_btu btu_from_megajoules",
    "British thermal units and megajoules",
    formula="MJ = BTU × 0.00105505585262",
    units="International Table BTU, megajoules",
    validity=ANY,
    source=NIST,
    basis=Basis.PUBLISHED,
)
def heat() -> Worked:
    into, back = units.megajoules_from_btu(1.0), units.btu_from_megajoules(1.0)
    return Worked({"heat": "1 BTU, 1 MJ"}, _both_ways(into, back, "MJ", "BTU"))


@AREA.explain(
    "money_per_litre money_per_us_gallon",
    "Prices by volume",
    formula="price per L = price per gal / 3.785411784, kept unrounded",
    units="money a US gallon, money a litre",
    validity="any price; converts back to the cent",
    source=f"{NIST} for the gallon",
    basis=Basis.PUBLISHED,
)
def price_by_volume() -> Worked:
    a_litre = units.money_per_litre(Decimal("40.00"))
    return Worked(
        {"price": "40.00 a gallon"},
        {
            "price of a litre": f"{a_litre:.4f}",
            "and back, a gallon": f"{units.money_per_us_gallon(a_litre):.2f}",
        },
    )


@AREA.explain(
    "money_per_kg money_per_pound",
    "Prices by weight",
    formula="price per kg = price per lb / 0.45359237, kept unrounded",
    units="money a pound, money a kilogram",
    validity="any price; converts back to the cent",
    source=f"{NIST} for the pound",
    basis=Basis.PUBLISHED,
)
def price_by_weight() -> Worked:
    a_kg = units.money_per_kg(Decimal("2.50"))
    return Worked(
        {"price": "2.50 a pound"},
        {
            "price of a kilogram": f"{a_kg:.4f}",
            "and back, a pound": f"{units.money_per_pound(a_kg):.2f}",
        },
    )


@AREA.explain(
    "as_typed",
    "Shown as it was typed",
    formula="nearest multiple of the instrument's smallest step, halves to the even one",
    units="the unit typed in",
    validity="a finite value, a step above 0",
    source="counting; so that a reading kept in SI reads back unchanged",
    basis=Basis.COMPUTED,
)
def typed() -> Worked:
    kept = units.kpa_from_inhg(24.3)
    shown = units.as_typed(units.inhg_from_kpa(kept), Decimal("0.1"))
    return Worked({"typed": "24.3 inHg", "kept": f"{kept:.10f} kPa"}, {"shown": f"{shown} inHg"})

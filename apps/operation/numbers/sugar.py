"""Density, sugar, and sap needed per syrup."""

from apps.domain import sugar
from apps.domain.units import LITRES_PER_US_GALLON, litres_from_us_gallons, pounds_from_kg
from apps.operation.numbers import show
from apps.operation.numbers.entry import Area, Basis, Worked

AREA = Area("sugar", "Sugar and density")
SAP_RANGE = "sap from 0.5 Brix up to the syrup's own Brix"
POLYNOMIAL = (
    "coefficients as printed in two unrelated public codes, one citing Llano (2005); "
    "that they are ICUMSA SPS-4 is from memory"
)
METHODS = {"jones": "the Jones rule", "mass balance": "mass balance"}


@AREA.explain(
    "density_kg_m3",
    "Density of sap and syrup",
    formula=(
        "ρ = ρ(water, t) + a polynomial in w = Brix / 100 and T = (t − 20) / 100; "
        "at 20 °C: ρ = 998.20 + 385.1761 w + 135.3705 w² + 40.9299 w³ − 3.9643 w⁴ "
        "+ 13.4853 w⁵ − 17.2890 w⁶"
    ),
    units="kg/m³ from Brix (% sugar by mass) and °C",
    validity="0 to 70 Brix, 0 to 80 °C; carried on to 100 °C for the hot test only",
    source=POLYNOMIAL,
    basis=Basis.PUBLISHED,
)
def density() -> Worked:
    return Worked(
        {"syrup": "66.0 Brix", "sap": "2.0 Brix", "temperature": show.celsius(20)},
        {
            "density of the syrup": show.density(sugar.density_kg_m3(66.0)),
            "density of the sap": show.density(sugar.density_kg_m3(2.0)),
        },
    )


@AREA.explain(
    "brix_from_density",
    "Brix from a density",
    formula="the Brix whose density is the one measured, found by halving the range 60 times",
    units="Brix from kg/m³ and °C",
    validity="densities of 0 to 70 Brix at 0 to 80 °C",
    source=f"inverse of the density; {POLYNOMIAL}",
    basis=Basis.PUBLISHED,
)
def brix_back() -> Worked:
    found = sugar.brix_from_density(1322.66)
    return Worked(
        {"density": show.density(1322.66), "temperature": show.celsius(20)},
        {"Brix": show.brix(found)},
    )


@AREA.explain(
    "specific_gravity",
    "Specific gravity",
    formula="SG = ρ(Brix, 20 °C) / ρ(water, 20 °C)",
    units="no unit, 20/20 °C",
    validity="0 to 70 Brix",
    source=f"definition; checked on Asadi, Beet-Sugar Handbook, Table A.1 p. 779; {POLYNOMIAL}",
    basis=Basis.PUBLISHED,
)
def gravity() -> Worked:
    return Worked({"Brix": "10.0"}, {"specific gravity": f"{sugar.specific_gravity(10.0):.5f}"})


@AREA.explain(
    "baume",
    "Degrees Baumé",
    formula="Bé = 145 − 145 / SG",
    units="degrees Baumé, modulus 145, SG at 20/20 °C",
    validity="0 to 70 Brix",
    source="Vermont rule (66.9 Brix is 36 Bé, 68.9 is 37); Mohos (2010), Table A2.1",
    basis=Basis.PUBLISHED,
)
def baume() -> Worked:
    return Worked(
        {"Brix": "66.9 and 68.9"},
        {"66.9 Brix": f"{sugar.baume(66.9):.2f} Bé", "68.9 Brix": f"{sugar.baume(68.9):.2f} Bé"},
    )


@AREA.explain(
    "composition",
    "What a litre is made of",
    formula="sugar = ρ × Brix / 100; water = ρ × (1 − Brix / 100)",
    units="kg of sugar and of water in a litre; shares by mass and by volume",
    validity="0 to 70 Brix, 0 to 80 °C",
    source="definition of Brix, density as above",
    basis=Basis.COMPUTED,
)
def makeup() -> Worked:
    made_of = sugar.composition(2.0)
    return Worked(
        {"sap": "2.0 Brix", "temperature": show.celsius(20)},
        {
            "sugar in a litre": f"{made_of.sugar_kg_per_litre:.5f} kg",
            "water in a litre": f"{made_of.water_kg_per_litre:.5f} kg",
            "share of water by volume": show.percent(made_of.water_volume_fraction, 2),
        },
    )


@AREA.explain(
    "sugar_mass_kg",
    "Sugar in a tank",
    formula="kg of sugar = litres / 1000 × ρ × Brix / 100",
    units="kg from litres, Brix and °C",
    validity="0 to 70 Brix, 0 to 80 °C",
    source="definition of Brix, density as above",
    basis=Basis.COMPUTED,
)
def sugar_in_tank() -> Worked:
    volume = litres_from_us_gallons(1000.0)
    return Worked(
        {"sap": show.litres(volume, 0), "Brix": "2.0"},
        {"sugar": show.kg(sugar.sugar_mass_kg(volume, 2.0), 1)},
    )


@AREA.explain(
    "sap_per_syrup_jones jones_line",
    "Sap for a gallon of syrup, the rule of thumb",
    formula="S = N / x − 0.32; N = 87.1 for syrup of 66.0 Brix, 87.7 for 66.5, 88.2 for 66.9",
    units="volumes of sap to one of syrup, from the sap's Brix x",
    validity=f"{SAP_RANGE}; only syrup of 66.0, 66.5 or 66.9 Brix. Not for concentrate over 5 Brix",
    source=(
        "Jones (UVM, 1933, 1946), revised by Perkins and Isselhardt (UVM Proctor): 87.1 and 88.2 "
        "published; 87.7 derived by the rule's own algebra, not published"
    ),
    basis=Basis.PUBLISHED,
)
def jones() -> Worked:
    line = sugar.jones_line(66.5)
    return Worked(
        {"sap": "2.0 Brix", "syrup": "66.0, 66.5 and 66.9 Brix"},
        {
            "66.0 Brix": f"{sugar.sap_per_syrup_jones(2.0):.3f} gal of sap a gallon",
            f"66.5 Brix (N = {line.numerator}, {line.status})": (
                f"{sugar.sap_per_syrup_jones(2.0, 66.5):.3f}"
            ),
            "66.9 Brix": f"{sugar.sap_per_syrup_jones(2.0, 66.9):.3f}",
        },
    )


@AREA.explain(
    "sap_per_syrup_mass_balance",
    "Sap for a gallon of syrup, every gram of sugar kept",
    formula="S = B × ρ(B) / (x × ρ(x)), B the syrup's Brix and x the sap's",
    units="volumes of sap to one of syrup, both at 20 °C",
    validity=SAP_RANGE,
    source="conservation of sugar, density as above",
    basis=Basis.COMPUTED,
)
def balance() -> Worked:
    rows = {
        f"sap of {brix:g} Brix": f"{sugar.sap_per_syrup_mass_balance(brix, 66.9):.3f}"
        for brix in (1.5, 2.0, 8.0)
    }
    return Worked({"syrup": "66.9 Brix"}, rows)


@AREA.explain(
    "predicted_syrup_litres",
    "Syrup to expect",
    formula="syrup = sap / S; S by the rule of thumb under 5 Brix, by mass balance from 5 Brix on",
    units="litres, Brix",
    validity=f"{SAP_RANGE}; nothing lost on the way",
    source=(
        "Jones (UVM, 1933, 1946) as revised, and conservation of sugar; the change at 5 Brix is "
        "common practice, no source"
    ),
    basis=Basis.PUBLISHED,
)
def expected() -> Worked:
    volume = litres_from_us_gallons(1000.0)
    found = sugar.predicted_syrup_litres(volume, 2.0)
    return Worked(
        {"sap": show.litres(volume, 0), "sap Brix": "2.0", "syrup": "66.0 Brix"},
        {
            f"by {METHODS[found.method]}": show.litres(found.litres, 2),
            "the other way": show.litres(found.other_litres, 2),
        },
    )


@AREA.explain(
    "syrup_weight_in_air",
    "What a gallon of syrup weighs on a scale",
    formula=(
        "11.027, 11.053, 11.073 lb a gallon at 66.0, 66.5, 66.9 Brix, in a straight line between; "
        "elsewhere (ρ − 1.2) / (1 − 1.2 / 8000), the air's lift taken off"
    ),
    units="kg a litre at 20 °C, weighed in air",
    validity="0 to 70 Brix",
    source="UVM Extension, Sap Pricing module (Farrell, Perkins); outside 66.0 to 66.9 computed",
    basis=Basis.PUBLISHED,
)
def weight() -> Worked:
    found = sugar.syrup_weight_in_air(66.9)
    pounds = pounds_from_kg(found.kg_per_litre * LITRES_PER_US_GALLON)
    return Worked(
        {"syrup": "66.9 Brix"},
        {f"weight, {found.basis}": f"{found.kg_per_litre:.4f} kg a litre ({pounds:.3f} lb/gal)"},
    )

"""Blending, concentrating and sharing out."""

from decimal import Decimal

from apps.domain import allocation, blend, concentration
from apps.domain.units import litres_from_us_gallons
from apps.operation.numbers import show
from apps.operation.numbers.entry import Area, Basis, Worked

BLEND = Area("blend", "Blending")
CONCENTRATION = Area("concentration", "Concentrating and adding")
ALLOCATION = Area("allocation", "Sharing out")
GUM = "JCGM 100:2008 (GUM), 5.1.2, equation (10)"


@BLEND.explain(
    "blend Portion.sugar_kg Portion.mass_kg Portion.sugar_error_kg",
    "Several tanks poured together",
    formula="Brix = Σ(V ρ x) / Σ(V ρ); volume = Σ(V ρ) / ρ(blend)",
    units="litres at 20 °C, Brix, kg",
    validity="0 to 70 Brix; errors small against the Brix and independent of each other",
    source=f"conservation of sugar and water; errors by {GUM}",
    basis=Basis.COMPUTED,
)
def poured() -> Worked:
    first = blend.Portion(litres_from_us_gallons(600.0), 2.0, brix_error=0.1)
    second = blend.Portion(litres_from_us_gallons(400.0), 1.5, brix_error=0.1)
    mixed = blend.blend([first, second])
    return Worked(
        {
            "first": f"{show.litres(first.volume_litres, 0)} of 2.0 Brix, read to ±0.1",
            "second": f"{show.litres(second.volume_litres, 0)} of 1.5 Brix, read to ±0.1",
        },
        {
            "blend": f"{show.brix(mixed.brix, 3)} ±{mixed.brix_error:.3f}",
            "volume": show.litres(mixed.volume_litres),
            "sugar": f"{show.kg(mixed.sugar_kg)} ±{mixed.sugar_error_kg:.2f} kg",
        },
    )


@CONCENTRATION.explain(
    "concentrate Concentration.water_share_of_feed",
    "Taking water out",
    formula="concentrate = V ρ(x) x / (ρ(y) y), from x to y Brix; rule of thumb V x / y",
    units="litres at 20 °C, Brix, kg of water",
    validity="0.5 to 70 Brix; what is taken out is free of sugar",
    source="conservation of sugar; the rule as printed by UVM Extension (Maple Minute)",
    basis=Basis.COMPUTED,
)
def strong() -> Worked:
    volume = litres_from_us_gallons(1000.0)
    result = concentration.concentrate(volume, 2.0, 8.0)
    return Worked(
        {"sap": f"{show.litres(volume, 0)} of 2.0 Brix", "wanted": "8.0 Brix"},
        {
            "concentrate": show.litres(result.concentrate_litres),
            "water out": show.litres(result.water_litres),
            "by the rule of thumb": show.litres(result.rule_concentrate_litres),
            "share taken out": show.percent(result.water_share_of_feed),
        },
    )


@CONCENTRATION.explain(
    "brix_after_removing",
    "Brix after so much permeate",
    formula="Brix = x × mass of sap / (mass of sap − mass of water out)",
    units="litres at 20 °C, Brix",
    validity="0.5 Brix up to a result of 70; the permeate is free of sugar",
    source="conservation of sugar",
    basis=Basis.COMPUTED,
)
def after_permeate() -> Worked:
    sap, water = litres_from_us_gallons(1000.0), litres_from_us_gallons(750.0)
    return Worked(
        {"sap": f"{show.litres(sap, 0)} of 2.0 Brix", "permeate": show.litres(water, 0)},
        {"concentrate": show.brix(concentration.brix_after_removing(sap, 2.0, water))},
    )


@CONCENTRATION.explain(
    "add_to_reach",
    "What to add to reach a Brix",
    formula="kg to add = m (z − x) / (y − z): m of x Brix brought to z with a liquid of y Brix",
    units="litres at 20 °C, Brix",
    validity="0 to 70 Brix, z between x and y",
    source="conservation of sugar",
    basis=Basis.COMPUTED,
)
def add() -> Worked:
    volume = litres_from_us_gallons(40.0)
    result = concentration.add_to_reach(volume, 68.0, 2.0, 66.9)
    return Worked(
        {"syrup": f"{show.litres(volume)} of 68.0 Brix", "thinned with": "sap of 2.0 Brix"},
        {
            "to reach 66.9 Brix, add": show.litres(result.added_litres, 2),
            "there is then": show.litres(result.product_litres, 2),
        },
    )


@ALLOCATION.explain(
    "largest_remainder",
    "Whole units shared out by weight",
    formula=(
        "quota = total × weight / sum of weights; each gets the whole part, what is left over goes "
        "one each to the largest fractions, ties to the one named first"
    ),
    units="weights in one unit, usually kg of sugar; totals in whole units",
    validity="weights of 0 or more, one above 0",
    source="Hamilton's method: Balinski and Young, Fair Representation (1982), ch. 2",
    basis=Basis.PUBLISHED,
)
def shared() -> Worked:
    got = allocation.largest_remainder([300.0, 300.0, 100.0], 10)
    return Worked(
        {"sugar from three woodlots": "300, 300 and 100 kg", "syrup": "10 gal"},
        {"shares": f"{', '.join(map(str, got))} gal", "sum": f"{sum(got)} gal"},
    )


@ALLOCATION.explain(
    "allocate",
    "An amount shared out in the step it is shown in",
    formula="the amount as a number of steps, shared out in whole steps as above",
    units="an amount and its step, such as 0.1 gal",
    validity="an amount that is a multiple of its step",
    source="Hamilton's method: Balinski and Young, Fair Representation (1982), ch. 2",
    basis=Basis.PUBLISHED,
)
def allocated() -> Worked:
    parts = allocation.allocate(Decimal("10.0"), Decimal("0.1"), [1.0, 1.0, 1.0])
    return Worked(
        {"syrup": "10.0 gal, shown to 0.1", "weights": "equal, three woodlots"},
        {"parts": f"{', '.join(map(str, parts))} gal", "sum": f"{sum(parts)} gal"},
    )


@ALLOCATION.explain(
    "shares",
    "A share and how sure it is",
    formula=(
        "s = w / W; error = √((1 − s)² e² + s² × sum of the others' e²) / W, "
        "e the error of each weight"
    ),
    units="weights and their errors in one unit",
    validity="errors independent of each other",
    source=GUM,
    basis=Basis.PUBLISHED,
)
def share() -> Worked:
    first, second = allocation.shares([300.0, 100.0], [15.0, 5.0])
    return Worked(
        {"sugar": "300 ±15 kg and 100 ±5 kg"},
        {
            "first": f"{show.percent(first.fraction)} ±{show.percent(first.error)}",
            "second": f"{show.percent(second.fraction)} ±{show.percent(second.error)}",
        },
    )

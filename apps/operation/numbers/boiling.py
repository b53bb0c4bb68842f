"""Boiling, drawing off, heat and fuel."""

from apps.domain import boiling, fuel
from apps.domain.units import (
    kpa_from_inhg,
    litres_from_us_gallons,
    megajoules_from_btu,
    metres_from_feet,
    us_gallons_from_litres,
)
from apps.operation.numbers import show
from apps.operation.numbers.entry import Area, Basis, Worked

BOILING = Area("boiling", "Boiling and drawing off")
FUEL = Area("fuel", "Fuel")
IAPWS = "IAPWS R7-97(2012), region 4, eqs. 29 to 31; coefficients from memory, checked on Table"
STARZAK = "Starzak and Peacock, Zuckerindustrie: constants as printed, the bracket from memory"
STATION = "60 to 110 kPa of station pressure, not a forecast's sea-level figure"


@BOILING.explain(
    "saturation_pressure_kpa",
    "Vapour pressure of water",
    formula="p = 1000 (2 C / (−B + √(B² − 4 A C)))⁴, A, B, C quadratics in a scaled temperature",
    units="kPa from °C",
    validity="0 to 370 °C",
    source=f"{IAPWS} 35",
    basis=Basis.PUBLISHED,
)
def vapour() -> Worked:
    pressure = boiling.saturation_pressure_kpa(226.85)
    return Worked({"temperature": "500 K, 226.85 °C"}, {"pressure": f"{pressure:,.2f} kPa"})


@BOILING.explain(
    "water_boils_c",
    "Where water boils",
    formula="the temperature at which the vapour pressure of water is the station pressure",
    units="°C from kPa",
    validity=STATION,
    source=f"{IAPWS} 36",
    basis=Basis.PUBLISHED,
)
def water() -> Worked:
    rows = {
        f"{inches:g} inHg": show.celsius(boiling.water_boils_c(kpa_from_inhg(inches)), 2)
        for inches in (27.0, 28.5, 29.92)
    }
    bar = f"{boiling.water_boils_c(100.0):.3f} °C"
    return Worked({"station pressure": "100 kPa, then three in inHg"}, {"100 kPa": bar, **rows})


@BOILING.explain(
    "station_pressure_kpa",
    "Station pressure of a height",
    formula="p = 29.921 inHg × (1 − 6.87535e−6 h)^5.2559, h in feet",
    units="kPa from m",
    validity="-430 to 5,000 m; the day's weather moves it by up to 1 inHg either way",
    source="US Standard Atmosphere (1976) / ISO 2533 (1975)",
    basis=Basis.PUBLISHED,
)
def station() -> Worked:
    height = metres_from_feet(1500.0)
    return Worked(
        {"elevation": show.metres(height)},
        {"station pressure": show.kpa(boiling.station_pressure_kpa(height))},
    )


@BOILING.explain(
    "station_from_sea_level_kpa",
    "Station pressure from a forecast's",
    formula="station = sea level × standard pressure at the height / standard pressure at 0",
    units="kPa, m",
    validity="85 to 110 kPa at sea level, -430 to 5,000 m",
    source="US Standard Atmosphere (1976), in proportion",
    basis=Basis.COMPUTED,
)
def reduced() -> Worked:
    sea, height = kpa_from_inhg(30.0), metres_from_feet(1500.0)
    return Worked(
        {"forecast": show.kpa(sea), "elevation": show.metres(height)},
        {"station pressure": show.kpa(boiling.station_from_sea_level_kpa(sea, height))},
    )


@BOILING.explain(
    "boiling_point_rise_c",
    "How far above water syrup boils",
    formula=(
        "T at which (1 − X) g p(T) is the station pressure; ln g = (Q / R T) X² (1 + a X + b X²), "
        "X the mole fraction of sugar, Q = −17638 J/mol, a = −1.0038, b = −0.24653"
    ),
    units="°C apart, from Brix and kPa",
    validity=f"0 to 80 Brix; {STATION}",
    source=STARZAK,
    basis=Basis.MEMORY,
)
def rise() -> Worked:
    pressure = kpa_from_inhg(29.92)
    rows = {
        f"{brix:g} Brix": show.degrees(boiling.boiling_point_rise_c(brix, pressure))
        for brix in (20.0, 66.0, 66.9)
    }
    return Worked({"station pressure": show.kpa(pressure)}, rows)


@BOILING.explain(
    "trade_rise_c",
    "The trade's rise for finished syrup",
    formula="7.1 °F above water at 66.0 Brix, and 0.4 °F more for each Brix over",
    units="°C apart, from Brix",
    validity="65 to 70 Brix",
    source="7.1 °F at 66.0: hydrometer chart; 7.5 °F at 67: OMAFRA maple blog (2013)",
    basis=Basis.PUBLISHED,
)
def trade() -> Worked:
    return Worked(
        {"syrup": "66.0 and 67.0 Brix"},
        {
            "66.0 Brix": show.degrees(boiling.trade_rise_c(66.0)),
            "67.0 Brix": show.degrees(boiling.trade_rise_c(67.0)),
        },
    )


@BOILING.explain(
    "draw_off",
    "When to draw",
    formula="draw at = where water boils today + the trade's rise; the model's rise beside it",
    units="°C",
    validity="65 to 70 Brix, water boiling at 86 to 102.2 °C; a cue, the hydrometer decides",
    source="the trade's rise: hydrometer chart and OMAFRA (2013); the model's beside it",
    basis=Basis.PUBLISHED,
)
def draw() -> Worked:
    water_c = boiling.water_boils_c(kpa_from_inhg(28.5))
    cue = boiling.draw_off(66.9, water_c)
    return Worked(
        {"syrup": "66.9 Brix", "water boils today": show.celsius(water_c, 2)},
        {"draw at": show.celsius(cue.draw_c, 2), "model's rise": show.degrees(cue.model_rise_c)},
    )


@BOILING.explain(
    "evaporate",
    "Water to boil off",
    formula="syrup = sap / S by mass balance; water = mass of sap − mass of syrup",
    units="litres at 20 °C, kg",
    validity="0.5 to 70 Brix, nothing lost",
    source="conservation of sugar",
    basis=Basis.COMPUTED,
)
def off() -> Worked:
    volume = litres_from_us_gallons(1000.0)
    result = boiling.evaporate(volume, 2.0, 66.9)
    return Worked(
        {"sap": f"{show.litres(volume, 0)} of 2.0 Brix", "syrup": "66.9 Brix"},
        {
            "syrup made": show.litres(result.syrup_litres, 2),
            "water off": f"{show.litres(result.water_litres)}, {show.kg(result.water_kg, 0)}",
        },
    )


@BOILING.explain(
    "latent_heat_mj_per_kg",
    "Heat in a kilogram of steam",
    formula="MJ/kg = 2.2565 − 0.00262 (t − 100)",
    units="MJ/kg from °C",
    validity="85 to 105 °C",
    source="a line through the IAPWS steam tables",
    basis=Basis.COMPUTED,
)
def latent() -> Worked:
    return Worked(
        {"boiling at": show.celsius(100.0)},
        {"heat": f"{boiling.latent_heat_mj_per_kg(100.0):.4f} MJ/kg"},
    )


@BOILING.explain(
    "boil_heat_mj",
    "Heat a boil takes",
    formula=(
        "heat = kg of sap × (4.1868 − 0.0297 Brix) / 1000 × (boiling − sap temperature) "
        "+ kg of water off × heat in a kilogram of steam"
    ),
    units="MJ reaching the pan",
    validity="0.5 to 70 Brix; left out, under 0.5 %: warming the last syrup, heat of mixing",
    source="specific heat from memory; OSU Extension's 400,000 BTU a gallon from 2 % sap agrees",
    basis=Basis.MEMORY,
)
def boil() -> Worked:
    ratio = litres_from_us_gallons(1000.0)
    gallons = us_gallons_from_litres(boiling.evaporate(ratio, 2.0, 66.0).syrup_litres)
    heat = boiling.boil_heat_mj(ratio, 2.0, 66.0, 4.4)
    return Worked(
        {"sap": f"{show.litres(ratio, 0)} of 2.0 Brix at {show.celsius(4.4, 0)}"},
        {"heat": show.megajoules(heat), "a gallon of syrup": show.megajoules(heat / gallons)},
    )


@FUEL.explain(
    "fuel_units fuel",
    "Fuel a boil burns",
    formula="units of fuel = heat at the pan / (heat in a unit × efficiency)",
    units="MJ; oil and propane in L, wood in stacked m³, gas in m³, electricity in kWh",
    validity="efficiency from 0.05 to 1",
    source=(
        "138,500 BTU a gallon of oil, 91,500 of propane, 1,037 a cubic foot of gas: from memory; "
        "20 million BTU a cord: common practice, no source; kWh exact"
    ),
    basis=Basis.MEMORY,
)
def burnt() -> Worked:
    volume = litres_from_us_gallons(1000.0)
    heat = boiling.boil_heat_mj(volume, 2.0, 66.0, 4.4)
    oil = fuel.fuel("fuel oil")
    return Worked(
        {
            "heat": show.megajoules(heat),
            "efficiency": "75 %",
            "heat in oil": f"{oil.megajoules_per_unit:.2f} MJ/L, {oil.status}",
        },
        {"oil": show.litres(fuel.fuel_units(heat, oil, 0.75))},
    )


@FUEL.explain(
    "efficiency_from_use",
    "How much of the fuel reached the pan",
    formula="efficiency = heat at the pan / (fuel burnt × heat in a unit)",
    units="share of 1",
    validity="0.05 to 1; a result outside means that a figure is wrong",
    source="conservation of energy; heat in a unit as above",
    basis=Basis.COMPUTED,
)
def efficiency() -> Worked:
    # OSU Extension's own pair: 22 gallons of syrup a cord, 400,000 BTU a gallon.
    heat = 22 * megajoules_from_btu(400_000.0)
    wood = fuel.fuel("wood")
    share = fuel.efficiency_from_use(heat, wood, fuel.CUBIC_METRES_PER_CORD)
    return Worked(
        {
            "heat": f"{show.megajoules(heat)}, 22 gal of syrup",
            "wood": f"1 cord, {fuel.CUBIC_METRES_PER_CORD:.2f} m³",
        },
        {"efficiency": show.percent(share)},
    )

"""Instruments and grading."""

from apps.domain import grade, instruments
from apps.domain.units import celsius_from_fahrenheit
from apps.operation.numbers import show
from apps.operation.numbers.entry import Area, Basis, Worked

INSTRUMENTS = Area("instruments", "Hydrometer and refractometer")
GRADE = Area("grade", "Grading")
FLOATS = (
    "density as above; glass swells 25e-6 a °C, from memory; a published hot chart for 66.0 Brix "
    "agrees to 0.21 Brix"
)
TABLES = (
    "OIV-MA-AS2-02, Table I (readings of 10 and over, 5 to 17 °C); GOST interstate standard, "
    "Table A.1 (readings of 0 and 5, and 18, 19 and 21 °C)"
)
LAW = "not legal advice: the current text and its inspector decide"


@INSTRUMENTS.explain(
    "hydrometer_reading_brix",
    "The mark to look for on a hydrometer",
    formula="ρ(reading, own temperature) = ρ(true Brix, t) × (1 + 25e−6 (t − own temperature))",
    units="Brix, °C",
    validity="0 to 70 Brix, 0 to 100 °C",
    source=FLOATS,
    basis=Basis.COMPUTED,
)
def mark() -> Worked:
    hot = celsius_from_fahrenheit(211.0)
    rows = {
        f"true {brix:g} Brix": show.brix(instruments.hydrometer_reading_brix(brix, hot), 1)
        for brix in (66.0, 66.9)
    }
    return Worked({"liquid": show.celsius(hot), "made for": show.celsius(15.5555556)}, rows)


@INSTRUMENTS.explain(
    "true_brix_from_hydrometer",
    "True Brix from a hydrometer",
    formula="the Brix whose density at t floats the glass to that reading, the line above undone",
    units="Brix, °C",
    validity="0 to 70 Brix, 0 to 100 °C",
    source=FLOATS,
    basis=Basis.COMPUTED,
)
def float_test() -> Worked:
    cold = celsius_from_fahrenheit(38.0)
    true = instruments.true_brix_from_hydrometer(2.2, cold)
    return Worked(
        {"reading": "2.2 Brix", "sap": show.celsius(cold), "made for": show.celsius(15.5555556)},
        {"true": show.brix(true)},
    )


@INSTRUMENTS.explain(
    "refractometer_correction_brix",
    "Refractometer away from 20 °C",
    formula="read between the rows and columns of the printed table, in straight lines",
    units="Brix to add, from the reading and °C",
    validity="10 to 21 °C for 0 to 70 Brix, from 5 °C for 10 to 30; refused off the print",
    source=TABLES,
    basis=Basis.PUBLISHED,
)
def correction() -> Worked:
    rows = {
        f"65 Brix at {warmth:g} °C": (
            f"{instruments.refractometer_correction_brix(65.0, warmth):+.2f} Brix"
        )
        for warmth in (10.0, 15.0, 20.0)
    }
    return Worked({"scale": "made for 20 °C, no compensation of its own"}, rows)


@INSTRUMENTS.explain(
    "true_brix_from_refractometer",
    "True Brix from a refractometer",
    formula="true = reading + correction",
    units="Brix, °C",
    validity="as the correction; an instrument that compensates by itself needs none",
    source=TABLES,
    basis=Basis.PUBLISHED,
)
def refracted() -> Worked:
    true = instruments.true_brix_from_refractometer(66.3, 15.0)
    return Worked({"reading": "66.3 Brix", "at": show.celsius(15.0)}, {"true": show.brix(true)})


@GRADE.explain(
    "colour_class",
    "Colour class",
    formula="Golden from 75.0 %, Amber from 50.0, Dark from 25.0, Very Dark under 25.0",
    units="% light through 10 mm at 560 nm, glycerol = 100",
    validity="0 to 100 %",
    source=(
        "1 NYCRR 270.1(b)(2); USDA grade standards (2015); Canada C.R.C. c. 289 Sched. III, "
        "whose wording leaves no gap"
    ),
    basis=Basis.PUBLISHED,
)
def colour() -> Worked:
    rows = {f"{light:.2f} %": grade.colour_class(light).label for light in (75.0, 74.99, 24.99)}
    return Worked({"light through": "three readings"}, rows)


@GRADE.explain(
    "density_standard DensityStandard.processing_minimum_litres check_density",
    "Density a jurisdiction asks for",
    formula="within when minimum ≤ Brix ≤ maximum",
    units="Brix at 20 °C; containers in L",
    validity=f"0 to 100 Brix; {LAW}",
    source="named with each row, such as 1 NYCRR 270.1(b)(1)",
    basis=Basis.PUBLISHED,
)
def standard() -> Worked:
    row = grade.density_standard("Vermont")
    found = grade.check_density(66.5, "Vermont")
    smallest = show.litres(row.processing_minimum_litres)
    return Worked(
        {"syrup": "66.5 Brix", "sold in": row.jurisdiction},
        {
            "limits": f"{row.minimum_brix} to {row.maximum_brix} Brix ({row.source})",
            "verdict": found.verdict,
            "Processing grade in": f"{smallest} or more",
        },
    )


@GRADE.explain(
    "judge",
    "The grade of a lot",
    formula="density first; then off-flavour or cloudiness, which override colour; then colour",
    units="% light, Brix, words",
    validity=f"what is not known leaves the lot not judged; {LAW}",
    source="USDA grade standards (2015); Canadian Grade Compendium vol. 7",
    basis=Basis.PUBLISHED,
)
def graded() -> Worked:
    off = grade.Sample(80.0, 66.9, off_flavour=True, clear=True, container_litres=20.0)
    untasted = grade.Sample(80.0, 66.9)
    judged, not_judged = grade.judge(off, "New York"), grade.judge(untasted, "New York")
    return Worked(
        {"lot": "66.9 Brix, 80 % light, in New York"},
        {
            "with an off-flavour": f"{judged.grade.value}: {'; '.join(judged.reasons)}",
            "not tasted": f"{not_judged.grade.value}: {'; '.join(not_judged.reasons)}",
        },
    )

"""Grading syrup: colour class, density limits where it is sold, and what overrides colour.

Formula: colour class by light transmittance, half-open bands: Golden at 75.0 % and over, Amber
50.0 to under 75.0, Dark 25.0 to under 50.0, Very Dark under 25.0. Density is within a standard
when minimum <= Brix <= maximum. Off-flavour or cloudiness makes Processing grade of any colour.
Units: % transmittance at 560 nm, 10 mm cell, glycerol = 100; Brix at 20 C; litres.
Validity: transmittance 0-100 %, Brix 0-100. A figure that is not known stays unknown: colour alone
never gives Grade A. The rows are what was read, not legal advice; the jurisdiction's current text
and its inspector decide.
Source: colour: 1 NYCRR 270.1(b)(2), USDA grade standards (2015), Canada C.R.C. c. 289 Sched. III.
The US print "50.0 to 74.9" leaves a gap that the Canadian wording closes, so bands are half-open.
Density: each row of DENSITY_STANDARDS names its own. Processing containers: USDA 2015, 5 US
gallons; Canadian Grade Compendium vol. 7, 20 L.
"""

import math
from dataclasses import dataclass
from enum import Enum
from typing import Literal

from apps.domain.errors import DomainError, require_range
from apps.domain.units import celsius_from_fahrenheit, litres_from_us_gallons

# Above this sugar comes out of solution as crystals in the container.
CRYSTALS_ABOVE_BRIX = 68.9
SIXTY_F_C = celsius_from_fahrenheit(60.0)


class ColourClass(Enum):
    """A colour class by its name in the standards; `taste` is the word that goes with it."""

    # From light to dark: colour_class takes the first limit that a reading reaches.
    GOLDEN = ("Golden", "delicate", 75.0)
    AMBER = ("Amber", "rich", 50.0)
    DARK = ("Dark", "robust", 25.0)
    VERY_DARK = ("Very Dark", "strong", 0.0)

    def __init__(self, label: str, taste: str, lowest_transmittance_percent: float) -> None:
        self.label = label
        self.taste = taste
        self.lowest_transmittance_percent = lowest_transmittance_percent


class Grade(Enum):
    """What the syrup may be sold as; UNJUDGED while something that decides is not known."""

    GRADE_A = "Grade A"
    PROCESSING = "Processing"
    NEITHER = "neither Grade A nor Processing"
    UNJUDGED = "not judged"


@dataclass(frozen=True)
class DensityStandard:
    """The density one jurisdiction asks of syrup, and how surely that was read."""

    jurisdiction: str
    country: Literal["us", "ca"]
    minimum_brix: float
    maximum_brix: float | None
    # The temperature the text measures at; None where it names none.
    reference_c: float | None
    source: str
    status: Literal["read", "read in secondary sources only"] = "read"

    @property
    def processing_minimum_litres(self) -> float:
        """The smallest container Processing grade may be packed in."""
        return 20.0 if self.country == "ca" else litres_from_us_gallons(5.0)


DENSITY_STANDARDS = {
    standard.jurisdiction: standard
    for standard in (
        DensityStandard(
            "United States", "us", 66.0, 68.9, 20.0, "USDA, 7 CFR 52.5961-.5962 (2015)"
        ),
        DensityStandard(
            "Canada", "ca", 66.0, 68.9, 20.0, "Canadian Grade Compendium vol. 7, s. 3-4"
        ),
        DensityStandard("New York", "us", 66.0, 68.9, None, "1 NYCRR 270.1(b)(1)"),
        DensityStandard("Vermont", "us", 66.9, 68.9, SIXTY_F_C, "Vermont rule, 36 to 37 Baume"),
        DensityStandard(
            "New Hampshire",
            "us",
            66.9,
            None,
            None,
            "RSA 429 and rule Agr 904; the figure from two trade pages",
            "read in secondary sources only",
        ),
        # The act prints 69 and lowers it to 68.9 on a contingency; 69 is what stands in the text.
        DensityStandard("Maine", "us", 66.0, 69.0, 20.0, "7 MRSA 892-A"),
        DensityStandard(
            "Ontario", "ca", 66.0, None, 20.0, "ontario.ca, maple density requirements"
        ),
    )
}


@dataclass(frozen=True)
class DensityCheck:
    """Where a density stands against a standard."""

    verdict: Literal["under", "within", "over"]
    standard: DensityStandard
    may_crystallise: bool


@dataclass(frozen=True)
class Sample:
    """What is known of a lot of syrup; None where it has not been measured or tasted."""

    transmittance_percent: float | None = None
    brix: float | None = None
    off_flavour: bool | None = None
    clear: bool | None = None
    container_litres: float | None = None


@dataclass(frozen=True)
class Judgement:
    """The grade, the colour class where measured, and the reasons in words."""

    grade: Grade
    colour: ColourClass | None
    reasons: tuple[str, ...]


def colour_class(transmittance_percent: float) -> ColourClass:
    """The colour class of a transmittance reading. Raises OutOfRange outside 0-100 %."""
    require_range("transmittance_percent", transmittance_percent, 0.0, 100.0)
    return next(
        colour
        for colour in ColourClass
        if transmittance_percent >= colour.lowest_transmittance_percent
    )


def density_standard(jurisdiction: str) -> DensityStandard:
    """The standard of a jurisdiction. Raises DomainError where none is on file."""
    if jurisdiction not in DENSITY_STANDARDS:
        known = ", ".join(DENSITY_STANDARDS)
        raise DomainError(f"jurisdiction must be one of {known}, not {jurisdiction}")
    return DENSITY_STANDARDS[jurisdiction]


def check_density(brix: float, jurisdiction: str) -> DensityCheck:
    """Whether a density at 20 C is under, within or over a jurisdiction's limits."""
    require_range("brix", brix, 0.0, 100.0)
    standard = density_standard(jurisdiction)
    verdict: Literal["under", "within", "over"] = "within"
    # Compared as measured: rounding 65.96 to 66.0 first would pass light syrup.
    if brix < standard.minimum_brix:
        verdict = "under"
    elif standard.maximum_brix is not None and brix > standard.maximum_brix:
        verdict = "over"
    return DensityCheck(verdict, standard, may_crystallise=brix > CRYSTALS_ABOVE_BRIX)


def judge(sample: Sample, jurisdiction: str) -> Judgement:
    """Grade a lot: density first, then taste and clearness, which override colour.

    Raises OutOfRange for an impossible measurement, DomainError for an unknown jurisdiction.
    """
    standard = density_standard(jurisdiction)
    colour = None
    if sample.transmittance_percent is not None:
        colour = colour_class(sample.transmittance_percent)
    # Density comes first: what is not syrup has no grade, however it tastes.
    fault = _density_fault(sample, standard)
    if fault:
        return Judgement(Grade.NEITHER, colour, (fault,))
    lowered_by = _lowered_by(sample)
    if lowered_by:
        return _processing(sample, standard, colour, lowered_by)
    unknown = _unknown(sample)
    if unknown:
        return Judgement(Grade.UNJUDGED, colour, unknown)
    return Judgement(Grade.GRADE_A, colour, ())


def _density_fault(sample: Sample, standard: DensityStandard) -> str | None:
    if sample.brix is None:
        return None
    verdict = check_density(sample.brix, standard.jurisdiction).verdict
    if verdict == "under":
        return f"density is under the {standard.minimum_brix} Brix of {standard.jurisdiction}"
    if verdict == "over":
        return f"density is over the {standard.maximum_brix} Brix of {standard.jurisdiction}"
    return None


def _lowered_by(sample: Sample) -> tuple[str, ...]:
    lowered_by = []
    if sample.off_flavour:
        lowered_by.append("off-flavour overrides colour")
    # None is not cloudy: only a look that found it so lowers the grade.
    if sample.clear is False:
        lowered_by.append("not clear")
    return tuple(lowered_by)


def _processing(
    sample: Sample,
    standard: DensityStandard,
    colour: ColourClass | None,
    lowered_by: tuple[str, ...],
) -> Judgement:
    # Processing grade has density limits too.
    if sample.brix is None:
        return Judgement(Grade.UNJUDGED, colour, (*lowered_by, "density not measured"))
    least = standard.processing_minimum_litres
    if sample.container_litres is None:
        reasons = (*lowered_by, f"containers must hold at least {least:.1f} L")
        return Judgement(Grade.PROCESSING, colour, reasons)
    require_range("container_litres", sample.container_litres, 0.0, math.inf)
    # A container is written to a tenth of a litre, so 18.9 L is five gallons.
    if round(sample.container_litres, 1) < round(least, 1):
        reasons = (*lowered_by, f"container is under {least:.1f} L")
        return Judgement(Grade.NEITHER, colour, reasons)
    return Judgement(Grade.PROCESSING, colour, lowered_by)


def _unknown(sample: Sample) -> tuple[str, ...]:
    checks = (
        (sample.brix, "density not measured"),
        (sample.transmittance_percent, "colour not measured"),
        (sample.off_flavour, "not tasted"),
        (sample.clear, "clearness not looked at"),
    )
    return tuple(words for known, words in checks if known is None)

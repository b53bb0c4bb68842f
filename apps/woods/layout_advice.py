"""What stands behind each finding: its limit, how surely it is known, why it matters, the cure."""

from dataclasses import dataclass

from apps.domain.tubing import layout
from apps.operation.catalogue import PRACTICE

PUBLISHED, COMPUTED = "published", "computed"
UVM = "Perkins and van den Berg (UVM), Taking care of the woods, Maple News, 3 January 2020"
UNH = "UNH Extension"
EQUIPMENT = "an equipment page, no author or year given"
OSU = "Ober, OSU Extension (2013): 60 CFM on 1,000 ft of 1 in. leaves 8 CFM, 800 taps"
MANNING = "Manning, pipe half full; the peak flow of a tap in Settings is from memory, weak"
STANDING = "Standing sap freezes first, thaws last and spoils."


@dataclass(frozen=True)
class Advice:
    """One piece of advice; without a limit of its own the line's is worked out."""

    limit: float | None
    quantity: str
    basis: str
    source: str
    why: str
    takes: str


def _flat(limit: float, basis: str, source: str) -> Advice:
    return Advice(limit, "share", basis, source, STANDING, "Raise its far end or lower its foot.")


CROWDED = "The last taps on a crowded lateral see less vacuum."
SPLIT = "Move taps to another lateral, or hang a new one."
UPHILL = _flat(0.0, COMPUTED, "Fall over length; sap does not run uphill by itself")
STEEP = Advice(
    layout.MAINLINE_AIM_PERCENT[1] / 100,
    "share",
    PUBLISHED,
    UVM,
    "Nothing is lost; flatter would reach more trees.",
    "Nothing, unless it is hung anew.",
)
CARRIES = Advice(
    None,
    "count",
    COMPUTED,
    MANNING,
    "In a big run the pipe fills, and air no longer gets past the sap.",
    "A wider pipe, or a second one from where two mainlines meet.",
)
SHORT_ONLY = _flat(layout.MAINLINE_AIM_PERCENT[0] / 100, PUBLISHED, UVM)
FLATTEST = _flat(layout.MAINLINE_FLATTEST_PERCENT / 100, PUBLISHED, UNH)

ADVICE: dict[tuple[str, str], Advice] = {
    ("too many taps", "lateral"): Advice(None, "count", PUBLISHED, UVM, CROWDED, SPLIT),
    ("over the taps to aim for", "lateral"): Advice(
        layout.AIM_TAPS_PER_LATERAL, "count", PUBLISHED, UVM, CROWDED, SPLIT
    ),
    ("too long", "lateral"): Advice(
        layout.LONGEST_LATERAL_M,
        "length",
        PUBLISHED,
        EQUIPMENT,
        "Vacuum falls along a long thin tube.",
        "A mainline nearer to its far trees.",
    ),
    ("too flat", "lateral"): _flat(layout.LATERAL_SLOPE_PERCENT / 100, PUBLISHED, EQUIPMENT),
    ("too long", "main"): Advice(
        layout.LONGEST_MAINLINE_M,
        "length",
        PUBLISHED,
        UNH,
        "Little of the pump's air is left at the far end.",
        "A conductor to a point nearer, and two mainlines from there.",
    ),
    ("more taps than a mainline bears", "main"): Advice(
        None,
        "count",
        PRACTICE,
        "the most in Settings",
        "One fault on it costs the sap of all of them.",
        "A second mainline for part of its laterals.",
    ),
    ("more taps than its air serves", "main"): Advice(
        None,
        "count",
        COMPUTED,
        f"Isothermal flow of air, set by {OSU}",
        "Air from taps and leaks gathers and vacuum falls at the taphole.",
        "A wider or shorter line, a dry conductor, or fewer taps.",
    ),
    ("no dry conductor beside it", "wet"): Advice(
        None,
        "count",
        PRACTICE,
        "",
        "In a big run the wet conductor fills; the dry one carries air past the sap.",
        "A dry conductor above it, looped to each mainline.",
    ),
}
for _kind in ("main", "wet"):
    ADVICE["too flat", _kind] = FLATTEST
    ADVICE["flat, short pieces only", _kind] = SHORT_ONLY
    ADVICE["steeper than needed", _kind] = STEEP
    ADVICE["more sap than it carries", _kind] = CARRIES
for _kind in ("main", "wet", "lateral"):
    ADVICE["runs uphill", _kind] = UPHILL

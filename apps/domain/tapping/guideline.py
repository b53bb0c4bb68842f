"""Taps a tree by its diameter at breast height, by a chosen rule set.

Formula: the number of limits the diameter reaches, each limit included in the larger class;
diameter = circumference / pi.
Units: cm; rules printed in inches are kept to the inch.
Validity: sound, healthy trees. Where a rule prints a gap between two classes (23 and 23.1 cm) a
diameter inside it stays in the smaller class. Printed inch classes overlap at their ends; the
larger class is taken by convention. A rule of law is quoted for comparison only: the text in
force where the tree stands decides.
Source: named with each rule set.
"""

import math
from dataclasses import dataclass
from types import MappingProxyType

from apps.domain.errors import DomainError, require_range
from apps.domain.units import MM_PER_INCH

CM_PER_INCH = MM_PER_INCH / 10
# A diameter typed in inches and stored in cm must keep its side of a limit.
CM_DECIMALS = 6


@dataclass(frozen=True, slots=True)
class RuleSet:
    """`from_cm[i]` is the least diameter that carries i + 1 taps."""

    name: str
    from_cm: tuple[float, ...]
    source: str


def _inches(*limits: float) -> tuple[float, ...]:
    return tuple(limit * CM_PER_INCH for limit in limits)


RULE_SETS = MappingProxyType(
    {
        "conservative": RuleSet(
            "Conservative",
            _inches(12, 18),
            "North American manual guideline as quoted in Maple Syrup in the Classroom, slide 5.2; "
            "12 in supported by Ober, OSU Extension (2013)",
        ),
        "traditional": RuleSet(
            "Traditional, not recommended",
            _inches(10, 15, 20, 25),
            "manual guideline as quoted in Maple Syrup in the Classroom, slide 5.2",
        ),
        "quebec private": RuleSet(
            "Quebec, private land",
            (23.1, 39.1),
            "Quebec regulation M-35.1, r. 8.1, article 6 (as of 2023)",
        ),
        "quebec public": RuleSet(
            "Quebec, public land, older text",
            (20, 40, 60, 80),
            "Quebec regulation A-18.1, r. 2, article 3 (replaced since by r. 8.1, not seen)",
        ),
    }
)


def taps_for_diameter(diameter_cm: float, rule_set: str = "conservative") -> int:
    """Taps a tree of this diameter carries by the rule set.

    Raises OutOfRange outside 1 to 300 cm, DomainError for a rule set that is not in RULE_SETS.
    """
    require_range("diameter_cm", diameter_cm, 1, 300)
    if rule_set not in RULE_SETS:
        raise DomainError(f"rule_set must be one of {', '.join(RULE_SETS)}, not {rule_set}")
    # Every limit reached is one tap more, so the count is the class.
    diameter = round(diameter_cm, CM_DECIMALS)
    return sum(diameter >= round(limit, CM_DECIMALS) for limit in RULE_SETS[rule_set].from_cm)


def diameter_cm_from_circumference(circumference_cm: float) -> float:
    """Diameter of a round trunk from a tape around it; OutOfRange outside 3 to 950 cm."""
    require_range("circumference_cm", circumference_cm, 3, 950)
    return circumference_cm / math.pi

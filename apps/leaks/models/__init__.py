"""What the crew saw on the lines, the leaks that follow from it, and the pump-house gauges."""

from apps.leaks.models.checks import (
    MOST_OF_A_PART,
    Cause,
    LeakCheck,
    LeakCheckQuerySet,
    Part,
    PartUsed,
)
from apps.leaks.models.common import MOST_DROPS, VACUUM_HIGH_KPA, Position, position_columns
from apps.leaks.models.gauges import GaugeReading, GaugeReadingQuerySet
from apps.leaks.models.leak import Leak, LeakQuerySet
from apps.leaks.models.obstructions import (
    Clearing,
    ClearingQuerySet,
    Obstruction,
    ObstructionQuerySet,
)
from apps.leaks.models.photos import MOST_BYTES, Photo

__all__ = [
    "MOST_BYTES",
    "MOST_DROPS",
    "MOST_OF_A_PART",
    "VACUUM_HIGH_KPA",
    "Cause",
    "Clearing",
    "ClearingQuerySet",
    "GaugeReading",
    "GaugeReadingQuerySet",
    "Leak",
    "LeakCheck",
    "LeakCheckQuerySet",
    "LeakQuerySet",
    "Obstruction",
    "ObstructionQuerySet",
    "Part",
    "PartUsed",
    "Photo",
    "Position",
    "position_columns",
]

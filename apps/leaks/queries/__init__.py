"""What the crew's records say about the lines; each page reads here and nowhere else."""

from apps.leaks.queries.checks import (
    SameDay,
    checks,
    parts_used,
    same_day_differences,
    with_what_was_seen,
)
from apps.leaks.queries.gauges import GaugeRow, gauge_readings, gauge_rows
from apps.leaks.queries.lines import (
    last_walked_by_line,
    next_lines,
    open_leaks,
    open_leaks_by_line,
    ranked_lines,
)
from apps.leaks.queries.obstructions import (
    cleared_obstructions,
    open_obstructions,
    open_obstructions_by_line,
)
from apps.leaks.queries.positions import line_positions
from apps.woods.queries import woodlot_chosen, woodlots

__all__ = [
    "GaugeRow",
    "SameDay",
    "checks",
    "cleared_obstructions",
    "gauge_readings",
    "gauge_rows",
    "last_walked_by_line",
    "line_positions",
    "next_lines",
    "open_leaks",
    "open_leaks_by_line",
    "open_obstructions",
    "open_obstructions_by_line",
    "parts_used",
    "ranked_lines",
    "same_day_differences",
    "with_what_was_seen",
    "woodlot_chosen",
    "woodlots",
]

"""The pump-house gauges as a picture of the very readings listed under it."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from django.utils import timezone

from apps.leaks.models import GaugeReading
from apps.leaks.queries import GaugeRow
from apps.operation import display
from apps.operation.figures import Figure, as_figure

if TYPE_CHECKING:
    import plotly.graph_objects as go

# Gauges are read once or twice a day; a line drawn over more would claim what nobody saw.
UNSEEN = timedelta(days=1)
# Told apart without colour as well: by the name in the legend and the mark on the line.
MARKS = ("circle", "square", "diamond", "triangle-up", "star", "hexagon", "cross", "bowtie")


def gauge_trend(rows: Sequence[GaugeRow], unit_system: str) -> Figure | None:
    """One trace per pump house over time, faults apart as crosses; None without readings.

    A reading taken back is listed under the picture but never drawn: it was never on the gauge.
    """
    rows = [row for row in rows if row.reading.voided_at is None]
    if not rows:
        return None
    # Imported here so that pages without a chart stay light.
    import plotly.graph_objects as go

    fig = go.Figure([*_pump_houses(rows, unit_system), *_faults(rows, unit_system)])
    unit = display.unit_for("vacuum", unit_system)
    fig.update_layout(yaxis={"title": {"text": f"Vacuum, {unit.label}"}})
    return as_figure(
        fig,
        id="gauges",
        title="The readings listed below, by pump house",
        description="Vacuum at each pump house over time. The table below holds the same numbers.",
    )


def _pump_houses(rows: Sequence[GaugeRow], unit_system: str) -> "list[go.Scatter]":
    by_house: dict[str, list[GaugeRow]] = {}
    # They come newest first; a line is drawn as time runs.
    for row in reversed(rows):
        if not row.is_fault:
            by_house.setdefault(row.place, []).append(row)
    return [
        _trace(place, by_house[place], unit_system, "lines+markers", MARKS[nth % len(MARKS)])
        for nth, place in enumerate(sorted(by_house))
    ]


def _faults(rows: Sequence[GaugeRow], unit_system: str) -> "list[go.Scatter]":
    # Apart and unjoined: a dial that sticks is no swing of the vacuum.
    faults = [row for row in rows if row.is_fault]
    return [_trace("Gauge fault", faults, unit_system, "markers", "x")] if faults else []


def _trace(
    name: str, rows: Sequence[GaugeRow], unit_system: str, mode: str, mark: str
) -> "go.Scatter":
    import plotly.graph_objects as go

    points = _with_gaps([row.reading for row in rows])
    return go.Scatter(
        name=name,
        # The picture knows no zones: it is given the hour that the clock in the pump house showed.
        x=[timezone.localtime(read_at).replace(tzinfo=None) for read_at, _ in points],
        y=[
            kpa if kpa is None else display.shown_number(kpa, "vacuum", unit_system)
            for _, kpa in points
        ],
        mode=mode,
        marker={"symbol": mark, "size": 9},
    )


def _with_gaps(readings: Sequence[GaugeReading]) -> list[tuple[datetime, float | None]]:
    """The readings, with nothing drawn across a day or more that nobody looked at the gauge."""
    points: list[tuple[datetime, float | None]] = []
    for reading in readings:
        if points and reading.read_at - points[-1][0] > UNSEEN:
            points.append((points[-1][0] + UNSEEN, None))
        points.append((reading.read_at, reading.vacuum_kpa))
    return points

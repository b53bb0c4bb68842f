"""The members as a fan about freezing, and the chances of all woodlots as a calendar."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime, tzinfo
from typing import TYPE_CHECKING

from apps.operation import display
from apps.operation.figures import Figure, as_figure
from apps.operation.queries import Constants
from apps.weather.charts import LIMITS, LINE
from apps.weather.queries.fan import Fan

if TYPE_CHECKING:
    import plotly.graph_objects as go

# Half-clear, so that the grid and the limits show through on the light page and the dark one.
OUTER, INNER = "rgba(47,134,193,0.22)", "rgba(47,134,193,0.42)"
# One hue, told apart in print and by a colour-blind reader; the step at a half keeps every square
# clearly lighter or darker than the figure in it.
SCALE = ((0.0, "#f4f8fb"), (0.5, "#b5d3ea"), (0.5, "#3a78a8"), (1.0, "#0f4063"))
# As many as a phone has room for figures; the table goes on.
CALENDAR_DAYS = 10


def fan_about_freezing(
    fan: Fan, name: str, tz: tzinfo, constants: Constants, unit_system: str
) -> Figure:
    """Bands of eight and of five members in ten, their middle, and both limits."""
    import plotly.graph_objects as go

    unit = display.unit_for("temperature", unit_system)
    clock = [_wall(hour.at, tz) for hour in fan.hours]
    fig = go.Figure(
        [
            *_band(fan, clock, unit, ("low", "high"), OUTER, "8 members in 10"),
            *_band(fan, clock, unit, ("lower", "upper"), INNER, "5 members in 10"),
            go.Scatter(
                x=clock,
                y=_shown(fan, "middle", unit),
                name="Middle",
                mode="lines",
                line={"color": LINE, "width": 2},
                hovertemplate="%{y} " + unit.label,
            ),
            *_limits(clock, constants, unit_system),
        ]
    )
    fig.update_layout(
        yaxis={"title": {"text": unit.label}, "zeroline": False},
        # Level and few, or on a phone they would lean into the legend.
        xaxis={
            "tickformat": "%a %-d",
            "type": "date",
            "tickangle": 0,
            "nticks": 6,
            "tickfont": {"size": 12},
        },
    )
    return as_figure(
        fig,
        id="fan",
        title=f"{name}: what the members say, hour by hour",
        description=(
            f"Bands of hourly air temperature at {name} that eight and five in ten of "
            f"{fan.members} forecast members lie in, their middle, and the freeze and the thaw "
            "limit as lines. The table below holds the same numbers."
        ),
    )


def calendar(
    dates: Sequence[date], by_woodlot: Mapping[str, Sequence[float | None]]
) -> Figure | None:
    """Woodlots down, days across, the chance in each square; None where no chance is stated."""
    import plotly.graph_objects as go

    rows = {name: chances[:CALENDAR_DAYS] for name, chances in reversed(list(by_woodlot.items()))}
    if not any(chance is not None for chances in rows.values() for chance in chances):
        return None
    percent = [
        [None if chance is None else round(100 * chance) for chance in chances]
        for chances in rows.values()
    ]
    fig = go.Figure(
        go.Heatmap(
            x=[f"{day:%a}<br>{day.day}" for day in dates[:CALENDAR_DAYS]],
            y=list(rows),
            z=percent,
            text=[["?" if one is None else str(one) for one in row] for row in percent],
            texttemplate="%{text}",
            textfont={"size": 11},
            zmin=0,
            zmax=100,
            colorscale=[list(step) for step in SCALE],
            showscale=False,
            xgap=2,
            ygap=2,
            hoverongaps=False,
            hovertemplate="%{y}, %{x}: %{z} %<extra></extra>",
        )
    )
    # As text, or "Mon 16" would be read as a date of its own.
    fig.update_xaxes(
        type="category", side="top", tickangle=0, dtick=1, tickfont={"size": 10}, showgrid=False
    )
    fig.update_yaxes(automargin=True, showgrid=False, tickfont={"size": 12})
    figure = as_figure(
        fig,
        id="chances",
        title="Chance of freezing and thawing, %",
        description=(
            "A square for each woodlot and day with the chance in per cent that it freezes and "
            "thaws, the darker the likelier. The table below holds the same numbers."
        ),
    )
    figure.spec["layout"] |= {"margin": {"l": 8, "r": 8, "t": 44, "b": 8}, "hovermode": "closest"}
    return figure


def _band(
    fan: Fan, clock: list[str], unit: display.Unit, ends: tuple[str, str], fill: str, name: str
) -> "list[go.Scatter]":
    import plotly.graph_objects as go

    low, high = ends
    edge = {"x": clock, "mode": "lines", "line": {"width": 0}, "hoverinfo": "skip"}
    return [
        go.Scatter(**edge, y=_shown(fan, low, unit), showlegend=False),
        go.Scatter(**edge, y=_shown(fan, high, unit), name=name, fill="tonexty", fillcolor=fill),
    ]


def _limits(clock: list[str], constants: Constants, unit_system: str) -> "list[go.Scatter]":
    import plotly.graph_objects as go

    unit = display.unit_for("temperature", unit_system)
    return [
        go.Scatter(
            x=[clock[0], clock[-1]],
            y=[round(float(unit.show(constants.number(key))), 2)] * 2,
            mode="lines",
            name=f"{word} {display.shown(constants.number(key), 'temperature', unit_system, 1)}",
            line={"dash": "dash", "width": 2, "color": colour},
            hoverinfo="skip",
        )
        for key, word, colour in LIMITS
    ]


def _shown(fan: Fan, field: str, unit: display.Unit) -> list[float]:
    return [round(float(unit.show(getattr(hour, field))), 1) for hour in fan.hours]


def _wall(moment: datetime, tz: tzinfo) -> str:
    """Clock time as the woods read it; the chart has no time zones of its own."""
    return moment.astimezone(tz).strftime("%Y-%m-%dT%H:%M")

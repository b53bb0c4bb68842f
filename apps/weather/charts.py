from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from apps.operation import display
from apps.operation.figures import Figure, as_figure
from apps.operation.queries import Constants
from apps.weather.queries import WoodlotDays

if TYPE_CHECKING:
    import plotly.graph_objects as go

# Colours that stand out on the light page and on the dark one alike.
LINE = "#2f86c1"
# Plotly is imported inside the functions: pages without a chart stay light.
LIMITS = (
    ("weather.thaw_c", "Thaw limit", "#c2612b"),
    ("weather.freeze_c", "Freeze limit", "#5f8f36"),
)


def hours_about_freezing(
    row: WoodlotDays, constants: Constants, unit_system: str, now: datetime
) -> Figure | None:
    """The hours of the days shown at the woodlot's height, both limits drawn; gaps stay gaps."""
    if not row.days:
        return None
    import plotly.graph_objects as go

    unit = display.unit_for("temperature", unit_system)
    fig = go.Figure([_hours(row, unit_system), *_limits(row, constants, unit_system)])
    moment = _wall(now, row)
    fig.add_vline(x=moment, line={"dash": "dot", "width": 1.5, "color": "#888888"})
    fig.add_annotation(x=moment, y=1, yref="paper", text="now", showarrow=False, xanchor="left")
    fig.update_layout(
        yaxis={"title": {"text": unit.label}, "zeroline": False},
        xaxis={"tickformat": "%a %-d %b", "range": _span(row)},
    )
    return as_figure(
        fig,
        id="hours",
        title=f"{row.woodlot.name}: air temperature by hour",
        description=(
            f"Hourly air temperature at {row.woodlot.name} with the freeze and the thaw limit "
            "drawn as lines. The tables below hold the same numbers."
        ),
    )


def _hours(row: WoodlotDays, unit_system: str) -> "go.Scatter":
    import plotly.graph_objects as go

    unit = display.unit_for("temperature", unit_system)
    hours = row.hours()
    return go.Scatter(
        x=[_wall(moment, row) for moment, _ in hours],
        y=[None if value is None else round(unit.show(value), 1) for _, value in hours],
        mode="lines",
        name="Air temperature",
        connectgaps=False,
        line={"color": LINE},
        hovertemplate="%{y} " + unit.label,
    )


def _limits(row: WoodlotDays, constants: Constants, unit_system: str) -> list["go.Scatter"]:
    """Lines named with their value in the legend: a label on the line would lie on the curve."""
    import plotly.graph_objects as go

    unit = display.unit_for("temperature", unit_system)
    return [
        go.Scatter(
            x=_span(row),
            y=[round(float(unit.show(constants.number(key))), 2)] * 2,
            mode="lines",
            name=f"{word} {display.shown(constants.number(key), 'temperature', unit_system, 1)}",
            line={"dash": "dash", "width": 2, "color": colour},
            hoverinfo="skip",
        )
        for key, word, colour in LIMITS
    ]


def _wall(moment: datetime, row: WoodlotDays) -> str:
    """Clock time as the woods read it; the chart has no time zones of its own."""
    return moment.astimezone(row.tz).strftime("%Y-%m-%dT%H:%M")


def _span(row: WoodlotDays) -> list[str]:
    after = row.days[-1].date + timedelta(days=1)
    return [row.days[0].date.isoformat(), after.isoformat()]

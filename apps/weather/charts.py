from datetime import datetime, timedelta
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from apps.operation import display
from apps.operation.figures import Figure, as_figure
from apps.operation.queries import Constants
from apps.weather.queries import WoodlotDays

if TYPE_CHECKING:
    import plotly.graph_objects as go


def hours_about_freezing(
    row: WoodlotDays, constants: Constants, unit_system: str, now: datetime
) -> Figure | None:
    """The hours from today on at the woodlot's height, with both limits drawn; gaps stay gaps."""
    if not row.days:
        return None
    # Imported here: pages without a chart stay light.
    import plotly.graph_objects as go

    unit = display.unit_for("temperature", unit_system)
    fig = go.Figure(_trace(row, unit_system))
    for key, word in (("weather.thaw_c", "Thaw"), ("weather.freeze_c", "Freeze")):
        limit = display.shown(constants.number(key), "temperature", unit_system, decimals=1)
        fig.add_hline(
            y=float(unit.show(constants.number(key))),
            line={
                "dash": "dash",
                "width": 1.5,
                "color": "#b3541e" if word == "Thaw" else "#1f5f8b",
            },
            annotation={"text": f"{word} limit {limit}"},
            annotation_position="top left" if word == "Thaw" else "bottom left",
        )
    moment = _wall(now, row.tz)
    fig.add_vline(x=moment, line={"dash": "dot", "width": 1.5, "color": "#888888"})
    fig.add_annotation(x=moment, y=1, yref="paper", text="now", showarrow=False, xanchor="left")
    fig.update_layout(
        yaxis={"title": {"text": unit.label}, "zeroline": False},
        xaxis={"tickformat": "%a %-d %b", "range": _span(row)},
        showlegend=False,
    )
    return as_figure(
        fig,
        id="hours",
        title=f"{row.woodlot.name}: air temperature by hour",
        description=(
            f"Hourly air temperature at {row.woodlot.name} with the freeze and the thaw limit "
            "drawn as lines. The table below holds the lows and highs of each day."
        ),
    )


def _trace(row: WoodlotDays, unit_system: str) -> "go.Scatter":
    import plotly.graph_objects as go

    unit = display.unit_for("temperature", unit_system)
    hours = row.hours()
    return go.Scatter(
        x=[_wall(moment, row.tz) for moment, _ in hours],
        y=[None if value is None else round(unit.show(value), 1) for _, value in hours],
        mode="lines",
        name=row.woodlot.name,
        connectgaps=False,
        hovertemplate="%{y} " + unit.label,
    )


def _wall(moment: datetime, tz: ZoneInfo) -> str:
    """Clock time as the woods read it; the chart has no time zones of its own."""
    return moment.astimezone(tz).strftime("%Y-%m-%dT%H:%M")


def _span(row: WoodlotDays) -> list[str]:
    after = row.days[-1].date + timedelta(days=1)
    return [row.days[0].date.isoformat(), after.isoformat()]

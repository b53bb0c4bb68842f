"""First runs of past seasons against the days of tapping."""

from typing import TYPE_CHECKING

from apps.operation.figures import Figure, as_figure
from apps.outlook.plan import same_place
from apps.outlook.queries import StartDate
from apps.outlook.verdict import Verdict

# Plotly is heavy and most pages have no chart: it is imported where a figure is drawn.
if TYPE_CHECKING:
    import plotly.graph_objects as go

# Stand out on the light page and on the dark one alike.
RUN, READY, TAPPING = "#2f86c1", "#c2612b", "#5f8f36"


def first_runs(verdict: Verdict) -> Figure | None:
    """One mark a season, on this season's calendar; None without a first run on record."""
    import plotly.graph_objects as go

    page = verdict.page
    if not page.history:
        return None
    fig = go.Figure([_marks(page), *_ready_line(verdict), *_tapping_bar(verdict)])
    # A category axis, or the seasons would be read as numbers with halves between them.
    fig.update_yaxes(type="category", dtick=1)
    # Level, few and small, or on a phone they would lean into the legend.
    fig.update_xaxes(type="date", tickformat="%-d %b", tickangle=0, nticks=6, tickfont={"size": 12})
    return as_figure(
        fig,
        id="first-runs",
        title=f"First runs on record, on the calendar of season {page.season}",
        description="One mark for each past first run; the table below has the dates.",
    )


def _marks(page: StartDate) -> "go.Scatter":
    import plotly.graph_objects as go

    seasons = sorted(page.history)
    runs = [page.history[season].date for season in seasons]
    return go.Scatter(
        x=[same_place(run, page.season) for run in runs],
        y=[str(season) for season in seasons],
        customdata=[f"{run:%-d %B %Y}" for run in runs],
        hovertemplate="first sap %{customdata}<extra></extra>",
        mode="markers",
        marker={"size": 12, "color": RUN},
        name="First sap gathered",
    )


def _ready_line(verdict: Verdict) -> "list[go.Scatter]":
    """The morning every tap is in, down all seasons and the one at hand."""
    import plotly.graph_objects as go

    page, morning = verdict.page, verdict.ready_morning
    if morning is None:
        return []
    rows = [str(season) for season in (*sorted(page.history), page.season)]
    line = go.Scatter(
        x=[morning] * len(rows),
        y=rows,
        mode="lines",
        line={"width": 3, "dash": "dash", "color": READY},
        hoverinfo="skip",
        name=f"Every tap in, {morning:%-d %b}",
    )
    return [line]


def _tapping_bar(verdict: Verdict) -> "list[go.Scatter]":
    """The days of tapping, in the row of the season at hand."""
    import plotly.graph_objects as go

    if not verdict.days:
        return []
    first, last = verdict.days[0].date, verdict.days[-1].date
    bar = go.Scatter(
        x=[first, last],
        y=[str(verdict.page.season)] * 2,
        # Markers as well, or a plan of a single day would be a line of no length.
        mode="lines+markers",
        line={"width": 10, "color": TAPPING},
        marker={"size": 10, "symbol": "square", "color": TAPPING},
        hoverinfo="skip",
        name=f"Tapping, {first:%-d %b} to {last:%-d %b}",
    )
    return [bar]

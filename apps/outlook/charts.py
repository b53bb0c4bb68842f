"""First runs of past seasons against the days of tapping."""

from apps.operation.figures import Figure, as_figure
from apps.outlook.plan import same_place
from apps.outlook.queries import StartDate


def first_runs(page: StartDate) -> Figure | None:
    """One mark a season, on this season's calendar; None without a first run on record."""
    import plotly.graph_objects as go  # heavy, and most pages have no chart

    if not page.history:
        return None
    seasons = sorted(page.history)
    names = [str(season) for season in seasons]
    runs = [page.history[season].date for season in seasons]
    fig = go.Figure(
        go.Scatter(
            x=[same_place(run, page.season) for run in runs],
            y=names,
            customdata=[f"{run:%-d %B %Y}" for run in runs],
            hovertemplate="first sap %{customdata}<extra></extra>",
            mode="markers",
            marker={"size": 12},
            name="First sap gathered",
        )
    )
    _add_plan(fig, page, names)
    # A category axis, or the seasons would be read as numbers with halves between them.
    fig.update_yaxes(type="category", title="Season")
    fig.update_xaxes(type="date", tickformat="%-d %b", nticks=6)
    return as_figure(
        fig,
        id="first-runs",
        title=f"First runs on record, on the calendar of season {page.season}",
        description="One mark for each past first run; the table below has the dates.",
    )


def _add_plan(fig: "object", page: StartDate, names: list[str]) -> None:
    """The ready morning as a line down the seasons, the days of tapping as a bar along the foot."""
    import plotly.graph_objects as go

    if page.ready is None:
        return
    add = fig.add_trace  # type: ignore[attr-defined]
    add(
        go.Scatter(
            x=[page.ready.morning] * len(names),
            y=names,
            mode="lines+markers",
            marker={"symbol": "line-ns", "size": 1},
            line={"width": 3, "dash": "dash"},
            hoverinfo="skip",
            name=f"Ready morning, {page.ready.morning:%-d %b}",
        )
    )
    back = page.answer.back
    if back and back.calendar:
        days = [day.date for day in back.calendar]
        add(
            go.Scatter(
                x=[days[0], days[-1]],
                y=[names[0], names[0]],
                mode="lines",
                line={"width": 14},
                opacity=0.5,
                hoverinfo="skip",
                name=f"Tapping, {days[0]:%-d %b} to {days[-1]:%-d %b}",
            )
        )

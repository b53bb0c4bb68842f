from apps.operation.figures import Figure, as_figure
from apps.weather.queries.climate import Climate

# Stands out on the light page and on the dark one alike.
BAR = "#2f86c1"


def freeze_thaw_by_week(past: Climate, name: str) -> Figure | None:
    """The share of days that froze and thawed in each week over all winters."""
    if not past.winters:
        return None
    # Imported here: pages without a chart stay light.
    import plotly.graph_objects as go

    weeks = [f"{week.first:%b} {week.first.day}" for week in past.weeks]
    # One label a month: a week each would run into one another on a phone.
    pairs = list(zip(past.weeks, weeks, strict=True))
    months = {f"{week.first:%b}": text for week, text in reversed(pairs)}
    shares = [None if week.share is None else round(100 * week.share) for week in past.weeks]
    fig = go.Figure(
        go.Bar(
            x=weeks,
            y=shares,
            name="Days that froze and thawed",
            marker={"color": BAR},
            customdata=[[week.freeze_thaw_days, week.known_days] for week in past.weeks],
            hovertemplate="%{y} %: %{customdata[0]} of %{customdata[1]} known days",
        )
    )
    fig.update_layout(
        yaxis={"title": {"text": "% of days"}, "range": [0, 100]},
        xaxis={"tickvals": [*months.values()], "ticktext": [*months], "tickangle": 0},
    )
    return as_figure(
        fig,
        id="weeks",
        title=f"{name}: days that froze and thawed, by week over {len(past.winters)} winters",
        description=(
            f"For each week from December to May the share of days at {name} that froze and "
            "thawed in past winters. The table below holds the same numbers."
        ),
    )

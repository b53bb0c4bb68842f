"""First runs of past seasons as a share of the seasons that had run by each date."""

from apps.operation.figures import Figure, as_figure
from apps.outlook.first_runs import PastFirstRuns

# Colours readable on the light page and on the dark one alike.
LOOKS = {
    "Recorded": {"colour": "#2f86c1", "dash": "solid", "symbol": "circle"},
    "Inferred": {"colour": "#c2612b", "dash": "dash", "symbol": "diamond-open"},
}


def share_by_date(past: PastFirstRuns) -> Figure | None:
    """One climbing line a kind, a step a season; None without any date."""
    import plotly.graph_objects as go

    if not past.spreads:
        return None
    fig = go.Figure()
    for name, spread in past.spreads:
        look, count = LOOKS[name], len(spread.placed)
        fig.add_scatter(
            x=list(spread.placed),
            y=[round(100 * place / count) for place in range(1, count + 1)],
            name=f"{name}, {count} season{'s' if count != 1 else ''}",
            mode="lines+markers",
            line={"shape": "hv", "dash": look["dash"], "color": look["colour"]},
            marker={"symbol": look["symbol"], "size": 8},
            hovertemplate="%{y} % by %{x|%-d %b}",
        )
    fig.update_xaxes(type="date", tickformat="%-d %b", nticks=7)
    fig.update_yaxes(range=[-3, 103], ticksuffix=" %")
    return as_figure(
        fig,
        id="first-run-shares",
        title=f"{past.woodlot.name}: share of past seasons that had run by each date",
        description=(
            "A climbing line of the share of past seasons whose first run had come by each date, "
            "one for recorded dates and one for those inferred from weather. The tables below "
            "hold the dates."
        ),
    )

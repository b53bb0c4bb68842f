"""The season's end in two pictures: nights that may still freeze, and how the sugar goes."""

from collections.abc import Sequence
from datetime import date

from apps.operation.figures import Figure, as_figure
from apps.outlook.season_end import WoodlotEnd, by_day_chances

# Middling tones, readable on the light page and on the dark one alike.
COLOURS = ("#2f86c1", "#c2612b", "#5f8f36", "#9a6bb5", "#a8862a", "#7f8694")
DASHES = ("solid", "dash", "dot", "dashdot", "longdash")
SYMBOLS = ("circle", "diamond", "square", "triangle-up", "x")


def freeze_nights(dates: Sequence[date], rows: Sequence[WoodlotEnd]) -> Figure | None:
    """The chance of a freeze on each day ahead, a line a woodlot; None where none is stated."""
    import plotly.graph_objects as go

    by_name = by_day_chances(rows)
    if not by_name:
        return None
    fig = go.Figure()
    for place, (name, chances) in enumerate(by_name.items()):
        fig.add_scatter(
            x=list(dates),
            y=[None if chance is None else round(100 * chance) for chance in chances],
            name=name,
            mode="lines+markers",
            line={
                "color": COLOURS[place % len(COLOURS)],
                "dash": DASHES[place % len(DASHES)],
            },
            marker={"symbol": SYMBOLS[place % len(SYMBOLS)], "size": 8},
        )
    fig.update_xaxes(type="date", tickformat="%-d %b")
    fig.update_yaxes(range=[-3, 103], ticksuffix=" %")
    return as_figure(
        fig,
        id="freeze-nights",
        title="Members that freeze, night by night",
        description=(
            "Lines of the share of forecast members that freeze on each day ahead, one line a "
            "woodlot. The table below holds the same numbers."
        ),
    )


def sugar(rows: Sequence[WoodlotEnd]) -> Figure | None:
    """Marks of each day's sugar, with the line through them where there are days enough."""
    import plotly.graph_objects as go

    fig = go.Figure()
    shown = [row for row in rows if row.sugar]
    for place, row in enumerate(shown):
        colour = COLOURS[place % len(COLOURS)]
        days = [day.date for day in row.sugar]
        fig.add_scatter(
            x=days,
            y=[round(day.brix, 2) for day in row.sugar],
            name=row.woodlot.name,
            mode="markers",
            marker={"symbol": SYMBOLS[place % len(SYMBOLS)], "size": 9, "color": colour},
        )
        if row.trend is not None:
            fig.add_scatter(
                x=[days[0], days[-1]],
                y=_ends(row),
                mode="lines",
                line={"color": colour, "dash": DASHES[place % len(DASHES)]},
                showlegend=False,
                hoverinfo="skip",
            )
    if not shown:
        return None
    fig.update_xaxes(type="date", tickformat="%-d %b")
    fig.update_yaxes(title="Brix")
    return as_figure(
        fig,
        id="sugar-trend",
        title="Sugar of the sap, day by day",
        description=(
            "Marks of each day's mean sugar by woodlot, with a straight line through them. The "
            "table below holds the slopes."
        ),
    )


def _ends(row: WoodlotEnd) -> list[float]:
    """Where the line stands on the first and the last day; it passes through the means."""
    assert row.trend is not None  # noqa: S101 - asked for only where there is one
    numbers = [day.date.toordinal() for day in row.sugar]
    middle, mean = sum(numbers) / len(numbers), sum(day.brix for day in row.sugar) / len(numbers)
    return [round(mean + row.trend.slope * (at - middle), 3) for at in (numbers[0], numbers[-1])]

"""The season's pictures; each stands over the table it is drawn from."""

from collections.abc import Sequence
from decimal import Decimal

from apps.operation.figures import COLOURS, Figure, as_figure
from apps.season.queries import SeasonYield, Timeline

# In print and for the colour-blind a line needs more than its colour.
DASHES = ("solid", "dash", "dot", "dashdot")


def syrup_per_tap(review: SeasonYield) -> Figure | None:
    return _bars(
        # A lower bound draws no bar: beside whole figures it would look like a poor woodlot.
        [
            (row.name, None if row.unread_kept else row.equivalent_per_tap)
            for row in review.woodlots
        ],
        COLOURS[1],
        f"{review.unit} of syrup per tap",
        id="syrup-per-tap",
        title="Syrup-equivalent per tap, by woodlot",
    )


def sap_per_tap(review: SeasonYield) -> Figure | None:
    return _bars(
        [(row.name, row.sap_per_tap) for row in review.woodlots],
        COLOURS[0],
        f"{review.unit} of sap per tap",
        id="sap-per-tap",
        title="Sap per tap, by woodlot",
    )


def sap_through_the_season(timeline: Timeline) -> Figure | None:
    # Slow to import, and only pages with a picture should wait for it.
    import plotly.graph_objects as go

    if not timeline.days:
        return None
    figure = go.Figure()
    for season, dash in zip(timeline.seasons, DASHES, strict=False):
        figure.add_scatter(
            x=[day.isoformat() for day in timeline.days],
            # A gap where the season has not come yet: a zero would look like a stop.
            y=[_plain(amount) for amount in timeline.amounts[season]],
            name=str(season),
            mode="lines+markers",
            line={"dash": dash, "width": 3 if season == timeline.seasons[0] else 2},
        )
    figure.update_xaxes(tickformat="%-d %b")
    figure.update_yaxes(
        title=f"{timeline.unit} of sap, added up", rangemode="tozero", automargin=True
    )
    return as_figure(
        figure,
        id="sap-through-the-season",
        title="Sap in, added up through the season",
        description="Lines of sap in, added up week by week, one line a season; table below.",
    )


def _bars(
    amounts: Sequence[tuple[str, Decimal | None]], colour: str, unit: str, *, id: str, title: str
) -> Figure | None:
    """Bars lying down, so that names read level on a phone; an unknown figure has no bar."""
    import plotly.graph_objects as go

    # Bars are drawn from the bottom up, the table from the top down.
    known = [(name, amount) for name, amount in reversed(amounts) if amount is not None]
    if not known:
        return None
    names, values = zip(*known, strict=True)
    figure = go.Figure(
        go.Bar(
            x=[float(value) for value in values],
            y=names,
            orientation="h",
            marker={"color": colour},
            text=[str(value) for value in values],
            textposition="auto",
            hovertemplate="%{y}: %{text}<extra></extra>",
        )
    )
    figure.update_xaxes(title=unit, rangemode="tozero")
    figure.update_yaxes(automargin=True)
    said = "; ".join(f"{name} {value}" for name, value in reversed(known))
    return as_figure(figure, id=id, title=title, description=f"{unit}: {said}.")


def _plain(amount: Decimal | None) -> float | None:
    return None if amount is None else float(amount)

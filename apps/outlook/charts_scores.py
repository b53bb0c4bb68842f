"""How good the forecast was, in three pictures; each stands over the table it is drawn from."""

from collections.abc import Sequence

from apps.domain.sap_run.scoring import Tenth
from apps.operation import display
from apps.operation.figures import Figure, as_figure
from apps.outlook.scoring import LeadScore, Pair

# Readable on the light page and on the dark one alike.
BLUE, ORANGE, GREY = "#2f86c1", "#c2612b", "#888888"


def misses_by_lead(leads: Sequence[LeadScore], unit_system: str) -> Figure | None:
    """Bars of how far off, marks of which way, by days ahead; None before there is anything."""
    import plotly.graph_objects as go

    known = [row for row in leads if row.low.absolute_c is not None]
    if not known:
        return None
    unit = display.unit_for("temperature_difference", unit_system)
    fig = go.Figure()
    for name, colour, symbol in (("low", BLUE, "circle"), ("high", ORANGE, "diamond")):
        rows = [(row.lead_days, getattr(row, name)) for row in known]
        leads_shown = [lead for lead, _ in rows]
        fig.add_bar(
            x=leads_shown,
            y=[_shown(miss.absolute_c, unit_system) for _, miss in rows],
            name=f"{name}: how far off",
            marker={"color": colour},
        )
        fig.add_scatter(
            x=leads_shown,
            y=[_shown(miss.bias_c, unit_system) for _, miss in rows],
            name=f"{name}: too warm (+) or too cold (-)",
            # Marks alone: a line would be lost on the bars of its own colour.
            mode="markers",
            marker={
                "symbol": symbol,
                "size": 10,
                "color": colour,
                "line": {"width": 2, "color": "#ffffff"},
            },
        )
    fig.update_xaxes(dtick=1)
    fig.update_yaxes(title=unit.label, zeroline=True)
    return as_figure(
        fig,
        id="misses",
        title="How far off the low and the high were, by days ahead",
        description=(
            "Bars of the mean miss of each day's low and high by how many days ahead it was "
            "forecast, with marks for too warm or too cold. The table below holds the numbers."
        ),
    )


def reliability_picture(tenths: Sequence[Tenth]) -> Figure:
    """Said against came: on the line the chances meant what they said, inside the band by luck."""
    import plotly.graph_objects as go

    seen = [row for row in tenths if row.count]
    stated = [_percent(row.stated) for row in seen]
    fig = go.Figure()
    fig.add_scatter(
        x=[0, 100], y=[0, 100], mode="lines", name="Said as it came",
        line={"color": GREY, "dash": "dash"}, hoverinfo="skip",
    )  # fmt: skip
    fig.add_scatter(
        x=stated,
        y=[_percent(row.came) for row in seen],
        mode="lines+markers",
        name="What came",
        marker={"size": 11, "color": BLUE},
        line={"color": BLUE},
        customdata=[row.count for row in seen],
        hovertemplate="said %{x:.0f} %, came %{y:.0f} % of %{customdata} days",
        error_y=_band(seen),
    )
    fig.update_xaxes(range=[-3, 103], ticksuffix=" %")
    fig.update_yaxes(range=[-3, 103], ticksuffix=" %")
    return as_figure(
        fig,
        id="reliability",
        title="The chance said (across) and the share of days it came (up)",
        description=(
            "For each tenth of stated chance, the share of days that froze and thawed, with the "
            "span luck alone explains. The table below holds the same numbers."
        ),
    )


def stated_and_came(pairs: Sequence[Pair], lead_days: int, unit_system: str) -> Figure | None:
    """The low and the high of each day as forecast so many days before and as they came."""
    import plotly.graph_objects as go

    if not pairs:
        return None
    unit = display.unit_for("temperature", unit_system)
    fig = go.Figure()
    for name, colour in (("minimum", BLUE), ("maximum", ORANGE)):
        word = "low" if name == "minimum" else "high"
        fig.add_scatter(**_line(pairs, f"{name}_c", f"{word}, came", unit, colour))
        fig.add_scatter(**_marks(pairs, f"stated_{name}_c", f"{word}, said", unit, colour))
    fig.update_xaxes(type="date", tickformat="%-d %b")
    fig.update_yaxes(title=unit.label, zeroline=False)
    days = f"{lead_days} day{'s' if lead_days != 1 else ''}"
    return as_figure(
        fig,
        id="said-and-came",
        title=f"Said {days} before, and what came",
        description=(
            f"Lines of each day's low and high, with open marks of what was forecast {days} "
            "before. The table below holds the same numbers."
        ),
    )


def _line(
    pairs: Sequence[Pair], field: str, name: str, unit: display.Unit, colour: str
) -> dict[str, object]:
    return {
        "x": [pair.date for pair in pairs],
        "y": [_in(unit, getattr(pair, field)) for pair in pairs],
        "name": name,
        "mode": "lines+markers",
        "line": {"color": colour},
        "marker": {"size": 5},
    }


def _marks(
    pairs: Sequence[Pair], field: str, name: str, unit: display.Unit, colour: str
) -> dict[str, object]:
    marks = _line(pairs, field, name, unit, colour)
    return marks | {
        "mode": "markers",
        "marker": {"size": 9, "symbol": "circle-open", "color": colour, "line": {"width": 2}},
    }


def _band(seen: Sequence[Tenth]) -> dict[str, object]:
    """From what came to the ends of where luck alone would leave it."""
    shares = [(row.came or 0.0, row.band_low or 0.0, row.band_high or 0.0) for row in seen]
    return {
        "type": "data",
        "symmetric": False,
        "array": [100 * max(0.0, high - came) for came, _, high in shares],
        "arrayminus": [100 * max(0.0, came - low) for came, low, _ in shares],
        "color": GREY,
    }


def _in(unit: display.Unit, value_c: float | None) -> float | None:
    return None if value_c is None else round(float(unit.show(value_c)), 1)


def _percent(share: float | None) -> float | None:
    return None if share is None else round(100 * share, 1)


def _shown(value_c: float | None, unit_system: str) -> float | None:
    return _in(display.unit_for("temperature_difference", unit_system), value_c)

"""How good the forecast was, in three pictures; each stands over the table it is drawn from."""

from collections.abc import Sequence
from datetime import date, timedelta

from apps.operation import display
from apps.operation.figures import Figure, as_figure
from apps.outlook.scoring import LeadScore, Miss, Pair, Span
from apps.outlook.scoring_tenths import SaidTenth

DAY, A_SEASON = timedelta(days=1), timedelta(days=183)
BAR_WIDTH = 0.4

# Readable on the light page and on the dark one alike.
BLUE, ORANGE, GREY = "#2f86c1", "#c2612b", "#888888"


def misses_by_lead(leads: Sequence[LeadScore], unit_system: str) -> Figure | None:
    """Bars of how far off, marks of which way, by days ahead; None before there is anything."""
    import plotly.graph_objects as go

    # A lead that knows only one of the two would look like a miss of nought in the other.
    known = [row for row in leads if None not in (row.low.absolute_c, row.high.absolute_c)]
    if not known:
        return None
    unit = display.unit_for("temperature_difference", unit_system)
    shown = [row.lead_days for row in known]
    fig = go.Figure()
    for name, colour, symbol, side in (("low", BLUE, "circle", -1), ("high", ORANGE, "diamond", 1)):
        misses = [getattr(row, name) for row in known]
        # Each pair of bars leaves a gap to the next; a mark stands on its own bar.
        centres = [lead + side * BAR_WIDTH / 2 for lead in shown]
        fig.add_bar(**_bars(name, colour, centres, misses, unit_system))
        fig.add_scatter(**_ways(name, colour, symbol, centres, misses, unit_system))
    fig.update_xaxes(dtick=1)
    fig.update_yaxes(title=unit.label, zeroline=True)
    return as_figure(
        fig,
        id="misses",
        title="How far off the low and the high were, by days ahead",
        description=(
            "Bars of the mean miss of each day's low and high by how many days ahead it was "
            "forecast, each with its span, and marks for too warm or too cold. The table below "
            "holds the numbers."
        ),
    )


def _bars(
    name: str, colour: str, centres: list[float], misses: Sequence[Miss], unit_system: str
) -> dict[str, object]:
    # Without a span there is no line: none is better than one that promises to be exact.
    ends = [_ends(miss.absolute_c, miss.absolute_span_c) for miss in misses]
    return {
        "x": centres,
        "width": BAR_WIDTH,
        "hovertemplate": "%{y}",
        "y": [_shown(miss.absolute_c, unit_system) for miss in misses],
        "name": f"{name}: how far off",
        "marker": {"color": colour},
        "error_y": {
            "type": "data",
            "symmetric": False,
            "array": [_shown(up, unit_system) for up, _ in ends],
            "arrayminus": [_shown(down, unit_system) for _, down in ends],
            "color": GREY,
            "thickness": 2,
            "width": 3,
        },
    }


def _ends(value: float | None, span: Span | None) -> tuple[float | None, float | None]:
    """How far the span reaches over and under the value."""
    if value is None or span is None:
        return None, None
    return max(0.0, span.high - value), max(0.0, value - span.low)


def _ways(
    name: str,
    colour: str,
    symbol: str,
    centres: list[float],
    misses: Sequence[Miss],
    unit_system: str,
) -> dict[str, object]:
    """Marks alone: a line would be lost on the bars of its own colour."""
    return {
        "x": centres,
        "hovertemplate": "%{y}",
        "y": [_shown(miss.bias_c, unit_system) for miss in misses],
        "name": f"{name}: too warm (+) or too cold (-)",
        "mode": "markers",
        "marker": {
            "symbol": symbol,
            "size": 10,
            "color": colour,
            "line": {"width": 2, "color": "#ffffff"},
        },
    }


def reliability_picture(tenths: Sequence[SaidTenth]) -> Figure:
    """Said against came: on the line the chances meant what they said, on the grey by luck."""
    import plotly.graph_objects as go

    seen = [row for row in tenths if row.count]
    fig = go.Figure()
    fig.add_scatter(
        x=[0, 100], y=[0, 100], mode="lines", name="Came as often as said",
        line={"color": GREY, "dash": "dash"}, hoverinfo="skip",
    )  # fmt: skip
    fig.add_bar(**_luck(seen))
    fig.add_scatter(**_points(seen))
    # A little room at the ends: a mark at 0 or 100 % would be cut in half.
    fig.update_xaxes(range=[-3, 103], ticksuffix=" %", dtick=20)
    fig.update_yaxes(range=[-3, 103], ticksuffix=" %")
    return as_figure(
        fig,
        id="reliability",
        title="The chance said (across) and the share of days it came (up)",
        description=(
            "For each tenth of stated chance, the share of days that froze and thawed with its "
            "span, over a grey bar of what luck alone explains. The table below holds the same "
            "numbers."
        ),
    )


def _luck(seen: Sequence[SaidTenth]) -> dict[str, object]:
    """A grey bar from the lowest to the highest share that luck alone explains."""
    ends = [(row.band_low or 0.0, row.band_high or 0.0) for row in seen]
    return {
        "x": [_percent(row.stated) for row in seen],
        "base": [_percent(low) for low, _ in ends],
        "y": [_percent(high - low) for low, high in ends],
        "width": 4,
        "name": "luck alone",
        "marker": {"color": GREY},
        "opacity": 0.45,
        "hoverinfo": "skip",
    }


def _points(seen: Sequence[SaidTenth]) -> dict[str, object]:
    ends = [_ends(row.came, row.span) for row in seen]
    return {
        "x": [_percent(row.stated) for row in seen],
        "y": [_percent(row.came) for row in seen],
        "mode": "markers",
        "name": "what came, with its span",
        "marker": {"size": 11, "color": BLUE},
        "customdata": [row.days for row in seen],
        "hovertemplate": "said %{x:.0f} %, came %{y:.0f} % over %{customdata} different days",
        "error_y": {
            "type": "data",
            "symmetric": False,
            "array": [_percent(up) for up, _ in ends],
            "arrayminus": [_percent(down) for _, down in ends],
            "color": BLUE,
            "thickness": 2,
        },
    }


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
    # "5 Mar" twice on one axis would be two springs that look like one.
    years = pairs[-1].date - pairs[0].date > A_SEASON
    fig.update_xaxes(type="date", tickformat="%b %Y" if years else "%-d %b")
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
    days = _with_gaps(pairs)
    return {
        "x": [day for day, _ in days],
        "y": [None if pair is None else _in(unit, getattr(pair, field)) for _, pair in days],
        "name": name,
        "mode": "lines+markers",
        "line": {"color": colour},
        "marker": {"size": 5},
    }


def _with_gaps(pairs: Sequence[Pair]) -> list[tuple[date, Pair | None]]:
    """Each day with its pair, and none the day after where the next is not the following day.

    A line drawn over the days between would claim to know them: older forecasts are kept weekly.
    """
    days: list[tuple[date, Pair | None]] = []
    for pair in pairs:
        if days and pair.date - days[-1][0] > DAY:
            days.append((days[-1][0] + DAY, None))
        days.append((pair.date, pair))
    return days


def _marks(
    pairs: Sequence[Pair], field: str, name: str, unit: display.Unit, colour: str
) -> dict[str, object]:
    marks = _line(pairs, field, name, unit, colour)
    return marks | {
        "mode": "markers",
        "marker": {"size": 9, "symbol": "circle-open", "color": colour, "line": {"width": 2}},
    }


def _in(unit: display.Unit, value_c: float | None) -> float | None:
    return None if value_c is None else round(float(unit.show(value_c)), 1)


def _percent(share: float | None) -> float | None:
    return None if share is None else round(100 * share, 1)


def _shown(value_c: float | None, unit_system: str) -> float | None:
    return _in(display.unit_for("temperature_difference", unit_system), value_c)

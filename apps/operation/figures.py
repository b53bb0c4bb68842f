"""What every chart shares: one plotly template of our own and the shape a page includes.

Plotly is imported inside the functions that need it, so that pages without a chart stay light.
"""

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import plotly.graph_objects as go

# Told apart by a colour-blind reader and in print; every trace carries its name as well.
COLOURS = ("#1f5f8b", "#b3541e", "#4f772d", "#7b4b94", "#8a6d1d", "#3d405b")


@dataclass(frozen=True)
class Figure:
    """A chart ready for the page: the specification, a title, words for a screen reader."""

    id: str
    title: str
    description: str
    spec: dict[str, Any]

    @property
    def spec_id(self) -> str:
        return f"{self.id}-spec"


def _layout() -> dict[str, Any]:
    return {
        # Our own look on paper and in the dark: plotly's template paints a background.
        "template": "none",
        "colorway": list(COLOURS),
        "font": {"family": "system-ui, sans-serif", "size": 14},
        "paper_bgcolor": "rgba(0,0,0,0)",
        "plot_bgcolor": "rgba(0,0,0,0)",
        # Narrow, as a phone has 390 px to draw in.
        "margin": {"l": 56, "r": 12, "t": 12, "b": 48},
        # Under the picture: beside it, it would take half of a phone's width.
        "legend": {"orientation": "h", "y": -0.2},
        "hovermode": "x unified",
    }


def as_figure(fig: "go.Figure", *, id: str, title: str, description: str) -> Figure:
    fig.update_layout(**_layout())
    # Through plotly's own JSON, which knows dates and numpy numbers as the standard one does not.
    return Figure(id=id, title=title, description=description, spec=json.loads(fig.to_json()))

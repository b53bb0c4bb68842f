// Draw every figure of the page in the page's own colours, and again when they change.
"use strict";

function pageColour(name) {
  return getComputedStyle(document.documentElement).getPropertyValue(name).trim();
}

function drawFigures() {
  const ink = pageColour("--ink");
  const line = pageColour("--line");
  for (const plot of document.querySelectorAll(".plot")) {
    const spec = JSON.parse(document.getElementById(`${plot.id}-spec`).textContent);
    const layout = structuredClone(spec.layout);
    layout.font = { ...layout.font, color: ink };
    for (const key of Object.keys(layout)) {
      if (/^[xy]axis\d*$/.test(key)) {
        layout[key] = { gridcolor: line, linecolor: line, zerolinecolor: line, ...layout[key] };
      }
    }
    Plotly.react(plot, spec.data, layout, {
      responsive: true,
      displaylogo: false,
      displayModeBar: false,
    });
  }
}

drawFigures();
window.matchMedia("(prefers-color-scheme: dark)").addEventListener("change", drawFigures);
document.addEventListener("htmx:afterSettle", drawFigures);

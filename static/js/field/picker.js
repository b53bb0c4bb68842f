// Choosing a line: the next three of the walk, our own number pad within a woodlot, the whole
// list, or the nearest. One line is chosen at a time, and the page always says which.

import { onPosition } from "./place.js";
import { state } from "./state.js";
import { button, choices, freshId, h, notice, pad, radio, say } from "./ui.js";
import { daysAgo, labelOf, plural } from "./words.js";
import { linesByDistance, linesByNumber } from "./woods.js";

const NEXT_LINES = 3;
const CANDIDATES = 2;
const NEAREST = 12;
const LOT_KEY = "thawline.woodlot";
const FEET_A_METRE = 3.2808;

/** What is known of a line, in one breath. */
export function lineFacts(line) {
  if (line.takenBack) return "your check is taken back";
  const seen = line.state ? labelOf(state.data.states, line.state) : "";
  // A frozen look is newer than the walk it is told with: never "Frozen, 3 days ago".
  const walked = line.state === "frozen" ? `walked ${daysAgo(line.days)}` : daysAgo(line.days);
  return [line.taps === null ? "taps not counted" : plural(line.taps, "tap"), seen, walked]
    .filter(Boolean)
    .join(" · ");
}

const rowText = (line, withLot) => [
  h("strong", {}, line.label),
  withLot ? ` ${line.woodlot}` : "",
  h("small", {}, lineFacts(line)),
];

/** The same where three lines stand side by side. */
const briefly = (line, withLot) => [
  h("strong", {}, line.label),
  withLot && h("small", {}, line.woodlot),
  h(
    "small",
    {},
    [line.taps !== null && plural(line.taps, "tap"), line.days !== null && `${line.days} d`]
      .filter(Boolean)
      .join(" · "),
  ),
];

export function distanceWords(metres) {
  const feet = state.data.units.depth.unit.startsWith("in");
  const rounded = Math.round((feet ? metres * FEET_A_METRE : metres) / 10) * 10;
  return `${rounded} ${feet ? "ft" : "m"}`;
}

const kept = () => {
  try {
    return localStorage.getItem(LOT_KEY);
  } catch {
    return null;
  }
};
const keep = (lot) => {
  try {
    localStorage.setItem(LOT_KEY, lot);
  } catch {
    // A phone that keeps nothing here asks for the woodlot again: no record hangs on it.
  }
};

/** lines: as they stand; chosen: an identifier or null; onpick(line) on every change. */
export function picker({ lines, chosen = null, legend = "1. Line", onpick }) {
  const name = freshId("line");
  const several = state.data.woodlots.length > 1;
  let line = lines.find(({ id }) => id === chosen) ?? null;
  let lot = Number(kept() ?? (lines.find((it) => !it.done) ?? lines[0])?.lot ?? 0);
  if (!state.data.woodlots[lot]) lot = 0;
  const body = h("div", { class: "pick-body" });
  const node = h("fieldset", { class: "step" }, h("legend", {}, legend), body);

  function choose(next, { fold = false } = {}) {
    line = next;
    // Rows drawn elsewhere on the page share the group: the browser lets go of the other one.
    if (fold) showChosen();
    if (line) say(`${line.label} in ${line.woodlot}`);
    onpick?.(line);
  }

  const rows = (list, { withLot = several, fold = false, kind = "row", text = rowText } = {}) =>
    list.map((it) =>
      radio(name, it.id, text(it, withLot), {
        checked: it.id === line?.id,
        kind,
        onpick: () => choose(it, { fold }),
      }),
    );

  function showChosen() {
    const other = button("Another line", () => {
      choose(null);
      showWays();
      body.querySelector("input, button").focus();
    });
    body.replaceChildren(h("div", { class: "chosen" }, h("p", {}, rowText(line, true)), other));
  }

  function numberPanel() {
    const found = h("div", { class: "found" });
    const own = lines.filter((it) => it.lot === lot);
    const parted = own.some((it) => /\d\D+\d/.test(it.label));
    const keys = pad("Line number", {
      mark: parted ? "-" : null,
      markName: "Dash",
      beside: found,
      onchange: (typed) => {
        const { exact, others } = linesByNumber(own, typed);
        // One line with that very number is meant; the press after it may still change it.
        line = exact.length === 1 ? exact[0] : null;
        const list = [...exact, ...others].slice(0, CANDIDATES);
        found.replaceChildren(...rows(list, { withLot: false, kind: "candidate", text: briefly }));
        if (typed && !list.length) found.append(h("p", {}, "No such line here."));
        choose(line);
      },
    });
    return keys.node;
  }

  function listPanel() {
    const own = lines.filter((it) => it.lot === lot);
    return h("div", { class: "rows" }, rows(own, { withLot: false, fold: true }));
  }

  function nearPanel() {
    const panel = h("div", { class: "rows" }, h("p", {}, "Looking for your position…"));
    onPosition((fix, why) => {
      if (!fix) return panel.replaceChildren(notice("warning", why));
      const near = linesByDistance(lines, fix).slice(0, NEAREST);
      if (!near.length) {
        const none =
          "No line was checked with a position yet, so none can be called near. Use the number.";
        return panel.replaceChildren(notice("warning", none));
      }
      const far = new Map(near.map((it) => [it.line.id, distanceWords(it.metres)]));
      const text = (it) => [
        h("strong", {}, it.label),
        ` ${it.woodlot}`,
        h("small", {}, `${far.get(it.id)} away · ${lineFacts(it)}`),
      ];
      panel.replaceChildren(
        h(
          "p",
          { class: "soft" },
          `Your position is good to ${distanceWords(fix.accuracy)}; distances are to where ` +
            "each line was last checked.",
        ),
        ...rows(
          near.map((it) => it.line),
          { fold: true, text },
        ),
      );
    });
    return panel;
  }

  const PANELS = { number: numberPanel, list: listPanel, near: nearPanel };

  function showWays() {
    let way = "number";
    const panel = h("div", { class: "panel" });
    const draw = () => panel.replaceChildren(PANELS[way]());
    const ways = choices(
      "Find it by",
      freshId("way"),
      [
        ["number", "Number"],
        ["list", "List"],
        ["near", "Near"],
      ],
      {
        chosen: way,
        kind: "segments",
        onpick: (picked) => {
          way = picked;
          draw();
        },
      },
    );
    const woodlots = h(
      "select",
      {
        "aria-label": "Woodlot",
        onchange: (event) => {
          lot = Number(event.target.value);
          keep(lot);
          draw();
        },
      },
      state.data.woodlots.map(([, text], index) => h("option", { value: String(index) }, text)),
    );
    woodlots.value = String(lot);
    const next = lines.filter((it) => !it.done).slice(0, NEXT_LINES);
    draw();
    body.replaceChildren(
      h("div", { class: "next-lines" }, rows(next, { kind: "candidate", text: briefly })),
      h("div", { class: "ways" }, several && woodlots, ways.node),
      panel,
    );
  }

  if (line) showChosen();
  else showWays();
  return {
    node,
    line: () => line,
    /** Choose a line from outside, the next of the walk for one. */
    take: (next) => choose(next, { fold: true }),
  };
}

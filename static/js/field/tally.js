// Counting taps along a line with thick gloves: set in the tapping season, pulled at its end.
// The count is kept on the phone with every touch, for a phone goes flat in the middle of a line.

import { now } from "./clock.js";
import { picker } from "./picker.js";
import { lines } from "./state.js";
import { recordForm, said, savedCard, showSaved } from "./form.js";
import { button, freshId, h, notice, say, stepper, tick } from "./ui.js";
import { DAY, plural } from "./words.js";

const STEPS = [1, 5, 10];
const MOST_TAPS = 20_000;

const KINDS = {
  tally: {
    key: "thawline.tally",
    title: "Taps set",
    verb: "set",
    finishes: "This finishes the line's tapping",
  },
  pull: {
    key: "thawline.pull",
    title: "Taps pulled",
    verb: "pulled",
    finishes: "Every tap of this line is out",
  },
};

/** A count that was left unsaved, unless it is from another day's walk. */
function draftOf(key) {
  try {
    const draft = JSON.parse(localStorage.getItem(key));
    return draft && now().at - draft.at < DAY ? draft : null;
  } catch {
    return null;
  }
}

function keepDraft(key, draft) {
  try {
    if (draft) localStorage.setItem(key, JSON.stringify(draft));
    else localStorage.removeItem(key);
  } catch {
    // Without it the count lives as long as the page does.
  }
}

/** Touches that add up, each of which can be taken off again, the last one first. */
function counter(label, { touches, onchange }) {
  const shown = h("output", { class: "count" });
  const total = () => touches.reduce((sum, by) => sum + by, 0);
  const show = () => {
    shown.textContent = String(total());
    undo.disabled = touches.length === 0;
    undo.textContent = touches.length ? `Undo the last +${touches.at(-1)}` : "Undo the last";
  };
  const change = () => {
    show();
    onchange([...touches]);
    say(`${label}: ${total()}`);
  };
  const add = (by) => {
    if (total() + by > MOST_TAPS) return;
    touches.push(by);
    change();
  };
  const undo = button("Undo the last", () => {
    touches.pop();
    change();
    // A button that has nothing left to do loses the focus with its use.
    if (!touches.length) node.querySelector(".add").focus();
  });
  const node = h(
    "div",
    { class: "counter", role: "group", "aria-label": label },
    shown,
    h(
      "div",
      { class: "adds" },
      STEPS.map((by) => button(`+${by}`, () => add(by), "add", { "aria-label": `${by} more` })),
    ),
    undo,
  );
  show();
  return { node, total };
}

function countView(main, kind, query) {
  const { key, title, verb, finishes } = KINDS[kind];
  const above = h("div", {});
  const below = h("div", {});

  function draw(draft) {
    const kept = { line: draft?.line ?? null, touches: draft?.touches ?? [], at: now().at };
    const keep = () => keepDraft(key, kept.touches.length ? { ...kept, at: now().at } : null);
    const lineStep = picker({
      lines: lines(),
      chosen: kept.line,
      onpick: (line) => {
        kept.line = line?.id ?? null;
        keep();
        form?.label();
      },
    });
    const count = counter(title, {
      touches: [...kept.touches],
      onchange: (touches) => {
        kept.touches = touches;
        keep();
        form.label();
      },
    });
    const renewed = stepper("Drops renewed", { step: 1, big: 10, start: () => 1, high: MOST_TAPS });
    const done = tick(finishes);
    const noteId = freshId("note");
    const note = h("input", { id: noteId, type: "text", maxlength: "200", autocomplete: "off" });
    const read = () => {
      const line = lineStep.line();
      const drops = kind === "tally" ? renewed.value() : null;
      if (!line) return { problem: "Touch a line first.", at: lineStep.node };
      if (!count.total() && !drops && !done.value()) {
        return { problem: "Nothing is counted yet.", at: count.node };
      }
      const record = { kind, line: line.id, taps: count.total(), drops, note: note.value.trim() };
      return { record: said({ ...record, finishes: done.value() || null }) };
    };
    const form = recordForm({
      parts: [
        lineStep.node,
        h("fieldset", { class: "step" }, h("legend", {}, `2. ${title}`), count.node),
        ...(kind === "tally" ? [renewed.node] : []),
        done.node,
        h("label", { htmlFor: noteId }, "Note"),
        note,
      ],
      saveText: () => {
        const line = lineStep.line();
        return line ? `3. Save ${line.label}: ${plural(count.total(), "tap")} ${verb}` : "3. Save";
      },
      read,
      saved: (uuid, record) => {
        keepDraft(key, null);
        draw(null);
        showSaved(above, savedCard({ uuid, record }));
      },
    });
    below.replaceChildren(form.node);
  }

  const draft = draftOf(key);
  if (draft) above.append(notice("warning", "A count that was not saved yet is still here."));
  main.append(above, below);
  draw(draft ?? { line: Number(query.get("line")) || null });
}

export const tallyView = (main, { query }) => countView(main, "tally", query);
export const pullView = (main, { query }) => countView(main, "pull", query);

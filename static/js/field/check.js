// A leak check: line, state, save. Everything else is folded away below and never asked for.

import { now } from "./clock.js";
import { save } from "./outbox.js";
import { picker } from "./picker.js";
import { photoPart, positionPart } from "./place.js";
import { clockBehindMs, lines, listen, state } from "./state.js";
import { recordForm, said, savedCard, showSaved } from "./form.js";
import { valveTest } from "./timer.js";
import { button, choices, fold, freshId, h, notice, say, stepper } from "./ui.js";
import { clockTime, dayNumber, labelOf } from "./words.js";
import { lineOfTag } from "./woods.js";

const BIG_STEPS = 10;
const MOST_PARTS = 500;
const LEAKS = ["leak_fixed", "leak_left"];

/** A vacuum reading that steps by half inches from what the pump usually holds. */
export function vacuumStepper(label, start) {
  const unit = state.data.units.vacuum;
  const usual = () => Math.round((state.data.usual_kpa * unit.per_si) / unit.step) * unit.step;
  const part = stepper(label, {
    unit: unit.unit,
    step: unit.step,
    big: unit.step * BIG_STEPS,
    places: unit.places,
    high: Math.floor(unit.high_si * unit.per_si),
    start: () => start?.() ?? usual(),
  });
  const kpa = () => (part.value() === null ? null : part.value() / unit.per_si);
  return { ...part, kpa };
}

export function dropsStepper(label) {
  return stepper(label, { step: 1, big: 10, start: () => 1, high: state.data.drops_most });
}

/** What others logged on a line today, beside what is about to be logged. */
export function othersToday(line) {
  const { zone } = state.data;
  // Their times are the server's, so that today must be the server's day as well.
  const day = dayNumber(now().at + clockBehindMs(), zone);
  const today = (state.sameDay.get(line?.id) ?? []).filter((it) => dayNumber(it.at, zone) === day);
  return today.map(
    (it) =>
      `${it.who} logged ${line.label} today ${clockTime(it.at, zone)}: ` +
      `${labelOf(state.data.states, it.state).toLowerCase()}.`,
  );
}

/** The same after saving, when the server's answer brings what others logged. */
function besideLive(line) {
  const node = h("div", { role: "status" });
  const draw = () => node.replaceChildren(...othersToday(line).map((text) => h("p", {}, text)));
  listen(() => node.isConnected && draw());
  draw();
  return node;
}

function partsUsed() {
  const counts = state.data.parts.map(([code, label]) => [
    code,
    stepper(label, { step: 1, big: 5, start: () => 1, high: MOST_PARTS }),
  ]);
  return {
    nodes: counts.map(([, part]) => part.node),
    value: () => {
      const used = counts.map(([code, part]) => [code, part.value()]).filter(([, count]) => count);
      return used.length ? Object.fromEntries(used) : undefined;
    },
  };
}

/** Everything optional, each part behind one touch. */
function optional() {
  const before = vacuumStepper("Reading before");
  const after = vacuumStepper("Reading after", before.value);
  const cause = choices("Cause", "cause", [["", "Not said"], ...state.data.causes], { chosen: "" });
  const parts = partsUsed();
  const drops = dropsStepper("Place: how many drops up the line");
  const position = positionPart();
  const photo = photoPart();
  const noteId = freshId("note");
  const note = h("textarea", { id: noteId, maxlength: "500", rows: "2" });
  return {
    nodes: [
      valveTest(),
      fold("Readings before and after", before.node, after.node),
      fold("Cause and parts used", cause.node, h("h2", {}, "Parts used"), ...parts.nodes),
      fold(
        "Place, photo, note",
        drops.node,
        position.node,
        photo.node,
        h("label", { htmlFor: noteId }, "Note"),
        note,
      ),
    ],
    photos: photo.photos,
    read: (chosen) =>
      said({
        before_kpa: before.kpa(),
        after_kpa: after.kpa(),
        drops: drops.value(),
        // A cause touched before the state changed goes with a leak alone.
        cause: LEAKS.includes(chosen) ? cause.value() : undefined,
        parts: parts.value(),
        pos: position.value(),
        note: note.value.trim(),
      }),
  };
}

/** After a fix: the reading that shows whether it worked, as a record of its own. */
function readingAfter(of) {
  const after = vacuumStepper("Reading after the fix");
  const outcome = h("p", { role: "status" });
  const add = button("Add the reading", async () => {
    if (after.kpa() === null) {
      outcome.textContent = "Step to the reading first.";
      return;
    }
    add.disabled = true;
    try {
      await save({ kind: "after", of, after_kpa: after.kpa() });
      box.replaceChildren(
        h(
          "p",
          {},
          `Reading after the fix: ${after.value()} ${state.data.units.vacuum.unit}, saved on ` +
            "this phone.",
        ),
      );
      say("Reading saved on this phone.");
    } catch (error) {
      add.disabled = false;
      outcome.textContent = `Not saved: ${error.message}`;
    }
  });
  const box = h("div", { class: "after" }, h("h3", {}, "Did it work?"), after.node, add, outcome);
  return box;
}

function nextLine(after, take) {
  const next = lines().find((line) => !line.done && line.id !== after.id);
  if (!next) return h("p", {}, "No other line waits on this list.");
  return button(`Next: ${next.label}, ${next.woodlot}`, () => take(next), "primary wide next");
}

/** A scratched tag may be read as an address that spells nothing: it is shown as it was read. */
function decoded(text) {
  try {
    return decodeURIComponent(text);
  } catch {
    return text;
  }
}

/** The line another page, or a printed tag, has chosen; and what to say if there is none such. */
function asked(path, query) {
  const tag = path.match(/^\/field\/line\/([^/]+)\/(.+)\/$/);
  if (!tag) return { chosen: Number(query.get("line")) || null };
  const [slug, label] = tag.slice(1).map(decoded);
  const line = lineOfTag(lines(), state.data, slug, label);
  if (line) return { chosen: line.id };
  return {
    missing:
      `The tag says line ${label}, and this phone's list has no such line. Choose the line, or ` +
      "get the list anew where there is signal.",
  };
}

export function checkView(main, { path, query }) {
  const { chosen = null, missing } = asked(path, query);
  const above = h("div", {}, missing && notice("warning", missing));
  const below = h("div", {});

  function draw(line) {
    const beside = h("div", {});
    const more = optional();
    const lineStep = picker({
      lines: lines(),
      chosen: line,
      onpick: (picked) => {
        beside.replaceChildren(...othersToday(picked).map((text) => notice("warning", text)));
        form?.label();
      },
    });
    const stateStep = choices("2. You found it", "state", state.data.states, { kind: "states" });
    const read = () => {
      const picked = lineStep.line();
      const found = stateStep.value();
      if (!picked) return { problem: "Touch a line first.", at: lineStep.node };
      if (!found) return { problem: "Touch one of the four states.", at: stateStep.node };
      return { record: { kind: "check", line: picked.id, state: found, ...more.read(found) } };
    };
    const saveText = () => {
      const picked = lineStep.line();
      const found = stateStep.value();
      if (!picked || !found) return "3. Save";
      return `3. Save ${picked.label}: ${labelOf(state.data.states, found).toLowerCase()}`;
    };
    const saved = (uuid, record) => {
      const picked = lineStep.line();
      const extra = [
        besideLive(picked),
        record.state === "frozen" && h("p", {}, "No verdict: the line does not count as walked."),
        nextLine(picked, (next) => draw(next.id).focusState()),
        record.state === "leak_fixed" && record.after_kpa === undefined && readingAfter(uuid),
      ];
      draw(null);
      const again = () => draw(picked.id).focusState();
      showSaved(above, savedCard({ uuid, record, again, extra }));
    };
    const form = recordForm({
      parts: [lineStep.node, beside, stateStep.node, ...more.nodes],
      saveText,
      read,
      photos: more.photos,
      saved,
    });
    beside.replaceChildren(...othersToday(lineStep.line()).map((text) => notice("warning", text)));
    below.replaceChildren(form.node);
    return {
      focusState: () => {
        const first = stateStep.node.querySelector("input");
        first.focus();
        stateStep.node.scrollIntoView({ block: "center" });
      },
    };
  }

  main.append(above, below);
  draw(chosen);
}

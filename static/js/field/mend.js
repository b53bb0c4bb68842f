// Putting a refused record right: the one answer the server objected to is asked again, no more.

import { mend } from "./outbox.js";
import { dropsStepper, vacuumStepper } from "./check.js";
import { picker } from "./picker.js";
import { lines, state } from "./state.js";
import { button, choices, freshId, h, notice, say, stepper } from "./ui.js";

const MOST_TAPS = 20_000;
// As the server takes them; a count's note has less room than any other.
const MOST_TEXT = 2000;
const MOST_NOTE = 500;
const MOST_COUNT_NOTE = 200;
const COUNTS = ["tally", "pull"];

const fromVacuum = (label) => {
  const part = vacuumStepper(label);
  return { node: part.node, value: part.kpa };
};
/** What was written is there to be shortened, not to be thought of again. */
const fromText = (longest, written) => {
  const id = freshId("mend");
  const label = `Note, at most ${longest} letters`;
  const box = h("textarea", { id, rows: "4", maxlength: String(longest) });
  box.value = written ?? "";
  const value = () => box.value.trim() || null;
  return { node: h("div", {}, h("label", { htmlFor: id }, label), box), value };
};
const fromDepth = () => {
  const { unit, per_si: perSi, step, places } = state.data.units.depth;
  const depth = stepper("Dip", {
    unit,
    step,
    big: step * 20,
    places,
    start: () => step,
    high: 500,
  });
  return { node: depth.node, value: () => (depth.value() === null ? null : depth.value() / perSi) };
};
const fromLine = () => {
  const line = picker({ lines: lines(), legend: "Which line was it?" });
  return { node: line.node, value: () => line.line()?.id ?? null };
};
const fromTaps = () => stepper("Taps", { step: 1, big: 10, start: () => 1, high: MOST_TAPS });

const EDITORS = {
  line: fromLine,
  state: () => choices("You found it", freshId("state"), state.data.states, { kind: "states" }),
  work: () => choices("What it needs", freshId("work"), state.data.works, { kind: "states" }),
  cause: () => choices("Cause", freshId("cause"), state.data.causes),
  tank: () => choices("Tank", freshId("tank"), state.data.tanks),
  pump_house: () =>
    choices(
      "Pump house",
      freshId("house"),
      state.data.pump_houses.map(([id, name]) => [id, name]),
    ),
  drops: () => dropsStepper("How many drops up the line"),
  taps: fromTaps,
  before_kpa: () => fromVacuum("Reading before"),
  after_kpa: () => fromVacuum("Reading after"),
  vacuum_kpa: () => fromVacuum("Reading"),
  depth_mm: fromDepth,
  text: ({ text }) => fromText(MOST_TEXT, text),
  note: ({ kind, note }) => fromText(COUNTS.includes(kind) ? MOST_COUNT_NOTE : MOST_NOTE, note),
};
// What a record of its kind cannot be without; anything else may simply be left out.
const NEEDED = {
  check: ["line", "state"],
  after: ["after_kpa"],
  tally: ["line", "taps"],
  pull: ["line", "taps"],
  dip: ["tank", "depth_mm"],
  gauge: ["pump_house", "vacuum_kpa"],
  obstruction: ["line", "work"],
  note: ["text"],
};

/** The way out of one refusal, or null where only taking back is left. */
export function mending(entry) {
  const { record, field } = entry;
  const needed = NEEDED[record.kind]?.includes(field);
  const make = EDITORS[field];
  if (!make && (needed || !(field in record))) return null;
  const trouble = h("div", { role: "alert" });
  const box = h("div", { class: "mending" });

  async function send(value) {
    try {
      await mend(entry.uuid, { [field]: value });
      say("Put right; it waits to be sent again.");
    } catch (error) {
      trouble.replaceChildren(notice("error", `Not changed: ${error.message}`));
    }
  }

  if (make) {
    const editor = make(record);
    const put = button(
      "Put it right and send again",
      () => {
        if (editor.value() === null)
          trouble.replaceChildren(notice("error", "Give the right answer first."));
        else send(editor.value());
      },
      "primary wide",
    );
    box.append(editor.node, put);
  }
  // Undefined is left out when the record is written as text: the server never sees the field.
  if (!needed && field in record)
    box.append(button("Send it without this", () => send(undefined), "wide"));
  box.append(trouble);
  return box;
}

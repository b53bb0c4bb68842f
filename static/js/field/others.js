// The smaller records: a tank dip, a pump-house gauge, an obstruction after a storm, a note.

import { save } from "./outbox.js";
import { dropsStepper, vacuumStepper } from "./check.js";
import { recordForm, said, savedCard, showSaved } from "./form.js";
import { picker } from "./picker.js";
import { photoPart, positionPart } from "./place.js";
import { lines, state } from "./state.js";
import { button, choices, fold, freshId, h, notice, pad, say } from "./ui.js";
import { daysAgo, labelOf, lineName } from "./words.js";

const LONGEST_NOTE = 500;

/** A form that is made anew after each save, with the card above it. */
function again(main, make) {
  const above = h("div", {});
  const below = h("div", {});
  const draw = () => {
    const { parts, read, saveText, photos, caution } = make(() => form.label());
    const form = recordForm({
      parts,
      read,
      saveText,
      photos,
      caution,
      saved: (uuid, record) => {
        draw();
        showSaved(above, savedCard({ uuid, record }));
      },
    });
    below.replaceChildren(form.node);
  };
  main.append(above, below);
  draw();
}

function noteField(label = "Note") {
  const id = freshId("note");
  const box = h("textarea", { id, maxlength: String(LONGEST_NOTE), rows: "2" });
  return { nodes: [h("label", { htmlFor: id }, label), box], value: () => box.value.trim() };
}

export function dipView(main) {
  const { tanks, units } = state.data;
  if (!tanks.length) {
    main.append(notice("warning", "No tank is on this phone's list."));
    return;
  }
  again(main, (changed) => {
    const tank = choices("1. Tank", "tank", tanks, {
      chosen: tanks.length === 1 ? tanks[0][0] : null,
    });
    const depth = pad(`Depth in ${units.depth.unit}`, {
      mark: ".",
      markName: "Point",
      longest: 6,
      unit: units.depth.unit,
      onchange: changed,
    });
    const typed = () => (/^\d+\.?\d*$|^\.\d+$/.test(depth.value()) ? Number(depth.value()) : null);
    return {
      parts: [tank.node, h("fieldset", { class: "step" }, h("legend", {}, "2. Dip"), depth.node)],
      saveText: () => (typed() === null ? "3. Save" : `3. Save ${typed()} ${units.depth.unit}`),
      read: () => {
        if (tank.value() === null) return { problem: "Touch a tank first.", at: tank.node };
        if (typed() === null) return { problem: "Type the depth first.", at: depth.node };
        return {
          record: { kind: "dip", tank: tank.value(), depth_mm: typed() / units.depth.per_si },
        };
      },
      caution: h(
        "p",
        { class: "caution" },
        "Never climb into a tank or lean into it over your balance; dip from the ground or " +
          "from a platform with a rail.",
      ),
    };
  });
}

export function gaugeView(main) {
  const houses = state.data.pump_houses;
  if (!houses.length) {
    main.append(notice("warning", "No pump house is on this phone's list."));
    return;
  }
  again(main, (changed) => {
    const only = houses.length === 1 ? houses[0][0] : null;
    const options = houses.map(([id, name]) => [id, name]);
    const house = choices("1. Pump house", "house", options, { chosen: only });
    const vacuum = vacuumStepper("Reading");
    const note = noteField();
    vacuum.onchange(changed);
    return {
      parts: [
        house.node,
        h("fieldset", { class: "step" }, h("legend", {}, "2. Gauge"), vacuum.node),
        fold("Note", ...note.nodes),
      ],
      saveText: () =>
        vacuum.value() === null
          ? "3. Save"
          : `3. Save ${vacuum.value()} ${state.data.units.vacuum.unit}`,
      read: () => {
        if (house.value() === null) return { problem: "Touch a pump house first.", at: house.node };
        if (vacuum.kpa() === null)
          return { problem: "Step to the reading first.", at: vacuum.node };
        const record = { kind: "gauge", pump_house: house.value(), vacuum_kpa: vacuum.kpa() };
        return { record: said({ ...record, note: note.value() }) };
      },
    };
  });
}

/** Obstructions still open, each with one touch that says it is gone. */
function openObstructions() {
  const here = state.entries.filter(
    ({ record, voidedBy, status }) =>
      record.kind === "obstruction" && !voidedBy && status === "waiting",
  );
  const rows = [
    ...state.data.obstructions.map(([uuid, line, work, note, days]) => ({
      uuid,
      line,
      work,
      note,
      seen: daysAgo(days),
    })),
    ...here.map(({ record }) => ({ ...record, seen: "logged here, not sent yet" })),
  ];
  const cleared = new Set(
    state.entries
      .filter((it) => it.record.kind === "clear" && !it.voidedBy)
      .map((it) => it.record.of),
  );
  const open = rows.filter(({ uuid }) => !cleared.has(uuid));
  if (!open.length) return null;
  return h(
    "section",
    {},
    h("h2", {}, "Still in the way"),
    open.map(({ uuid, line, work, note, seen }) => {
      const words = h(
        "p",
        {},
        h("strong", {}, lineName(state.data, line)),
        `: ${labelOf(state.data.works, work).toLowerCase()}, ${seen}`,
        note ? `. ${note}` : "",
      );
      const row = h("div", { class: "card" }, words);
      row.append(
        button("Cleared", () => clear(row, uuid, words.textContent), "wide", {
          "aria-label": `Cleared: ${words.textContent}`,
        }),
      );
      return row;
    }),
  );
}

async function clear(row, uuid, words) {
  const record = { kind: "clear", of: uuid };
  try {
    const made = await save(record);
    const card = savedCard({ uuid: made, record: { ...record, uuid: made } });
    row.replaceChildren(h("p", {}, words), card);
    card.querySelector("h2").focus();
    say("Cleared: saved on this phone.");
  } catch (error) {
    row.append(notice("error", `Not saved: ${error.message}`));
  }
}

export function obstructionView(main, { query }) {
  again(main, (changed) => {
    const line = picker({
      lines: lines(),
      chosen: Number(query.get("line")) || null,
      onpick: () => changed(),
    });
    const work = choices("2. What it needs", "work", state.data.works, { kind: "states" });
    const drops = dropsStepper("Place: how many drops up the line");
    const position = positionPart();
    const photo = photoPart();
    const note = noteField();
    return {
      parts: [
        h(
          "p",
          { class: "caution" },
          "Hung, split or bent trees and power lines: leave them. No saw alone.",
        ),
        line.node,
        work.node,
        fold("Place, photo, note", drops.node, position.node, photo.node, ...note.nodes),
      ],
      saveText: () => {
        const picked = line.line();
        const needs = work.value();
        return picked && needs
          ? `3. Save ${picked.label}: ${labelOf(state.data.works, needs).toLowerCase()}`
          : "3. Save";
      },
      photos: photo.photos,
      read: () => {
        if (!line.line()) return { problem: "Touch a line first.", at: line.node };
        if (!work.value()) return { problem: "Touch what it needs.", at: work.node };
        const record = { kind: "obstruction", line: line.line().id, work: work.value() };
        return {
          record: said({
            ...record,
            drops: drops.value(),
            pos: position.value(),
            note: note.value(),
          }),
        };
      },
      caution: h(
        "p",
        { class: "caution" },
        "Leave hung, split or bent trees, and anything near a power line, to a trained " +
          "person. Run no saw alone, and none without training, a helmet, leg protection and " +
          "somebody who can call for help. Local rules go before this page.",
      ),
    };
  });
  const open = openObstructions();
  if (open) main.append(open);
}

export function noteView(main, { query }) {
  again(main, (changed) => {
    const text = noteField("1. Note");
    const line = picker({
      legend: "2. About a line, if it is about one",
      lines: lines(),
      chosen: Number(query.get("line")) || null,
      onpick: () => changed(),
    });
    const options = [["", "None"], ...state.data.woodlots.map(([id, name]) => [id, name])];
    const woodlot = choices("Or about a whole woodlot", "woodlot", options, { chosen: "" });
    return {
      parts: [
        h("div", { class: "step" }, ...text.nodes),
        fold("About a line or a woodlot", line.node, woodlot.node),
      ],
      saveText: () => "Save the note",
      read: () => {
        if (!text.value())
          return { problem: "Write something first.", at: text.nodes[0].parentNode };
        // A line says its woodlot too: both together could disagree.
        const about = line.line() ? { line: line.line().id } : { woodlot: woodlot.value() };
        return { record: said({ kind: "note", text: text.value(), ...about }) };
      },
    };
  });
}

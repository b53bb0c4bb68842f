// What every view looks at: the stored list, the outbox, whether the phone is ready, the last
// answer of the server. Read again whenever the outbox changes, in this tab or another.

import { now } from "./clock.js";
import { cached, readiness, refresh } from "./data.js";
import { all, counts, onChange } from "./outbox.js";
import { forgetLoss, loss } from "./store.js";
import { onState, sync } from "./sync.js";
import { onPlaced, persist } from "./update.js";
import { linesNow } from "./woods.js";

const NOTHING_COUNTED = { waiting: 0, refused: 0, photos: 0, oldestAt: null, others: [] };

export const state = {
  data: null,
  fetchedAt: null,
  // Why the last question for the list ended as it did, and how the last sending did.
  listWhy: null,
  link: null,
  entries: [],
  counts: NOTHING_COUNTED,
  // What is stored for a day without signal; null until it has been looked up.
  ready: null,
  // Whether the browser promised to keep the store: "granted", "denied", "unavailable".
  persisted: null,
  // What the browser threw away, until the person has read it: {waiting, at}.
  loss: null,
  // What others logged today on lines sent from here: line -> [{who, at, state}].
  sameDay: new Map(),
};

const listeners = new Set();

/** Call `listener` after each change; the answer takes it off again. */
export function listen(listener) {
  listeners.add(listener);
  return () => listeners.delete(listener);
}

function tell() {
  for (const listener of listeners) listener();
}

export function lines() {
  const { data, fetchedAt, entries } = state;
  return data ? linesNow({ data, fetchedAt, entries, now: now().at }) : [];
}

/** How far the phone's clock was behind the server's when the list was fetched. */
export function clockBehindMs() {
  return state.data ? state.data.server_now - state.fetchedAt : 0;
}

function takeCache(cache) {
  if (!cache?.data) return;
  state.data = cache.data;
  state.fetchedAt = cache.fetchedAt;
}

async function readOutbox() {
  [state.entries, state.counts] = await Promise.all([all(), counts()]);
  // In the order of saving, whatever order the store answers in.
  state.entries.sort((a, b) => a.seq - b.seq);
}

/** Count a record that the store has just taken, before the outbox has been read again. */
export function noteSaved(record) {
  const seq = (state.entries.at(-1)?.seq ?? 0) + 1;
  state.entries.push({ uuid: record.uuid, seq, status: "waiting", record });
}

async function readReadiness() {
  state.ready = await readiness();
}

function takeSync(result) {
  if (!result?.why || result.why === "busy") return;
  state.link = result;
  for (const seen of result.sameDay ?? []) {
    const known = state.sameDay.get(seen.line) ?? [];
    const others = known.filter((it) => it.who !== seen.who || it.at !== seen.at);
    state.sameDay.set(seen.line, [...others, seen]);
  }
}

/** Ask the server for the list anew; what is stored stays shown until it answers. */
export async function refreshList() {
  const answer = await refresh();
  state.listWhy = answer.why;
  takeCache(answer);
  // Whose records wait for somebody else hangs on who is signed in now.
  await Promise.all([readReadiness(), readOutbox()]);
  tell();
}

export async function sendNow() {
  const result = await sync("touch");
  await readOutbox();
  tell();
  return result;
}

/** Fill the state from the phone's own store; the server is asked only after that. */
export async function begin() {
  const [cache] = await Promise.all([cached(), readOutbox()]);
  takeCache(cache);
  onChange(async () => {
    await readOutbox();
    tell();
  });
  // On a first visit the worker is in place long after all else.
  onPlaced(async () => {
    await readReadiness();
    tell();
  });
  onState((last) => {
    takeSync(last);
    // Another has signed in: whose list it is, and whose records wait, is told anew.
    if (last.why === "other_person" && !last.running) refreshList();
    tell();
  });
}

/** The slow part, once something is on the screen. */
export async function settle() {
  state.loss = await loss();
  await readReadiness();
  tell();
  await refreshList();
  state.persisted = await persist();
  tell();
}

/** The person has read what was lost. */
export async function lossRead() {
  await forgetLoss();
  state.loss = null;
  tell();
}

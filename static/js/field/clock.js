// Two clocks: the phone's own, which may be wrong or be set, and one that only counts on while the
// page lives. With the moments at which the server's time was learnt, the server tells true times.

import { ask, newUuid, write, read } from "./store.js";

const MOST = 20;
// Within this the two clocks and the server's agree, as the server reckons it too.
const AGREE_MS = 2000;
// The second clock starts anew with every page, so its readings are told apart by this.
const boot = newUuid().slice(0, 4);

export function now() {
  return { at: Date.now(), mono: Math.round(performance.now()), boot };
}

function same(a, b) {
  return (
    a.boot === b.boot &&
    Math.abs(a.at - a.server - (b.at - b.server)) < AGREE_MS &&
    Math.abs(a.mono - a.server - (b.mono - b.server)) < AGREE_MS
  );
}

// A moment between two that agree with it says nothing more.
function thinned(anchors) {
  const [before, middle, last] = anchors.slice(-3);
  if (last && same(before, middle) && same(middle, last)) anchors.splice(-2, 1);
  return anchors.slice(-MOST);
}

// Keep the moment at which the server said its time. The answer took a while: the middle is meant.
export function anchor(serverMs, asked = now()) {
  const got = now();
  const half = Math.max(0, got.mono - asked.mono) / 2;
  const moment = { at: Math.round(got.at - half), mono: Math.round(got.mono - half), boot };
  return write(["kv"], async ({ kv }) => {
    // Counted in records saved and not in hours, for the hours are what is in doubt.
    const seq = (await ask(kv.get("seq"))) ?? 0;
    const anchors = (await ask(kv.get("anchors"))) ?? [];
    kv.put(thinned([...anchors, { ...moment, server: serverMs, seq }]), "anchors");
  });
}

// The last moment before the first of these records and all since, each with how many of them had
// been saved before it: where it stands among them no clock has to say.
export async function anchorsFor(entries) {
  const { seq } = entries[0];
  const savedBefore = (one) => entries.filter((entry) => entry.seq <= one.seq).length;
  const anchors = (await read(["kv"], ({ kv }) => ask(kv.get("anchors")))) ?? [];
  const before = anchors.findLastIndex((one) => one.seq < seq);
  return anchors
    .slice(Math.max(0, before))
    .map((one) => [one.at, one.mono, one.boot, one.server, savedBefore(one)]);
}

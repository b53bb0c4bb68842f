// Sending what waits: records first, in the order they were saved, then photos. Whatever fails, all
// that the server has not named stays, and is sent again under the same name.

import { anchor, anchorsFor, now } from "./clock.js";
import { adopt, person } from "./data.js";
import { send, why } from "./net.js";
import * as outbox from "./outbox.js";
import { phone } from "./store.js";
import { upload } from "./upload.js";

const FORMAT = 1;
const MOST_RECORDS = 100;
const MOST_BYTES = 200_000;
const LOCK = "thawline-sync";
const EVERY_MS = 2 * 60 * 1000;
const BACK_OFF_MS = 15_000;
const BACK_OFF_MOST_MS = 15 * 60 * 1000;
// After a failure these wait their turn; a person's touch, or a signal come back, is tried at once.
const QUIET = new Set(["change", "timer", "retry"]);

const listeners = new Set();
let last = null;
let running = null;
let again = false;
let failures = 0;
let notBefore = 0;
let timer = null;

// Called whenever sending starts or ends, with what came of it last and {running, at}.
export function onState(listener) {
  listeners.add(listener);
  listener(state());
  return () => listeners.delete(listener);
}

const state = () => ({ ...last, running: running !== null });
const show = () => listeners.forEach((listener) => listener(state()));

const result = (reason, more = {}) => ({
  why: reason,
  sent: 0,
  refused: 0,
  photosLeft: 0,
  sameDay: [],
  person: null,
  ...more,
});

// Send what waits; never throws. A second call while one is under way sends what came in meanwhile.
export function sync(reason = "touch") {
  if (running) {
    again = true;
    return running;
  }
  if (QUIET.has(reason) && performance.now() < notBefore) {
    return Promise.resolve(last ?? result("no_answer"));
  }
  running = rounds().then((total) => {
    running = null;
    last = { ...total, at: Date.now() };
    plan(total.why);
    show();
    return last;
  });
  show();
  return running;
}

async function rounds() {
  let total = result("nothing");
  do {
    again = false;
    const next = await locked().catch((error) => result("no_answer", { reason: String(error) }));
    total = together(total, next);
  } while (again && ["ok", "nothing"].includes(total.why));
  return total;
}

// What a second round adds; that it found nothing more does not undo what the first one did.
function together(one, two) {
  return {
    ...two,
    why: two.why === "nothing" ? one.why : two.why,
    sent: one.sent + two.sent,
    refused: one.refused + two.refused,
    sameDay: [...one.sameDay, ...two.sameDay],
  };
}

// One tab sends for all: the server would sort out twice the same, but the bytes are dear.
function locked() {
  if (!navigator.locks) return round();
  return navigator.locks.request(LOCK, { ifAvailable: true }, (lock) =>
    lock ? round() : result("busy"),
  );
}

function plan(reason) {
  clearTimeout(timer);
  const failed = reason === "no_answer" || reason === "busy";
  failures = failed ? failures + 1 : 0;
  if (!failed) notBefore = 0;
  if (!failed) return;
  const pause = Math.min(BACK_OFF_MOST_MS, BACK_OFF_MS * 2 ** (failures - 1));
  notBefore = performance.now() + pause;
  timer = setTimeout(() => document.hidden || sync("retry"), pause);
}

async function round() {
  const me = await person();
  const total = result("nothing", { person: me });
  if (!me) return total;
  let most = MOST_RECORDS;
  for (;;) {
    const entries = batch(await outbox.waitingFor(me.id), most);
    if (!entries.length) break;
    const answer = await post(me, entries);
    const tally = await heard(answer, entries);
    total.sent += tally.sent;
    total.refused += tally.refused;
    total.sameDay.push(...tally.sameDay);
    total.why = tally.why;
    if (tally.why === "too_large") most = Math.floor(entries.length / 2);
    else if (tally.why !== "ok") return { ...total, ...tally.more };
  }
  await outbox.tidy();
  return sendPhotos(me, total);
}

// As many as one post may carry, oldest first.
function batch(entries, most) {
  let bytes = 0;
  const fits = (entry) => {
    bytes += JSON.stringify(entry.record).length;
    return bytes <= MOST_BYTES;
  };
  const some = entries.slice(0, most);
  const end = some.findIndex((entry) => !fits(entry));
  return end < 0 ? some : some.slice(0, Math.max(1, end));
}

async function post(me, entries) {
  const stamp = now();
  const body = {
    format: FORMAT,
    phone: await phone(),
    person: me.id,
    now: stamp.at,
    mono: stamp.mono,
    boot: stamp.boot,
    anchors: await anchorsFor(entries),
    records: entries.map(({ person: by, record }) => (by === me.id ? record : { ...record, by })),
  };
  const options = { method: "POST", type: "application/json", body: JSON.stringify(body) };
  const answer = await send("records/", options);
  if (answer.status === 200) await anchor(answer.body.server_now, stamp);
  return answer;
}

// What came of one post. Only records that the answer names are touched.
async function heard(answer, entries) {
  const nothing = { sent: 0, refused: 0, sameDay: [], more: {} };
  if (answer.status === 413) return { ...nothing, ...(await tooLarge(entries)) };
  const reason = why(answer);
  if (reason === "other_person") {
    await adopt(answer.body.person);
    return { ...nothing, why: reason, more: { person: answer.body.person } };
  }
  if (reason !== "ok") {
    return { ...nothing, why: reason, more: { reason: answer.body.reason ?? "" } };
  }
  const answers = (answer.body.answers ?? []).map(({ n, ...said }) => ({
    ...said,
    uuid: said.uuid ?? entries[n]?.uuid,
  }));
  const tally = await outbox.settle(answers);
  // An answer that names nothing of ours would have us send the same for ever.
  const end = tally.named > 0 ? "ok" : "no_answer";
  return { ...nothing, ...tally, sameDay: answer.body.same_day ?? [], why: end };
}

async function tooLarge(entries) {
  if (entries.length > 1) return { why: "too_large" };
  const reason = "This record is larger than the server takes: make its note shorter.";
  const answers = [{ uuid: entries[0].uuid, answer: "refused", reason }];
  return { why: "ok", ...(await outbox.settle(answers)) };
}

async function sendPhotos(me, total) {
  const photos = await outbox.photosFor(me.id);
  if (!photos.length) return total;
  const stopped = await upload(photos);
  const photosLeft = (await outbox.photosFor(me.id)).length;
  return { ...total, photosLeft, why: stopped ?? "ok" };
}

// Try on opening, when a signal or the page comes back, after each save, and every two minutes.
export function start() {
  addEventListener("online", () => sync("online"));
  document.addEventListener("visibilitychange", () => document.hidden || sync("visible"));
  outbox.onChange(() => sync("change"));
  setInterval(() => document.hidden || sync("timer"), EVERY_MS);
  return sync("open");
}

// What was logged and whether the server has it. A record is deleted by nothing but time after the
// server has named it; signing out, switching persons and new versions leave it where it is.

import { now } from "./clock.js";
import { pack } from "./photos.js";
import { ask, mark, newUuid, read, trouble, write } from "./store.js";

const FORMAT = 1;
const SENT_KEPT_MS = 14 * 24 * 3600 * 1000;
const ALL = ["records", "photos", "kv"];

const listeners = new Set();
const channel = self.BroadcastChannel ? new BroadcastChannel("thawline") : null;
const tell = () => listeners.forEach((listener) => listener());
channel?.addEventListener("message", tell);

// Called whenever anything here has changed, in this tab or in another.
export function onChange(listener) {
  listeners.add(listener);
  return () => listeners.delete(listener);
}

async function changed() {
  mark((await read(["records"], unsent)).length);
  channel?.postMessage("changed");
  tell();
}

const inOrder = ({ records }) => ask(records.index("seq").getAll());
const open = (entry) => entry.status === "waiting" || entry.status === "refused";
const unsent = async (stores) => (await inOrder(stores)).filter(open);
const waitingPhotos = (entry) => entry.photos.filter((photo) => photo.state === "waiting").length;
const shown = (entry) => ({ ...entry, photosWaiting: waitingPhotos(entry) });

async function known(stores, uuid) {
  const entry = await ask(stores.records.get(uuid));
  if (!entry) throw trouble("unknown", "The phone no longer has this record.");
  return entry;
}

async function person(stores) {
  const signedIn = await ask(stores.kv.get("person"));
  if (!signedIn) {
    throw trouble("no_person", "Nobody has signed in on this phone yet: sign in before you log.");
  }
  return signedIn;
}

async function nextSeq({ kv }) {
  const seq = ((await ask(kv.get("seq"))) ?? 0) + 1;
  kv.put(seq, "seq");
  return seq;
}

async function add(stores, fields, stamp, packed) {
  const owner = await person(stores);
  const uuid = newUuid();
  const photos = packed.map((photo) => ({ uuid: newUuid(), ...photo }));
  stores.records.add({
    uuid,
    seq: await nextSeq(stores),
    person: owner.id,
    personName: owner.name,
    status: "waiting",
    reason: "",
    field: "",
    sentAt: null,
    voidedBy: null,
    handedTo: null,
    record: { ...fields, uuid, ...stamp },
    photos: photos.map(({ bytes: _, ...kept }) => ({ ...kept, state: "waiting", reason: "" })),
  });
  for (const { uuid: name, bytes } of photos) stores.photos.add({ uuid: name, of: uuid, bytes });
  return uuid;
}

// Half a character, as a box that is full cuts an emoji, is no text that any books can hold.
const whole = (value) => (typeof value === "string" ? value.replace(/\p{Cs}|\0/gu, "") : value);
const inWords = (fields) =>
  Object.fromEntries(Object.entries(fields).map(([key, value]) => [key, whole(value)]));

// Keep one record with its photos, all or nothing. Resolves when it is on the disk, not before.
export async function save(fields, { photos = [] } = {}) {
  // Taken first: the moment of the touch, not of the end of all this work.
  const stamp = now();
  const packed = await Promise.all(photos.map(pack));
  const uuid = await write(ALL, (stores) => add(stores, inWords(fields), stamp, packed));
  await changed();
  return uuid;
}

// Take a record back. One that the server never took is only let go; any other by a record more.
export async function undo(uuid) {
  const stamp = now();
  const voided = await write(ALL, async (stores) => {
    const entry = await known(stores, uuid);
    const me = await person(stores);
    if (entry.voidedBy) return entry.voidedBy;
    if (entry.status === "waiting" && entry.person !== me.id) {
      // The record has to arrive before what takes it back, and it waits for its own person.
      throw trouble("other_person", `Only ${entry.personName} can take this back on this phone.`);
    }
    if (entry.status === "refused") {
      await drop(stores, entry);
      return uuid;
    }
    const made = await add(stores, { kind: "void", of: uuid }, stamp, []);
    stores.records.put({ ...entry, voidedBy: made });
    return made;
  });
  await changed();
  return voided;
}

async function drop(stores, entry) {
  stores.records.put({ ...entry, status: "dropped", sentAt: Date.now(), photos: [] });
  for (const photo of entry.photos) stores.photos.delete(photo.uuid);
}

export const all = async () => (await read(["records"], inOrder)).map(shown);

export async function entry(uuid) {
  const found = await read(["records"], ({ records }) => ask(records.get(uuid)));
  return found ? shown(found) : null;
}

function countedByPerson(entries) {
  const people = new Map();
  for (const { person: id, personName: name } of entries) {
    const sofar = people.get(id) ?? { person: id, name, waiting: 0 };
    people.set(id, { ...sofar, waiting: sofar.waiting + 1 });
  }
  return [...people.values()];
}

// What still waits on this phone: all of it, however many persons it belongs to.
export async function counts() {
  return read(["records", "kv"], async (stores) => {
    const entries = await inOrder(stores);
    const me = await ask(stores.kv.get("person"));
    const waiting = entries.filter((one) => one.status === "waiting");
    return {
      waiting: waiting.length,
      refused: entries.filter((one) => one.status === "refused").length,
      photos: entries.reduce((sum, one) => sum + waitingPhotos(one), 0),
      oldestAt: waiting.length ? Math.min(...waiting.map((one) => one.record.at)) : null,
      others: countedByPerson(waiting.filter((one) => one.person !== me?.id)),
    };
  });
}

// A refused record put right. It keeps its moment and its place in the order, and takes a new name:
// under the old one the server has already said no.
export async function mend(uuid, changes) {
  const work = async (stores) => remake(stores, await known(stores, uuid), changes);
  const made = await write(ALL, work);
  await changed();
  return made;
}

async function remake(stores, old, changes) {
  const uuid = newUuid();
  const fresh = { status: "waiting", reason: "", field: "", voidedBy: null };
  const record = { ...old.record, ...inWords(changes), uuid };
  stores.records.add({ ...old, ...fresh, uuid, record });
  const gone = { status: "replaced", replacedBy: uuid, sentAt: Date.now(), photos: [] };
  stores.records.put({ ...old, ...gone });
  for (const { uuid: name } of old.photos) {
    const photo = await ask(stores.photos.get(name));
    if (photo) stores.photos.put({ ...photo, of: uuid });
  }
  for (const other of await unsent(stores)) {
    if (other.record.of === old.uuid) await follow(stores, other, uuid);
  }
  return uuid;
}

// What speaks of the mended record speaks of its new name from here on.
async function follow(stores, other, uuid) {
  if (other.status === "refused") await remake(stores, other, { of: uuid });
  else stores.records.put({ ...other, record: { ...other.record, of: uuid } });
}

// Let the one signed in send what another logged; the record still says who saw it.
export async function handOver(personId) {
  const moved = await write(ALL, async (stores) => {
    const me = await person(stores);
    const theirs = (await inOrder(stores)).filter((one) => one.person === personId);
    const waiting = theirs.filter((one) => one.status === "waiting" || waitingPhotos(one));
    for (const one of waiting) stores.records.put({ ...one, handedTo: me.id, reason: "" });
    return waiting.length;
  });
  await changed();
  return moved;
}

const listed = ({ record, person: id, personName, status, reason, photos }) => ({
  ...record,
  person: id,
  person_name: personName,
  status,
  reason,
  photos: photos.map(({ uuid, size, sha256, state }) => ({ uuid, size, sha256, state })),
});

// Everything that has not gone up, as a file to carry by hand; photos by name, size and hash.
export async function exportFile() {
  const contents = await read(["records", "kv"], async (stores) => ({
    format: FORMAT,
    phone: (await ask(stores.kv.get("phone"))) ?? null,
    exported_at: new Date().toISOString(),
    records: (await unsent(stores)).map(listed),
  }));
  return new Blob([JSON.stringify(contents, null, 1)], { type: "application/json" });
}

const forMe = (id) => (one) => (one.handedTo ?? one.person) === id;

// For sync.js: what waits for this person to send, oldest first.
export async function waitingFor(id) {
  const entries = await read(["records"], inOrder);
  return entries.filter((one) => one.status === "waiting" && forMe(id)(one));
}

// For sync.js: photos whose record the server has, oldest first.
export async function photosFor(id) {
  const sent = (await read(["records"], inOrder)).filter((one) => one.status === "sent");
  const photos = sent
    .filter(forMe(id))
    .flatMap(({ uuid: of, record: { boot }, photos: taken }) =>
      taken.map((one) => ({ ...one, of, boot })),
    );
  return photos.filter((photo) => photo.state === "waiting");
}

export const photoBytes = (uuid) =>
  read(["photos"], async ({ photos }) => (await ask(photos.get(uuid)))?.bytes ?? null);

// For sync.js: what the server said of each record it named. Others stay as they are.
export async function settle(answers) {
  const tally = { named: 0, sent: 0, refused: 0 };
  await write(ALL, async (stores) => {
    for (const answer of answers) {
      const entry = await ask(stores.records.get(answer.uuid));
      if (entry?.status !== "waiting") continue;
      tally.named += 1;
      if (answer.answer === "refused") tally.refused += await refuse(stores, entry, answer);
      else if (["accepted", "had"].includes(answer.answer)) tally.sent += accept(stores, entry);
    }
  });
  await changed();
  return tally;
}

function accept({ records }, entry) {
  records.put({ ...entry, status: "sent", reason: "", field: "", sentAt: Date.now() });
  return 1;
}

async function refuse(stores, entry, { reason = "", field = "" }) {
  if (entry.handedTo && field === "by") {
    // The hand-over was refused and not the record: it waits for its own person again.
    stores.records.put({ ...entry, handedTo: null, reason });
    return 1;
  }
  if (entry.record.kind === "void") {
    const of = await ask(stores.records.get(entry.record.of));
    if (of && of.status === "refused") {
      // The server took neither; the person had taken it back: there is nothing left to mend.
      await drop(stores, of);
      await drop(stores, entry);
      return 0;
    }
  }
  stores.records.put({ ...entry, status: "refused", reason, field });
  return 1;
}

// For sync.js: a photo has arrived, or was refused and stays with the reason.
export async function settlePhoto(of, uuid, reason = "") {
  await write(ALL, async (stores) => {
    const entry = await known(stores, of);
    const handed = reason && entry.handedTo;
    // Handed over it may be refused for that alone: who took it is heard before it is given up.
    const state = handed ? "waiting" : reason ? "refused" : "sent";
    const photos = entry.photos.map((one) => (one.uuid === uuid ? { ...one, state, reason } : one));
    stores.records.put({ ...entry, photos, handedTo: handed ? null : entry.handedTo });
    if (state === "sent") stores.photos.delete(uuid);
  });
  await changed();
}

// Records sent a fortnight ago leave the list with what was refused of their photos; one whose
// photo still waits stays.
export async function tidy() {
  const before = Date.now() - SENT_KEPT_MS;
  await write(ALL, async (stores) => {
    for (const one of await inOrder(stores)) {
      const old = one.sentAt !== null && one.sentAt < before;
      if (!old || open(one) || waitingPhotos(one)) continue;
      stores.records.delete(one.uuid);
      one.photos.forEach((photo) => stores.photos.delete(photo.uuid));
    }
  });
}

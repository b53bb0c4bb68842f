// Photos on their way: two at a time, in pieces small enough for one bar, resumed where they ended.

import { now } from "./clock.js";
import { ask, send, why } from "./net.js";
import { photoBytes, settlePhoto } from "./outbox.js";

const PIECE = 64 * 1024;
const AT_ONCE = 2;
// A piece at 20 kbit/s takes 26 s.
const PIECE_LIMIT_MS = 45_000;
const FINAL = new Set([404, 413, 415, 422]);

const tried = new Set();

// Send these photos. Null when all are through, else why it stopped early, as sync says it.
export async function upload(photos) {
  const queue = [...photos];
  let stopped = null;
  const hand = async () => {
    while (queue.length && !stopped) stopped = (await one(queue.shift())) ?? stopped;
  };
  await Promise.all(Array.from({ length: AT_ONCE }, hand));
  return stopped;
}

async function one(photo) {
  const bytes = await photoBytes(photo.uuid);
  if (!bytes) {
    await settlePhoto(photo.of, photo.uuid, "The phone no longer has this photo.");
    return null;
  }
  return pieces(photo, bytes);
}

// Only a photo that this very page has kept and not yet tried is known to be new to the server.
async function pieces(photo, bytes) {
  const fresh = photo.boot === now().boot && !tried.has(photo.uuid);
  const begun = fresh ? null : await ask(`photos/${photo.uuid}/`);
  tried.add(photo.uuid);
  let at = begun?.status === 200 ? begun.body.received : 0;
  let done = begun?.status === 200 && begun.body.done;
  let strayed = 0;
  while (!done) {
    const answer = await put(photo, bytes, at);
    if (FINAL.has(answer.status)) {
      const reason = answer.body.reason || "The server refused this photo.";
      await settlePhoto(photo.of, photo.uuid, reason);
      return null;
    }
    const went = answer.status === 200;
    // Two tabs or a lost answer: the server has more, or less, than the phone thought.
    const elsewhere = answer.status === 409 && Number.isInteger(answer.body.received);
    if (!went && !(elsewhere && (strayed += 1) < 5)) return why(answer);
    at = answer.body.received;
    done = went && answer.body.done;
  }
  await settlePhoto(photo.of, photo.uuid);
  return null;
}

function put(photo, bytes, at) {
  const query = `of=${photo.of}&sha256=${photo.sha256}&total=${bytes.byteLength}&at=${at}`;
  return send(`photos/${photo.uuid}/?${query}`, {
    method: "PUT",
    type: "application/octet-stream",
    body: bytes.slice(at, at + PIECE),
    limitMs: PIECE_LIMIT_MS,
  });
}

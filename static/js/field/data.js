// What the server knows that a walk needs: lines, choices, persons. Asked for by the page itself
// and kept in its own store, so that one visit is enough.

import { anchor, now } from "./clock.js";
import { ask, why } from "./net.js";
import { shell } from "./update.js";
import { ask as request, get, phone, read, write } from "./store.js";

const FORMAT = 1;

const kept = (stores) => request(stores.kv.get("data"));

// {data, fetchedAt} as last fetched, or null.
export const cached = async () => (await read(["kv"], kept)) ?? null;

// Who is signed in as far as the phone knows: {id, name, owner}, or null.
export const person = async () => (await get("person")) ?? null;

// Another person has signed in: what is logged now is theirs, what waits stays whose it was.
export function adopt(someone) {
  return write(["kv"], ({ kv }) => void kv.put(someone, "person"));
}

function readable(body) {
  return body.format === FORMAT && Array.isArray(body.lines) && Boolean(body.person);
}

function keep(data) {
  const fetched = { data, fetchedAt: Date.now() };
  return write(["kv"], ({ kv }) => {
    kv.put(fetched, "data");
    kv.put(data.person, "person");
    return fetched;
  });
}

// Ask anew; whatever comes of it, the last good copy is what there is to work with.
export async function refresh() {
  const name = await phone();
  const asked = now();
  const answer = await ask(`data.json?phone=${name}`);
  const last = await cached();
  if (answer.status !== 200 || !readable(answer.body)) {
    return { data: null, fetchedAt: null, ...last, why: reason(answer) };
  }
  await anchor(answer.body.server_now, asked);
  return { ...(await keep(answer.body)), why: "fresh" };
}

function reason(answer) {
  if (answer.status === 0 && !isSecureContext && !navigator.onLine) return "not_secure";
  return answer.status === 200 ? "no_answer" : why(answer);
}

// "Ready for the woods" is said only when all of it is on the phone; otherwise what is missing.
export async function readiness() {
  const [fetched, someone, files] = await Promise.all([cached(), person(), shell()]);
  const lines = Boolean(fetched?.data.lines.length);
  const secure = isSecureContext;
  const missing = [
    !secure && "not_secure",
    secure && !files && "shell",
    !lines && "lines",
    !someone && "person",
  ].filter(Boolean);
  return { shell: files, lines, person: someone, secure, missing, ready: missing.length === 0 };
}

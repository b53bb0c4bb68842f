// Asking the server: never a redirect followed, never a wait without an end, never a guess.

const ROOT = "/field/";
export const LIMIT_MS = 8000;

export function token() {
  return document.cookie.match(/(?:^|; )csrftoken=([^;]+)/)?.[1] ?? "";
}

// The answer as {status, body}. Status 0 is no answer at all; so is one that is not ours, such as
// the page of a hotel's network or of a proxy whose server is down.
export async function ask(path, { method = "GET", body, type, limitMs = LIMIT_MS } = {}) {
  const headers = {};
  if (type) headers["Content-Type"] = type;
  if (method !== "GET") headers["X-CSRFToken"] = token();
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), limitMs);
  try {
    const answer = await fetch(ROOT + path, {
      method,
      body,
      headers,
      redirect: "error",
      cache: "no-store",
      signal: stop.signal,
    });
    return await told(answer);
  } catch {
    return { status: 0, body: {} };
  } finally {
    clearTimeout(timer);
  }
}

async function told(answer) {
  const body = await answer.json().catch(() => null);
  const ours = body !== null && typeof body === "object";
  // Refused before any of our views saw it: by the token, or by its size on the way.
  if (!ours && [403, 413].includes(answer.status)) {
    return { status: answer.status, body: answer.status === 403 ? { reason: "csrf" } : {} };
  }
  return ours ? { status: answer.status, body } : { status: 0, body: {} };
}

// The same with a fresh token once, where the one at hand was refused or none is left.
export async function send(path, options) {
  if (token()) {
    const answer = await ask(path, options);
    if (answer.status !== 403 || answer.body.reason !== "csrf") return answer;
  }
  const who = await ask("whoami.json");
  if (who.status !== 200) return who;
  if (!who.body.person) return { status: 401, body: { reason: "signed_out" } };
  return ask(path, options);
}

// Why nothing came of it, in one word.
export function why({ status, body }) {
  if (status === 401) return "signed_out";
  if (status === 403 && body.reason === "revoked") return "revoked";
  if (status === 409 && body.reason === "other_person") return "other_person";
  return status === 200 ? "ok" : "no_answer";
}

// The worker that opens the pages without signal, its new versions, and the promise of the store.

const WORKER = "/field/worker.js";
const ANSWER_MS = 3000;
const LOOK_EVERY_MS = 30 * 60 * 1000;

const listeners = new Set();
const placed = new Set();
let waiting = null;
let applied = false;
let looked = 0;

function offer(worker) {
  waiting = worker;
  listeners.forEach((listener) => listener());
}

function follow(registration, coming) {
  coming?.addEventListener("statechange", () => {
    // The very first one has nobody to wait for and takes its place by itself.
    if (coming.state === "installed" && registration.active) offer(coming);
    if (coming.state === "activated") placed.forEach((listener) => listener());
  });
}

function watch(registration) {
  if (registration.waiting && registration.active) offer(registration.waiting);
  follow(registration, registration.installing);
  registration.addEventListener("updatefound", () => follow(registration, registration.installing));
}

// Put the worker in place; a page shown already never waits for this.
export async function register() {
  if (!navigator.serviceWorker) return null;
  const registration = await navigator.serviceWorker.register(WORKER).catch(() => null);
  // Some browsers are set to answer with nothing at all.
  if (!registration) return null;
  watch(registration);
  looked = performance.now();
  document.addEventListener("visibilitychange", () => look(registration));
  return registration;
}

// An installed app may stay open for days, and only a page load looks for a new version.
function look(registration) {
  if (document.hidden || performance.now() - looked < LOOK_EVERY_MS) return;
  looked = performance.now();
  registration.update().catch(() => {});
}

// Called when a new version lies ready; at once where it already does.
export function onUpdate(listener) {
  listeners.add(listener);
  if (waiting) listener();
  return () => listeners.delete(listener);
}

// Called when a worker has taken its place: from here on the pages open without signal.
export function onPlaced(listener) {
  placed.add(listener);
  return () => placed.delete(listener);
}

// On the person's touch alone: let the new version take over, and load it once.
export function apply() {
  if (!waiting || applied) return;
  applied = true;
  navigator.serviceWorker.addEventListener("controllerchange", () => location.reload(), {
    once: true,
  });
  waiting.postMessage("activate");
}

// Ask the active worker whether it holds every file; it fetches what it has lost.
export async function shell() {
  const registration = await navigator.serviceWorker?.getRegistration("/field/").catch(() => null);
  const worker = registration?.active;
  if (worker?.state !== "activated") return false;
  const { port1, port2 } = new MessageChannel();
  const answer = new Promise((resolve) => {
    port1.onmessage = ({ data }) => resolve(data.missing === 0);
    setTimeout(() => resolve(false), ANSWER_MS);
  });
  worker.postMessage("check", [port2]);
  return answer.finally(() => port1.close());
}

// Ask the browser not to clear the store for room: "granted", "denied" or "unavailable".
export async function persist() {
  if (!navigator.storage?.persist) return "unavailable";
  const granted = (await navigator.storage.persisted()) || (await navigator.storage.persist());
  return granted ? "granted" : "denied";
}

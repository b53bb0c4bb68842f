// Opens the phone's pages without signal. The view that serves this writes above it, for one
// version: VERSION, FILES (addresses), FETCH (how to ask for them), SHELL (the page) and HEADERS.
// It answers the pages and those files, and leaves every other request alone: records, photos and
// lines belong to the page, which keeps them in its own store.
"use strict";

const PREFIX = "thawline-shell-";
const CACHE = PREFIX + VERSION;
const SCOPE = new URL(self.registration.scope).pathname;
const OWN = new Set(FILES);
// In reach of this worker, yet no page: asked by hand they come from the server.
const NO_PAGE = /\.(json|js|webmanifest)$|^(records|photos)\//;

async function fetched(cache, file) {
  const answer = await fetch(file, { cache: FETCH });
  if (!answer.ok) throw new Error(`${file}: ${answer.status}`);
  await cache.put(file, answer.clone());
  return answer;
}

// All or nothing: one file missing and the version before goes on serving.
async function install() {
  const cache = await caches.open(CACHE);
  await Promise.all(FILES.map((file) => fetched(cache, file)));
}

async function activate() {
  const names = await caches.keys();
  const old = names.filter((name) => name.startsWith(PREFIX) && name !== CACHE);
  await Promise.all(old.map((name) => caches.delete(name)));
  await self.clients.claim();
}

// The network is not asked: at one bar it would neither answer nor say no.
function page() {
  return new Response(SHELL, { headers: HEADERS });
}

async function file(path) {
  const cache = await caches.open(CACHE);
  return (await cache.match(path)) ?? fetched(cache, path);
}

// How many files are gone that cannot be had again now.
async function missing() {
  const cache = await caches.open(CACHE);
  const held = await Promise.all(
    FILES.map(async (path) => (await cache.match(path)) ?? fetched(cache, path).catch(() => null)),
  );
  return held.filter((answer) => !answer).length;
}

self.addEventListener("install", (event) => event.waitUntil(install()));
self.addEventListener("activate", (event) => event.waitUntil(activate()));

self.addEventListener("message", (event) => {
  // Only a person's touch in the page asks for this.
  if (event.data === "activate") self.skipWaiting();
  if (event.data === "check") {
    event.waitUntil(missing().then((count) => event.ports[0].postMessage({ missing: count })));
  }
});

self.addEventListener("fetch", (event) => {
  const { method, mode, url } = event.request;
  const { origin, pathname } = new URL(url);
  if (method !== "GET" || origin !== self.location.origin) return;
  if (OWN.has(pathname)) event.respondWith(file(pathname));
  else if (mode === "navigate" && !NO_PAGE.test(pathname.slice(SCOPE.length))) {
    event.respondWith(page());
  }
});

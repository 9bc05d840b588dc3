// The service worker of the field page: keeps the page and its parts so that it opens without a network. It answers for
// these alone; whatever else is asked for goes to the network as if it were not there. The server writes version and
// parts into the two lines below.

const VERSION = "{{ version }}";
const PARTS = {{ parts|safe }};
const NAME = `stationlog-field-${VERSION}`;

self.addEventListener("install", (event) => {
  event.waitUntil((async () => {
    const cache = await caches.open(NAME);
    await cache.addAll(PARTS.map((part) => new Request(part, {cache: "reload", credentials: "same-origin"})));
  })());
});

self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    for (const name of await caches.keys()) {
      if (name.startsWith("stationlog-field-") && name !== NAME) await caches.delete(name);
    }
    await self.clients.claim();
  })());
});

self.addEventListener("message", (event) => {
  if (event.data === "take over") self.skipWaiting();
  if (event.data === "parts") event.source?.postMessage({version: VERSION, parts: PARTS});
});

self.addEventListener("fetch", (event) => {
  const {request} = event;
  if (request.method !== "GET") return;
  const address = new URL(request.url);
  if (address.origin !== self.location.origin || !PARTS.includes(address.pathname)) return;
  event.respondWith((async () => {
    const cache = await caches.open(NAME);
    const kept = await cache.match(address.pathname);
    if (kept) return kept;
    const answer = await fetch(request);
    if (answer.ok) await cache.put(address.pathname, answer.clone());
    return answer;
  })());
});

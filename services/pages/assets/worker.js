// Keeps the page that says what waits on this phone, and the files that it needs. No recipe, no record, no other page.
const KEPT = "stillroom-EDITION";
const files = "FILES";

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(KEPT).then((cache) => cache.addAll([...files, "/offline"])).then(() => self.skipWaiting()));
});
self.addEventListener("activate", (event) => {
  const old = async () => {
    for (const name of await caches.keys()) if (name !== KEPT) await caches.delete(name);
    await self.clients.claim();
  };
  event.waitUntil(old());
});
self.addEventListener("fetch", (event) => {
  const { pathname, origin } = new URL(event.request.url);
  if (origin !== self.location.origin || event.request.method !== "GET") return;
  const otherwise = (kept) => event.respondWith(fetch(event.request).catch(() => caches.match(kept)));
  if (event.request.mode === "navigate" && /^\/batches\/[^/]+\/bench/.test(pathname)) otherwise("/offline");
  else if (files.includes(pathname)) otherwise(event.request);
});

// Keeps the driver's pages and what they need readable without signal. The server
// puts STAMP, a release's name, and SHELL, the addresses of its files, in front.
// Pages are asked for first and taken from here when nothing answers. Nothing but
// /drive is kept, and those pages carry no price.
"use strict";

const FILES = "drive-files-" + STAMP, PAGES = "drive-pages";
const patience = 4000; // ms for a page, when there is a kept one

addEventListener("install", (e) => {
  e.waitUntil(caches.open(FILES).then((c) => c.addAll(SHELL)).then(() => skipWaiting()));
});

addEventListener("activate", (e) => {
  e.waitUntil((async () => {
    for (const name of await caches.keys()) if (name !== FILES && name !== PAGES) await caches.delete(name);
    await clients.claim();
  })());
});

const ours = (path) => path === "/drive" || path.startsWith("/drive/stops/");

// keep puts a good answer away; a redirect to sign in isn't one.
const keep = async (path, answer) => {
  if (answer.ok && !answer.redirected) await (await caches.open(PAGES)).put(path, answer.clone());
  return answer;
};

addEventListener("message", (e) => {
  const pages = e.data.pages;
  if (!Array.isArray(pages)) return;
  e.waitUntil((async () => {
    const cache = await caches.open(PAGES);
    for (const old of await cache.keys()) {
      if (!pages.includes(new URL(old.url).pathname)) await cache.delete(old);
    }
    await Promise.all(pages.filter(ours).map((path) => fetch(path).then((a) => keep(path, a)).catch(() => {})));
    if (e.ports[0]) e.ports[0].postMessage("kept");
  })());
});

addEventListener("fetch", (e) => {
  const url = new URL(e.request.url);
  if (e.request.method !== "GET" || url.origin !== location.origin) return;
  if (SHELL.includes(url.pathname)) {
    e.respondWith(caches.match(url.pathname).then((kept) => kept || fetch(e.request)));
    return;
  }
  if (!ours(url.pathname)) return;
  e.respondWith((async () => {
    const asked = fetch(e.request).then((a) => keep(url.pathname, a));
    const kept = await caches.match(url.pathname, { cacheName: PAGES });
    if (!kept) return asked;
    const late = new Promise((done) => setTimeout(done, patience));
    return (await Promise.race([asked.catch(() => null), late])) || kept;
  })());
});

// Opens again, where the service cannot be reached, the pages of jobs that were open on this phone. It hands out pages
// and their own files alone: what is recorded, and what the service says of it, never comes from here.
// EDITION and FILES stand before this text: the edition of the pages, and every file that they may ask for.

const KEPT = "limitwitness.kept.";
const LIST = "/kept";
const PATIENCE_MS = 8000; // a signal too weak to carry a page is as good as none

const opened = new Set(); // windows whose page came from here: its files do too, so that editions never mix

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

self.addEventListener("fetch", (event) => {
  const { request } = event, at = new URL(request.url);
  if (request.method !== "GET" || at.origin !== location.origin) return;
  if (request.mode === "navigate") event.respondWith(navigated(event, at.pathname));
  else if (at.pathname.startsWith("/static/")) event.respondWith(file(event, at.pathname));
});

// {edition, person, page, now}: a page to keep, and the text of the part of it that changes.
self.addEventListener("message", (event) => event.waitUntil(keepPage(event.data)));

async function navigated(event, path) {
  const here = await kept(path);
  try { return await soon(fetch(event.request), here ? PATIENCE_MS : 0); } catch (error) {
    const page = here ?? (await kept(LIST));
    if (!page) throw error;
    opened.add(event.resultingClientId);
    return page;
  }
}

async function file(event, path) {
  const here = opened.has(event.clientId) ? await kept(path) : null;
  if (here) return here;
  try { return await fetch(event.request); } catch (error) {
    const copy = await kept(path);
    if (copy) return copy;
    throw error;
  }
}

const soon = (answer, patience) => (patience ? Promise.race([answer, new Promise((_, reject) => { setTimeout(() => reject(new Error("too slow")), patience); })]) : answer);

async function kept(path) {
  for (const name of await caches.keys()) {
    if (!name.startsWith(KEPT)) continue;
    const found = await (await caches.open(name)).match(path);
    if (found) return found;
  }
  return undefined;
}

async function keepPage({ edition, person, page, now }) {
  if (edition !== EDITION) return; // the worker of that edition is on its way
  const own = `${KEPT}${EDITION}.${person}`;
  for (const name of await caches.keys()) if (name.startsWith(KEPT) && name !== own) await caches.delete(name);
  const cache = await caches.open(own);
  if (!(await cache.match(LIST))) await cache.addAll([...FILES, LIST]);
  if (!(await cache.match(page))) {
    const whole = await fetch(page, { credentials: "same-origin" });
    if (!whole.ok || whole.redirected) return;
    await cache.put(page, whole);
  }
  if (now) await cache.put(`${page}/now`, new Response(now, { headers: { "Content-Type": "text/html", Date: new Date().toUTCString() } }));
}

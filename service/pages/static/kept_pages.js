// The pages of jobs that this phone keeps, so that one that was closed opens again without connection. They are kept
// for one person at a time and go when that person signs out or anybody signs in.

const KEPT = "limitwitness.kept.";

const possible = () => "serviceWorker" in navigator && "caches" in globalThis;

// Keeps the page of a job with the part that changes, as it is now. Where the browser cannot, nothing happens.
export async function keepPage(page, person, now) {
  if (!possible()) return;
  try {
    await navigator.serviceWorker.register("/worker.js");
    const { active } = await navigator.serviceWorker.ready;
    active.postMessage({ edition: document.documentElement.dataset.edition, person, page, now });
  } catch { /* an authority that this browser does not trust, a browser that keeps nothing */ }
}

// The part that changes as it was kept last, and when; null where there is none.
export async function keptPart(page) {
  for (const cache of await all()) {
    const found = await cache.match(`${page}/now`);
    if (found) return { text: await found.text(), at: new Date(found.headers.get("date")) };
  }
  return null;
}

// Page and tag of every job that is kept.
export async function keptJobs() {
  const jobs = [];
  for (const cache of await all()) {
    for (const { url } of await cache.keys()) {
      const { pathname } = new URL(url);
      if (!/^\/jobs\/[^/]+$/.test(pathname)) continue;
      const page = new DOMParser().parseFromString(await (await cache.match(pathname)).text(), "text/html");
      jobs.push({ page: pathname, tag: page.title.split(" · ")[0], name: page.body.dataset.name });
    }
  }
  return jobs;
}

export async function forgetPages() {
  if (!possible()) return;
  for (const name of await names()) await caches.delete(name);
}

async function names() {
  try { return (await caches.keys()).filter((name) => name.startsWith(KEPT)); } catch { return []; }
}

async function all() {
  return possible() ? Promise.all((await names()).map((name) => caches.open(name))) : [];
}

// Keeps the site on the device, so that it opens without a network. FILES are the site's files by their digests:
// what has not changed is never fetched again, and what is gone is forgotten when this worker takes over.

const KEPT = "benchlore site";
const ROOT = new URL("./", self.location).href;
const AT_ONCE = 6;

const addressOf = (path, digest) => `${ROOT}${path.split("/").map(encodeURIComponent).join("/")}?digest=${digest}`;

async function digestOf(answer) {
  const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", await answer.arrayBuffer()));
  return [...digest].map((each) => each.toString(16).padStart(2, "0")).join("");
}

/** Fetch a file and keep it, if it is the one of this version: the server may have a newer one already. */
async function fetched(cache, path) {
  const address = addressOf(path, FILES[path]);
  const answer = await fetch(address, { cache: "no-cache" });
  if (!answer.ok) throw new Error(`${path}: ${answer.status}`);
  const isOurs = (await digestOf(answer.clone())).startsWith(FILES[path]);
  if (isOurs) await cache.put(address, answer.clone());
  return { answer, isOurs };
}

async function fill() {
  const cache = await caches.open(KEPT);
  const known = new Set((await cache.keys()).map((request) => request.url));
  const missing = Object.keys(FILES).filter((path) => AHEAD.test(path) && !known.has(addressOf(path, FILES[path])));
  const lane = async () => {
    for (let path = missing.pop(); path !== undefined; path = missing.pop()) {
      if (!(await fetched(cache, path)).isOurs) throw new Error(`${path} has changed on the server`);
    }
  };
  await Promise.all(Array.from({ length: AT_ONCE }, lane));
}

async function forget() {
  const cache = await caches.open(KEPT);
  const wanted = new Set(Object.entries(FILES).map(([path, digest]) => addressOf(path, digest)));
  const stale = (await cache.keys()).filter((request) => !wanted.has(request.url));
  await Promise.all(stale.map((request) => cache.delete(request)));
}

/** The file that an address asks for; undefined for what is not the site's. */
function pathOf(address) {
  const url = new URL(address);
  const whole = url.origin + url.pathname;
  if (!whole.startsWith(ROOT)) return undefined;
  const path = decodeURIComponent(whole.slice(ROOT.length));
  const found = path === "" || path.endsWith("/") ? `${path}index.html` : path;
  return Object.hasOwn(FILES, found) ? found : undefined;
}

async function answered(path) {
  const cache = await caches.open(KEPT);
  return (await cache.match(addressOf(path, FILES[path]))) ?? (await fetched(cache, path)).answer;
}

self.addEventListener("install", (event) => event.waitUntil(fill().then(() => self.skipWaiting())));
self.addEventListener("activate", (event) => event.waitUntil(forget().then(() => self.clients.claim())));
self.addEventListener("fetch", (event) => {
  const path = event.request.method === "GET" ? pathOf(event.request.url) : undefined;
  if (path !== undefined) event.respondWith(answered(path).catch(() => fetch(event.request)));
});

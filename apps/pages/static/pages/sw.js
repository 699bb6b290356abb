// Opens the pages of the look where there is no signal. `KEPT` is written in front of this by the
// service: {version, look, outbox, files}. Everything else comes from the network.

const SHELL = `shell-${KEPT.version}`;
const DAYS = "days"; // pages and sheets of kept days, which the page of a visit puts there
const isLook = (path) => /^\/visits\/[^/]+\/look$/.test(path);
const isShell = (path) => isLook(path) || path === KEPT.outbox;

addEventListener("install", (event) => event.waitUntil(keepShell()));

async function keepShell() {
  const shell = await caches.open(SHELL);
  const requests = [KEPT.look, KEPT.outbox, ...KEPT.files];
  await shell.addAll(requests.map((address) => new Request(address, { cache: "reload" })));
}

// A new version waits until nobody is in the middle of a look: pages ask for it (`phone.js`).
addEventListener("message", (event) => {
  if (event.data === "take over") event.waitUntil(takeOver());
});

async function takeOver() {
  const open = await clients.matchAll({ type: "window", includeUncontrolled: true });
  if (!open.some((page) => isShell(new URL(page.url).pathname))) await skipWaiting();
}

addEventListener("activate", (event) => event.waitUntil(begin()));

async function begin() {
  const old = (await caches.keys()).filter((name) => name.startsWith("shell-") && name !== SHELL);
  await Promise.all(old.map((name) => caches.delete(name)));
  await clients.claim();
}

addEventListener("fetch", (event) => {
  const { request } = event;
  const { origin, pathname } = new URL(request.url);
  if (request.method !== "GET" || origin !== location.origin) return;
  if (request.mode === "navigate" && isShell(pathname)) {
    event.respondWith(fromShell(isLook(pathname) ? KEPT.look : KEPT.outbox, request));
  } else if (KEPT.files.includes(pathname)) {
    event.respondWith(file(event));
  } else if (request.mode === "navigate") {
    event.respondWith(page(request));
  }
});

async function fromShell(address, request) {
  const shell = await caches.open(SHELL);
  return (await shell.match(address)) ?? fetch(request);
}

// The pages of the look have the scripts of their own version; other pages the newest there are.
async function file(event) {
  const asking = await clients.get(event.clientId);
  const ofLook = asking && isShell(new URL(asking.url).pathname);
  const { pathname } = new URL(event.request.url);
  if (ofLook) return fromShell(pathname, event.request);
  try {
    return await fetch(event.request);
  } catch {
    return fromShell(pathname, event.request);
  }
}

async function page(request) {
  try {
    return await fetch(request);
  } catch (error) {
    const days = await caches.open(DAYS);
    const kept = await days.match(request, { ignoreVary: true });
    if (kept) return kept;
    if (new URL(request.url).pathname.startsWith("/api/")) throw error;
    return Response.redirect(KEPT.outbox);
  }
}

// Lets pages of jobs, inspections and rounds open without signal. VERSION and SHELL are put in front by the server.
//
// shell-VERSION   static files that every page needs; replaced as a whole with a new version
// jobs-ACCOUNT    what this account opened here: jobs and inspections, their drawings and photographs
// whose           which account the copies may be shown to; nobody after sign-out
"use strict";
const SHELL_CACHE = `shell-${VERSION}`;
const WHOSE = "whose";
const PATIENCE = 4_000;
const KEPT_DAYS = 60;
const LANES = 4;
// Pages that are kept when they are opened: a job, the inspection of a joint, a round of joints.
const KEPT = /^\/(jobs\/[0-9a-f-]{36}|joints\/[0-9a-f-]{36}\/inspect|rounds\/[^/]+)(\/|$)/;

// A network that asks people to sign in answers anything, with 200 and pages of its own.
const isOurs = (answer) => answer.ok && answer.headers.has("X-Splicewright");

self.addEventListener("install", (event) => {
  event.waitUntil((async () => {
    const cache = await caches.open(SHELL_CACHE);
    await Promise.all(SHELL.map(async (url) => {
      const answer = await fetch(url);
      // This worker is then not installed: the one before goes on.
      if (!isOurs(answer)) throw new Error(`${url} did not come from the register`);
      await cache.put(url, answer);
    }));
    await self.skipWaiting();
  })());
});

self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    for (const name of await caches.keys()) {
      if (name.startsWith("shell-") && name !== SHELL_CACHE) await caches.delete(name);
    }
    await self.clients.claim();
  })());
});

// Whose copies may be shown

async function whose() {
  const cache = await caches.open(WHOSE);
  const kept = await cache.match("/account");
  return kept ? kept.text() : "";
}

// The copies of everybody else are deleted before anything is kept for this account.
async function belongTo(account) {
  if (!account || (await whose()) === account) return;
  for (const name of await caches.keys()) {
    if (name.startsWith("jobs-") && name !== `jobs-${account}`) await caches.delete(name);
  }
  if (await whose()) await tellNoMore();
  await (await caches.open(WHOSE)).put("/account", new Response(account));
}

async function forgetAll() {
  for (const name of await caches.keys()) {
    if (name.startsWith("jobs-")) await caches.delete(name);
  }
  await caches.delete(WHOSE);
  await tellNoMore();
}

// What somebody asked to be told here is not shown to whoever comes next: the server ends it with
// their session, and the browser gives up its place, with what is on the way to it.
async function tellNoMore() {
  try {
    await (await self.registration.pushManager?.getSubscription())?.unsubscribe();
  } catch { /* the server sends nothing any more */ }
}

// Keeping

// Keep an answer if it is a page of the account that the copies belong to.
async function keepAnswer(request, answer) {
  const account = answer.headers.get("X-Account");
  if (!isOurs(answer) || answer.status !== 200 || answer.redirected || !account) return;
  await belongTo(account);
  await (await caches.open(`jobs-${account}`)).put(request, answer);
}

// place: path of a job or joint, which all its addresses begin with
async function keepPlace({ account, job, place, urls }) {
  // A page that was loading while this worker started has no worker yet.
  await self.clients.claim();
  await belongTo(account);
  const cache = await caches.open(`jobs-${account}`);
  const came = { failed: 0, now: 0 };
  const rest = urls.values();
  await Promise.all(Array.from({ length: LANES }, async () => {
    for (const url of rest) {
      const kept = await keepOne(cache, account, url, came);
      if (!kept) came.failed += 1; // counted after the wait: the lanes share the count
    }
  }));
  await note(cache, place || `/jobs/${job}`, came.now); // a page of an earlier version says which job
  return { failed: came.failed };
}

// Whether the cache has what stands under an address, anew where it may have changed.
async function keepOne(cache, account, url, came) {
  const lasting = url.includes("?") || url.startsWith("/photographs/");
  if (lasting && (await cache.match(url))) return true;
  try {
    // What every page needs is here already: no second way over a weak signal.
    const answer = (lasting && (await (await caches.open(SHELL_CACHE)).match(url))) ||
      (await fetch(url, { credentials: "same-origin", cache: "no-cache",
        headers: { Accept: "text/html, */*" } }));
    if (!isOurs(answer) || answer.redirected) throw new Error(String(answer.status));
    const of = answer.headers.get("X-Account");
    if (of && of !== account) throw new Error("another account");
    if (!lasting) came.now = Math.max(came.now, Date.parse(answer.headers.get("Date")) || 0);
    await cache.put(url, answer);
    return true;
  } catch {
    return Boolean(await cache.match(url));
  }
}

// Remember when a job or joint was opened; copies of what was not opened for long are let go.
// now: by the server's clock, which a phone's own may be days off; 0 where it was not heard
async function note(cache, place, now) {
  if (!now) return;
  const kept = await cache.match("/opened");
  const opened = kept ? await kept.json() : {};
  opened[place] = now;
  for (const [other, at] of Object.entries(opened)) {
    if (now - at < KEPT_DAYS * 86_400_000) continue;
    delete opened[other];
    for (const request of await cache.keys()) {
      const path = new URL(request.url).pathname;
      if (path.startsWith(other.includes("/") ? other : `/jobs/${other}`)) await cache.delete(request);
    }
  }
  await cache.put("/opened", new Response(JSON.stringify(opened)));
}

self.addEventListener("message", (event) => {
  const work = {
    account: () => belongTo(event.data.account),
    keep: () => keepPlace(event.data),
  }[event.data.type];
  if (work) {
    event.waitUntil((async () => {
      let answer = null;
      try {
        answer = await work();
      } catch (error) {
        answer = { failed: -1, why: String(error) };
      }
      event.ports[0]?.postMessage(answer || {});
    })());
  }
});

// Telling (web push)

self.addEventListener("push", (event) => {
  let told = {};
  try {
    told = event.data.json();
  } catch { /* shown all the same: browsers ask for it */ }
  event.waitUntil(self.registration.showNotification(told.title || "There is something to know", {
    body: told.body || "", data: told.path || "/", icon: "/static/icon-192.png",
  }));
});

self.addEventListener("notificationclick", (event) => {
  event.notification.close();
  const place = new URL(event.notification.data, self.location.origin);
  event.waitUntil(self.clients.openWindow(place.origin === self.location.origin ? place.href : "/"));
});

// Answering

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (url.origin !== self.location.origin) return;
  if (request.method === "POST" && ["/sign-in", "/sign-out"].includes(url.pathname)) {
    event.respondWith(change(request, url));
  } else if (url.pathname === "/sync" || url.pathname.endsWith("/state")) {
    event.respondWith(asked(request)); // the page keeps a state itself, with the time it was heard
  } else if (request.method !== "GET") {
    return;
  } else if (url.pathname.startsWith("/static/")) {
    event.respondWith(fromShell(request));
  } else if (url.pathname.startsWith("/photographs/") || url.pathname.includes("/drawings/") ||
      url.pathname.endsWith("/inspect/condensed")) {
    event.respondWith(copyFirst(event, request));
  } else if (request.mode === "navigate") {
    event.respondWith(networkFirst(event, request, url));
  }
});

// How many entries wait to be sent: of an account, or of all; null where the store does not answer.
async function entriesWait(account) {
  try {
    return await new Promise((resolve, reject) => {
      setTimeout(resolve, 2 * PATIENCE, null);
      const opens = indexedDB.open("splicewright");
      opens.onupgradeneeded = () => opens.transaction.abort(); // nothing was kept here yet
      opens.onerror = reject;
      opens.onsuccess = () => {
        const db = opens.result;
        const asks = db.transaction("outbox").objectStore("outbox").index("account").count(account || undefined);
        asks.onsuccess = () => { db.close(); resolve(asks.result); };
        asks.onerror = () => { db.close(); reject(asks.error); };
      };
    });
  } catch {
    return 0;
  }
}

// Before a session ends or begins, nothing kept may be shown to whoever comes next.
async function change(request, url) {
  const ends = url.pathname === "/sign-out";
  // The page asks too; a page of an earlier version may not.
  const account = await whose();
  if (ends && !url.searchParams.has("hand-over") && account && (await entriesWait(account))) {
    return new Response(
      "Not signed out: entries on this phone have not been sent. Go back; they are listed there.",
      { status: 409, headers: { "Content-Type": "text/plain; charset=utf-8" } });
  }
  if (ends) await forgetAll();
  else await caches.delete(WHOSE);
  try {
    return await fetch(request);
  } catch {
    const say = ends
      ? "The copies of jobs on this phone are gone. There is no signal: the session itself ends " +
        "when you sign out again with signal. Entries that wait are kept and sent when you sign in."
      : "There is no signal: signing in needs it. Entries that wait are kept.";
    return plainPage("No signal", `<p>${say}</p>`);
  }
}

async function fromShell(request) {
  const shell = await caches.open(SHELL_CACHE);
  const kept = (await shell.match(request)) || (await copyOf(request));
  return kept || fetch(request);
}

async function copyOf(request) {
  const account = await whose();
  if (!account) return undefined;
  return (await caches.open(`jobs-${account}`)).match(request);
}

// Signed out from elsewhere (a lost phone, a new password, a closed account): the copies go. Entries
// that wait stay, until whoever made them signs in.
async function asked(request) {
  const answer = await fetch(request);
  if (answer.headers.get("X-Forget")) await forgetAll();
  return answer;
}

async function copyFirst(event, request) {
  const kept = await copyOf(request);
  if (kept) return kept;
  const answer = await asked(request);
  // Kept for a job that is on the phone already: what belongs to it comes along.
  event.waitUntil(keepAnswer(request, answer.clone()));
  return answer;
}

async function networkFirst(event, request, url) {
  const isKept = KEPT.test(url.pathname);
  const coming = asked(request);
  coming.catch(() => {});
  const place = url.origin + url.pathname;
  const kept = isKept ? await copyOf(place) : undefined;
  try {
    const answer = await (kept ? Promise.race([coming, soon()]) : coming);
    // Of a redirection nothing can be read; it is followed as without this worker.
    if (kept && answer.ok && !isOurs(answer)) return kept;
    if (isKept) event.waitUntil(keepAnswer(place, answer.clone()).catch(() => {}));
    return answer;
  } catch {
    return kept || noSignal();
  }
}

// A weak signal that brings nothing is no signal.
function soon() {
  return new Promise((_, reject) => setTimeout(() => reject(new Error("too slow")), PATIENCE));
}

const TITLED = /^\/(jobs\/[0-9a-f-]{36}|joints\/[0-9a-f-]{36}\/inspect|rounds\/[^/]+)$/;

async function noSignal() {
  const account = await whose();
  const found = [];
  if (account) {
    const cache = await caches.open(`jobs-${account}`);
    for (const request of await cache.keys()) {
      const path = new URL(request.url).pathname;
      if (!TITLED.test(path)) continue;
      const title = /<title>(.*?) · /.exec(await (await cache.match(request)).text());
      found.push(`<li><a href="${path}"><b>${title ? title[1] : "Job"}</b></a></li>`);
    }
  }
  const list = found.length
    ? `<p>These jobs and inspections are on this phone:</p><ul class="cards">${found.join("")}</ul>`
    : "<p>No job is on this phone, and no inspection. What was opened once with signal opens without.</p>";
  const waits = await entriesWait();
  const told = waits === null ? "The phone's storage does not answer: whether entries wait on this phone is not known."
    : waits ? `${waits} ${waits === 1 ? "entry waits" : "entries wait"} on this phone, kept and sent when there is signal.`
    : "Nothing waits on this phone to be sent.";
  return plainPage("No signal", `${list}<p>${told}</p>`);
}

function plainPage(title, body) {
  const sheet = SHELL.find((name) => name.includes("splicewright.css"));
  const html = `<!doctype html><html lang="en"><head><meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark"><title>${title}</title>
<link rel="stylesheet" href="${sheet}"></head>
<body><header class="top"><a class="brand" href="/">Splicewright</a></header>
<main id="main"><h1>${title}</h1>${body}</main></body></html>`;
  return new Response(html, { status: 503, headers: {
    "Content-Type": "text/html; charset=utf-8",
    "Content-Security-Policy": "default-src 'none'; style-src 'self'; form-action 'self'; base-uri 'none'",
  } });
}

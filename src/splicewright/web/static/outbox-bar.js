// The bar that says what waits on this phone, on every page; and the service worker's start.
(() => {
  "use strict";
  const { outbox, underFinger: { steady } } = window.splicewright;

  const TROUBLE = {
    signal: "no signal.",
    "sign-in": "sign in again to send.",
    other: "made under another account.",
    role: "your role may not record.",
    server: "the server does not answer as it should.",
    between: "something between this phone and the register answers in its place: a network that wants you to sign in?",
    "server-full": "the server's disk is full; nothing is recorded there.",
    "phone-full": "this phone has no room left.",
  };

  function element(name, text, className) {
    const made = document.createElement(name);
    if (text) made.textContent = text;
    if (className) made.className = className;
    return made;
  }

  function button(text, act) {
    const made = element("button", text, "second");
    made.type = "button";
    made.addEventListener("click", act);
    return made;
  }

  const entries = (n) => (n === 1 ? "1 entry" : `${n} entries`);

  const place = element("section", "", "outbox");
  place.id = "outbox";
  place.setAttribute("aria-label", "Entries on this phone");
  place.hidden = true;
  const words = element("p", "", "outbox-words");
  words.setAttribute("role", "status");
  const act = element("div", "", "row");
  const stuck = element("div", "", "outbox-stuck");
  const failed = element("div", "", "faults");
  failed.setAttribute("role", "alert");
  failed.hidden = true;
  const told = element("div", "", "outbox-told");
  told.setAttribute("role", "alert");
  told.hidden = true;
  const silent = element("p", "", "faults");
  silent.setAttribute("role", "alert");
  silent.hidden = true;
  place.append(failed, silent, told, words, act, stuck);
  document.getElementById("main")?.before(place);

  // Say that something was not saved; it stays until somebody has read it.
  function fail(text) {
    failed.replaceChildren(element("p", text), button("I have read it", () => {
      failed.hidden = true;
      show();
    }));
    place.classList.remove("quiet"); // it stays in sight
    steady(() => { failed.hidden = place.hidden = false; });
  }

  const when = (at) => new Date(at).toLocaleString("sv-SE", { dateStyle: "short", timeStyle: "short" })
    .replaceAll("-", "\u2011").replace(" ", "\u00a0");

  function lasting(seconds) {
    if (seconds < 5400) return `${Math.round(seconds / 60)} min`;
    return seconds < 129_600 ? `${Math.round(seconds / 3600)} h` : `${Math.round(seconds / 86_400)} days`;
  }

  // What the browser or the register lost, and what the server found: it stays until somebody has read it.
  const NOTICE = {
    verdict: ({ sentences }) => sentences.join(" "),
    lost: ({ waits, heard }) => "The browser has deleted what was kept on this phone. " +
      (waits ? `${entries(waits)} had not been sent` : "Nothing waited") +
      (heard ? ` when the register last heard from it (${when(heard)}); what was written down without signal since then is gone too. `
        : `${waits ? " and must be taken as lost" : ""}. `) +
      "Compare the job with your paper, and write down again what is missing.",
    elsewhere: ({ phones }) => phones.map((p) =>
      `${p.device} of yours last said on ${when(p.heard)} that ${entries(p.waits)} had not been sent. ` +
      "If that was this phone, its browser has deleted them: write them down again.").join(" "),
    restored: (n) => "The register was set back to an older copy of itself. " +
      `What it had lost of yours is sent again (${entries(n.entries)}). What was recorded on other pages since then has to be recorded again.`,
  };

  async function showNotices() {
    const { known } = outbox, off = known.clockOff();
    const lines = (await known.notices()).map((kept) => {
      const line = element("div", "", "faults");
      line.append(element("p", NOTICE[kept.kind](kept)), button("I have read it", async () => {
        await known.read(kept.kind);
        show();
      }));
      return line;
    });
    if (off) {
      lines.push(element("p", `This phone's clock is ${lasting(Math.abs(off) / 1000)} ${off > 0 ? "ahead of" : "behind"} ` +
        "the register's: one of them is wrong. What is written down carries the phone's time.", "note warn"));
    }
    const said = lines.map((line) => line.textContent).join();
    steady(() => {
      if (said !== told.dataset.said) told.replaceChildren(...lines);
      told.dataset.said = said;
      told.hidden = !lines.length;
    });
    return lines.length;
  }

  function sentence(found) {
    const { waits, person, others } = found;
    const { trouble, sending, sent } = outbox.state;
    const parts = [];
    const verb = waits.length === 1 ? "waits" : "wait";
    if (waits.length && (trouble === "signal" || !navigator.onLine)) {
      parts.push(`${entries(waits.length)} ${verb} for signal.`);
    } else if (waits.length && trouble) {
      parts.push(`${entries(waits.length)} ${verb}: ${TROUBLE[trouble]}`);
    } else if (waits.length && sending) {
      parts.push(`Sending ${entries(waits.length)}.`);
    } else if (waits.length && !person.length) {
      parts.push(`${entries(waits.length)} ${verb} to be sent.`);
    }
    const heldUp = waits.length && person.length && !parts.length;
    if (person.length) {
      parts.push(`${entries(person.length)} ${person.length === 1 ? "needs" : "need"} a person.`);
    }
    if (heldUp) parts.push(`${entries(waits.length)} ${verb} until then.`);
    if (others.length) {
      const names = [...new Set(others.map((r) => r.by || "another account"))].join(", ");
      parts.push(`${entries(others.length)} of ${names} on this phone: sent when they sign in.`);
    }
    if (!parts.length && sent) parts.push("Everything is sent.");
    return parts.join(" ");
  }

  function stuckLine(record) {
    const line = element("div", "", "card");
    const at = when(record.at);
    line.append(element("p", `${record.words} (${at})`), element("p", record.faults.join("; "), "bad"));
    const row = element("div", "", "row");
    row.append(
      button("Send again", () => outbox.sendAgain(record.seq)),
      button("Set aside", () => {
        if (confirm("Set this entry aside? It stays on this phone and is not sent.")) {
          outbox.setAside(record.seq);
        }
      }));
    line.append(row);
    return line;
  }

  // Said at once, whatever else of the bar waits for the store.
  function showSilence() {
    const { silent: is, unkept } = outbox.state;
    const text = is ? "The phone's storage does not answer. " +
      (unkept ? `${entries(unkept)} ${unkept === 1 ? "is" : "are"} on this page only: leave it open, and ` +
        `${unkept === 1 ? "it is" : "they are"} saved as soon as the storage answers. ` : "") +
      "Close other tabs of this app. If this stays, write on paper what you do, then close the browser and open it again." : "";
    if (silent.textContent !== text) silent.textContent = text;
    silent.hidden = !is;
    if (!is) return;
    place.hidden = false;
    place.classList.remove("quiet");
  }

  let showing = false, anew = false, keepsNothing = false;

  // What changes while it is shown is shown once more, not once for each change.
  async function show() {
    anew = true;
    if (showing) return;
    showing = true;
    try {
      while (anew) {
        anew = false;
        await showOnce();
      }
    } finally {
      showing = false; // whatever went wrong, the next change is shown
    }
  }

  async function showOnce() {
    let found, notices;
    try {
      found = await outbox.waiting();
      notices = await showNotices();
    } catch (error) {
      if (keepsNothing || outbox.state.silent) return undefined; // said once
      keepsNothing = true;
      return fail(`This browser keeps nothing (${error.name}): what you write down is sent at once, or not at all. ` +
        "Without signal, write on paper.");
    }
    steady(() => showFound(found, notices));
    return undefined;
  }

  function showFound(found, notices) {
    const said = sentence(found);
    if (words.textContent !== said) words.textContent = said;
    place.hidden = !said && failed.hidden && silent.hidden && !notices;
    const says = !failed.hidden || !silent.hidden;
    place.classList.toggle("quiet", !found.waits.length && !found.person.length && !notices && !says);
    place.classList.toggle("long", found.person.length > 0 || notices > 0);
    const acts = [];
    if (found.waits.length) acts.push(button("Send now", () => outbox.flush()));
    if (found.waits.length && outbox.state.trouble === "sign-in") {
      const link = element("a", "Sign in again", "button second");
      link.href = `/sign-in?next=${encodeURIComponent(location.pathname)}`;
      acts.push(link);
    }
    if (act.childElementCount !== acts.length) act.replaceChildren(...acts);
    if (found.person.length || stuck.firstChild) {
      stuck.replaceChildren(...found.person.map(stuckLine));
    }
  }

  // Ask the service worker for something and wait for its answer.
  async function tellWorker(message) {
    const registration = await navigator.serviceWorker.ready;
    const worker = registration.active;
    return new Promise((resolve) => {
      const channel = new MessageChannel();
      channel.port1.onmessage = (event) => resolve(event.data);
      worker.postMessage(message, [channel.port2]);
    });
  }

  // Say whether all that was to be kept of a page is there for it, now and when its worker comes.
  // WebKit hands none to a page that was on its way while the worker started: nothing kept comes to
  // that page before it is opened again.
  function sayKept(all, say = () => {}) {
    const tell = () => {
      const kept = all && Boolean(navigator.serviceWorker.controller);
      document.documentElement.dataset.kept = String(kept);
      say(kept);
    };
    tell();
    navigator.serviceWorker.addEventListener("controllerchange", tell);
  }

  // Signing out would throw away the copies that what waits belongs to: it is refused, or handed
  // over by somebody who has read what stays here.
  async function signOut(event) {
    const form = event.target;
    if (!form.matches('form[action^="/sign-out"], form[action="/me/sign-out-everywhere"]')) return;
    if (form.dataset.handsOver) return;
    event.preventDefault();
    let own = [], unknown = "";
    try {
      const found = await outbox.waiting();
      own = [...found.waits, ...found.person];
    } catch {
      // Where nothing is kept nothing waits.
      if (outbox.state.silent) unknown = "the phone's storage does not answer, so nobody can say whether entries of yours wait.";
    }
    if (!own.length && !unknown) {
      form.dataset.handsOver = "yes";
      form.requestSubmit();
      return;
    }
    const list = element("ul");
    list.append(...own.slice(0, 8).map((r) => element("li", `${r.words} (${when(r.at)})`)));
    if (own.length > 8) list.append(element("li", `and ${own.length - 8} more`));
    const row = element("div", "", "row");
    row.append(button("Stay signed in", () => {
      failed.hidden = true;
      show();
    }));
    const waits = unknown || `${entries(own.length)} of yours ${own.length === 1 ? "has" : "have"} not been sent.`;
    const said = [element("p", `Not signed out: ${waits}`), list];
    if (navigator.onLine) {
      said.push(element("p", "Handed over, they stay on this phone and are sent when you sign in on it again."));
      row.append(button("Send now", () => outbox.flush()), button("Hand over and sign out", () => {
        form.dataset.handsOver = "yes";
        if (form.getAttribute("action") === "/sign-out") form.action = "/sign-out?hand-over=1";
        form.requestSubmit();
      }));
    } else {
      said.push(element("p", "There is no signal. Sign out when they are sent."));
    }
    failed.replaceChildren(...said, row);
    failed.hidden = false;
    place.hidden = false;
    form.closest("details")?.removeAttribute("open"); // the menu would cover it
    place.scrollIntoView({ block: "nearest" });
  }

  async function start() {
    document.addEventListener("submit", signOut);
    outbox.onChange(showSilence);
    outbox.onChange(show);
    window.addEventListener("online", show);
    window.addEventListener("offline", show);
    Dexie.liveQuery(() => outbox.db.outbox.count()).subscribe({ next: show, error: show });
    outbox.flush();
    // The page itself goes first.
    if (document.readyState !== "complete") {
      await new Promise((loaded) => window.addEventListener("load", loaded, { once: true }));
    }
    // Now the register hears of this phone, if it did not with what waited.
    outbox.flush().then(outbox.forgetOldReceipts).then(show).catch(() => {});
    if (navigator.serviceWorker) {
      beginWorker();
      tellWorker({ type: "account", account: outbox.account() }).catch(() => {});
    }
  }

  // A signal that breaks off while it is fetched leaves none: without it the page works, and opens
  // not offline.
  async function beginWorker(pause = 5_000) {
    const later = () => setTimeout(beginWorker, pause, Math.min(2 * pause, 300_000));
    try {
      const worker = await navigator.serviceWorker.register("/service-worker.js", { scope: "/" });
      worker.installing?.addEventListener("statechange", ({ target }) => {
        if (target.state === "redundant" && !worker.active) later();
      });
    } catch (error) {
      console.warn(`no service worker yet: ${error.message}`);
      later();
    }
  }

  Object.assign(window.splicewright, { bar: { fail, sayKept, steady, tellWorker } });
  start();
})();

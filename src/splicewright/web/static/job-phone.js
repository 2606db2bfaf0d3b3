// The phone under a job: how old what it shows is, what is new from others, that it is kept for
// work without signal.
(() => {
  "use strict";
  const { bar, outbox, step: { clock, element, fill, hide, who } } = window.splicewright;
  const byId = (id) => document.getElementById(id);

  const WHY = {
    signal: "No signal.",
    server: "The server does not answer as it should.",
    "sign-in": "You are signed out.",
    between: "Something between this phone and the register answers in its place: a network that wants you to sign in?",
  };

  function age(since) {
    const minutes = Math.max(0, Math.round((Date.now() - since) / 60_000));
    if (minutes < 2) return "just now";
    if (minutes < 60) return `${minutes} min old`;
    if (minutes < 48 * 60) return `${Math.round(minutes / 60)} h old`;
    return `${Math.round(minutes / 1440)} days old`;
  }

  // why: "" when the page is as the register has it; else what stands between
  // again: entries that say why the job was planned again
  function showCopy(heard, why, again) {
    const place = byId("copy");
    place.hidden = !why;
    place.className = "note warn";
    if (!why) return;
    if (why === "plan") {
      const last = again?.at(-1);
      place.replaceChildren(element("b", "The job was planned again. "),
        last ? `${last.why} (${who(last)}). ` : "",
        "This page shows the version before. What you wrote down is kept. ");
      const link = element("a", "Load the new plan", "button");
      link.href = location.pathname;
      place.append(link);
      return;
    }
    place.textContent = `${WHY[why]} This is the copy on the phone, ${age(heard)} ` +
      `(${clock(heard)}). What you write down is kept here and sent later.`;
    if (why === "sign-in") {
      const link = element("a", "Sign in again", "tap");
      link.href = `/sign-in?next=${encodeURIComponent(location.pathname)}`;
      place.append(" ", link);
    }
  }

  // Entries that the plan of this page does not ask for, and what was done by an earlier version
  // at steps that it asks otherwise.
  function showStrays(state, steps, overtaken) {
    const known = new Set(steps.map((s) => s.key));
    const asked = new Set(steps.flatMap((s) => s.boxes.map((b) => `${s.key}/${b.what}`)));
    const lines = [];
    for (const { entries } of state.values) {
      const last = entries.at(-1);
      if (!asked.has(`${last.step}/${last.what}`)) {
        lines.push(`${last.step}, ${last.what}, box ${last.box}: ${last.typed} (${who(last)})`);
      }
    }
    for (const { entries } of state.ticks) {
      const last = entries.at(-1);
      if (!known.has(last.step)) lines.push(`${last.step}: ${last.done ? "done" : "not done"} (${who(last)})`);
    }
    for (const entry of state.holds) {
      if (!known.has(entry.step)) lines.push(`${entry.step}: signed "${entry.statement}" (${who(entry)})`);
    }
    for (const entry of state.photos) {
      if (!known.has(entry.step) && steps.length) lines.push(`${entry.step || "job"}: photograph (${who(entry)})`);
    }
    for (const entry of overtaken) {
      const step = steps.find((s) => s.key === entry.step);
      const what = entry.statement ? `signed "${entry.statement}"`
        : `${entry.line ? `line ${entry.line} ` : ""}${entry.done ? "done" : "not done"}`;
      lines.push(`${step ? `step ${step.number}, ${step.title}` : entry.step}: ${what} (${who(entry)})`);
    }
    hide(byId("strays"), !lines.length);
    fill(byId("strays").querySelector("ul"), lines.map((l) => element("li", l)));
  }

  let device = "", seen = null;

  const rememberSeen = (data) =>
    outbox.db.meta.put({ name: `seen:${data.account}:${data.job}`, value: seen }).catch(() => {});

  // What others wrote since this phone last said it had seen it.
  function showNews(state, data, steps) {
    if (seen === null) return;
    const titles = new Map(steps.map((s) => [s.key, `step ${s.number}, ${s.title}`]));
    const told = [];
    const add = (entry, words) => {
      if (entry.seq > seen && (entry.device !== device || entry.by !== data.by)) {
        told.push([entry.seq, `${titles.get(entry.step) || "job"}: ${words} (${who(entry)})`]);
      }
    };
    for (const { entries } of state.ticks) {
      for (const e of entries) add(e, `${e.line ? `line ${e.line} ` : ""}${e.done ? "done" : "not done"}`);
    }
    for (const { entries } of state.values) {
      for (const e of entries) add(e, `${e.what}, box ${e.box}: ${e.typed}`);
    }
    for (const e of state.holds) add(e, "hold point signed");
    for (const e of state.photos) add(e, "photograph");
    for (const e of state.comments || []) add(e, `comment: ${e.text}`);
    for (const e of state.again || []) add(e, `planned again: ${e.why}`);
    for (const e of state.handed) add(e, `handed over to ${e.to}${e.note ? `: ${e.note}` : ""}`);
    for (const e of state.signed) add(e, `signed off: ${e.role}`);
    told.sort((a, b) => b[0] - a[0]);
    const list = byId("news").querySelector("ul");
    list.replaceChildren(...told.slice(0, 12).map(([, words]) => element("li", words)));
    if (told.length > 12) list.append(element("li", `and ${told.length - 12} more`));
    byId("news").hidden = !told.length;
    byId("news-seen").onclick = async () => {
      seen = state.version;
      byId("news").hidden = true;
      await rememberSeen(data);
    };
  }

  const onThePhone = new Set();
  let begun = false;
  const addressOf = (photo) => `/photographs/${photo.photo}`;

  // Photographs that came to the register since the page was opened, from this phone or another.
  async function keepPhotos(data, photos) {
    const fresh = photos.map(addressOf).filter((address) => !onThePhone.has(address));
    if (!begun || !fresh.length || !navigator.serviceWorker) return;
    const answer = await bar.tellWorker(
      { type: "keep", account: data.account, job: data.job, urls: fresh });
    if (answer?.failed === 0) fresh.forEach((address) => onThePhone.add(address));
  }

  async function keep(data) {
    const place = byId("kept");
    if (!navigator.serviceWorker) {
      place.textContent = "This address is not served by HTTPS: without signal the page can not be " +
        "opened again. Leave it open; what you write down is kept.";
      return;
    }
    const photos = data.state.photos.map(addressOf);
    const answer = await bar.tellWorker({
      type: "keep", account: data.account, job: data.job,
      urls: [location.pathname, ...data.keep, ...photos],
    });
    begun = true;
    if (answer?.failed === 0) photos.forEach((address) => onThePhone.add(address));
    bar.sayKept(answer?.failed === 0, (kept) => {
      place.textContent = kept
        ? "This job is on the phone: it opens without signal."
        : "This job is not wholly on the phone yet; open it again with signal.";
    });
  }

  // makeAll: makes what stands in steps that were not opened yet
  async function start(data, makeAll) {
    device = await outbox.deviceName();
    byId("device").value = device;
    byId("phone-form").addEventListener("submit", async (event) => {
      event.preventDefault();
      device = byId("device").value.trim() || device;
      byId("device").value = device;
      await outbox.setDeviceName(device);
    });
    const kept = await outbox.db.meta.get(`seen:${data.account}:${data.job}`).catch(() => undefined);
    // A register set back to an older copy knows less than was seen of it.
    seen = kept ? Math.min(kept.value, data.state.version) : data.state.version;
    if (!kept) await rememberSeen(data);
    window.addEventListener("beforeprint", () => {
      makeAll();
      for (const step of document.querySelectorAll("details.step")) step.open = true;
    });
    const promised = await navigator.storage?.persisted?.();
    byId("promise").textContent = !(await outbox.keeps())
      ? "This browser keeps nothing: what you write down is sent at once, or not at all."
      : promised
      ? "The browser has promised to keep what is written down here."
      : "The browser keeps what is written down here as long as the phone has room; it has not " +
        "promised more. Do not clear its data while entries wait.";
    await keep(data);
  }

  Object.assign(window.splicewright, { jobPhone: { keepPhotos, showCopy, showNews, showStrays, start } });
})();

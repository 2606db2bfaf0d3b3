// Tapping plates. The list of selects is what is sent; the picture only turns them. What is
// tapped and typed stays on this device until it is recorded.
"use strict";
(() => {
  const sent = document.querySelector("[data-sent]");
  const keyOf = (joint) => `splicewright inspection ${joint}`;
  const store = {
    get: (key) => { try { return localStorage.getItem(key); } catch { return null; } },
    set: (key, value) => { try { localStorage.setItem(key, value); } catch { /* no room: the page still holds it */ } },
    drop: (key) => { try { localStorage.removeItem(key); } catch { /* nothing to drop */ } },
  };
  const route = window.splicewright.round;
  if (sent) {
    store.drop(keyOf(sent.dataset.sent));
    route.done(sent.dataset.sent);
  }
  route.show(document.getElementById("round"), sent?.dataset.sent);
  const form = document.getElementById("inspection");
  if (!form) return;
  const key = keyOf(form.dataset.joint);
  const { reading, underFinger } = window.splicewright, kinds = JSON.parse(form.dataset.kinds);
  const STATES = ["ok", "worn", "cracked", "lost"];
  const KEYS = { o: "ok", w: "worn", c: "cracked", l: "lost" };
  // A verdict speaks of what was said when it was asked for: what is said since crosses it out at
  // once, until the answer for it is here.
  const verdict = document.getElementById("verdict"), crossed = document.getElementById("crossed");
  const ASIDE = new Set(["note", "not_seen", "decision", "next_after"]);
  let changes = 0, asked = 0, here = null;
  // Whether what became of "Record" is said: nothing but the next change may take its place.
  let outcome = false;
  // Whether what stands here is in the outbox: it is kept no second time before the next change.
  let recorded = false;
  function crossOut() {
    changes += 1;
    outcome = false;
    verdict.classList.add("stale");
    crossed.hidden = false;
    workHere();
  }

  // What is said in the form. The browser's own way lays out the page for it each time.
  function typed() {
    const data = new FormData();
    for (const each of form.elements) {
      const picked = each.checked || !["checkbox", "radio"].includes(each.type);
      if (each.name && picked && !each.matches("button, :disabled")) data.append(each.name, each.value);
    }
    return data;
  }

  // The verdict worked on this phone, where it has the joint's data and can read what was typed.
  function workHere() {
    if (!here) return;
    const unsaid = plates.filter((p) => !stateOf(p)).length;
    const state = (field) => (byField.has(field) ? stateOf(byField.get(field)) : "");
    const held = underFinger.hold();
    try {
      verdict.innerHTML = here.say(typed(), state, unsaid);
    } catch {
      return; // it stays crossed out
    }
    verdict.classList.remove("stale");
    crossed.hidden = true;
    held();
    markNext();
  }

  const script = (src) => new Promise((loaded, failed) => {
    document.head.append(Object.assign(document.createElement("script"), { src, onload: loaded, onerror: failed }));
  });

  // What waits on this phone, and photographs: nothing that is tapped needs it before the page is there.
  async function bringPhone() {
    await script(form.dataset.phone);
    rows.rows.forEach((row) => rows.show(row));
    rows.photographs().catch(() => {}); // nothing is kept in this browser
  }

  const pause = () => new Promise((go) => (window.requestIdleCallback || setTimeout)(go));

  // After the page is ready: what the verdict needs, a little at a time.
  async function bring() {
    if (!form.dataset.condensed) return;
    try {
      const answer = await fetch(form.dataset.condensed, { credentials: "same-origin" });
      if (!answer.ok) return;
      await script(form.dataset.script);
      const ready = new window.splicewright.verdictHere.Here(await answer.json());
      await ready.prepare(pause);
      here = ready;
      form.dataset.worksHere = "yes";
      if (verdict.classList.contains("stale")) workHere();
      if (!document.getElementById("offline").hidden) noAnswer();
    } catch {
      /* no signal and not on this phone: the verdict stays crossed out until there is an answer */
    }
  }

  // The page and all that it needs, for work without signal.
  async function keepPage() {
    const { bar, outbox } = window.splicewright || {};
    if (!navigator.serviceWorker || !bar) return;
    const parts = [...document.querySelectorAll("link[rel=stylesheet], script[src]")]
      .map((each) => each.getAttribute("href") || each.getAttribute("src"));
    const place = `/joints/${form.dataset.joint}`;
    const urls = [`${place}/inspect`, `${place}/inspect/photograph`, form.dataset.condensed, ...parts].filter(Boolean);
    const answer = await bar.tellWorker({ type: "keep", account: outbox.account(), place, urls });
    const status = document.getElementById("kept"), held = underFinger.hold();
    status.textContent = here
      ? "This joint is on the phone: without signal it opens, and its verdict is worked out here."
      : "This joint is on the phone: it opens without signal. Its verdict needs the server.";
    bar.sayKept(answer?.failed === 0, (kept) => {
      status.hidden = !kept;
    });
    held();
  }
  function answered() {
    if (asked !== changes) {
      workHere();
      return;
    }
    verdict.classList.remove("stale");
    crossed.hidden = true;
  }
  const rows = new window.splicewright.inspectionRows.Rows(form);
  // Not those of last time's picture, which stands in the form too.
  const plates = [...form.querySelectorAll("svg.joint .plate[data-field]")].filter((p) => !p.closest(".last"));
  const byField = new Map(plates.map((plate) => [plate.dataset.field, plate]));
  const selects = new Map(plates.map((plate) => [plate, form.elements[plate.dataset.field]]));
  const selectOf = (plate) => selects.get(plate);
  const looked = new Map([...form.querySelectorAll('[name="looked"]')].map((box) => [box.value, box]));
  const restGood = (plate) => looked.get(plate.dataset.field.split(".")[0]).checked;
  // What is said of a plate: its own state, or good with all others of its end; "" for nothing.
  const stateOf = (plate) => selectOf(plate).value || (restGood(plate) ? "ok" : "");

  function show(plate) {
    const state = stateOf(plate);
    plate.dataset.state = state;
    plate.setAttribute("aria-label", `${plate.dataset.name}: ${state || "not said"}`);
  }

  function count() {
    const words = STATES.slice(1)
      .map((state) => [plates.filter((p) => p.dataset.state === state).length, state])
      .filter(([n]) => n).map(([n, state]) => `${n} ${state}`);
    const open = plates.filter((p) => !p.dataset.state).length;
    const marked = words.length ? `Marked: ${words.join(", ")}.` : "Nothing marked.";
    document.getElementById("count").textContent =
      `${marked} ${open ? `Not said yet: ${open} of ${plates.length} plates.` : "Every plate is said."}`;
  }

  function set(plate, state) {
    const select = selectOf(plate);
    select.value = state;
    select.dispatchEvent(new Event("change", { bubbles: true }));
  }

  const turn = (plate) => set(plate, STATES[(STATES.indexOf(stateOf(plate)) + 1) % 4]);

  for (const plate of plates) {
    plate.addEventListener("click", () => turn(plate));
    plate.addEventListener("focus", () => plate.scrollIntoView({ block: "nearest", inline: "nearest" }));
    plate.addEventListener("keydown", (event) => {
      if (event.ctrlKey || event.metaKey || event.altKey) return;
      const row = [...plate.parentNode.querySelectorAll(".plate")];
      const at = row.indexOf(plate);
      const to = { ArrowLeft: at - 1, ArrowRight: at + 1, Home: 0, End: row.length - 1 }[event.key];
      if (to !== undefined && row[to]) {
        for (const each of row) each.setAttribute("tabindex", each === row[to] ? "0" : "-1");
        row[to].focus();
      } else if (event.key === "Enter" || event.key === " ") {
        turn(plate);
      } else if (KEYS[event.key.toLowerCase()]) {
        set(plate, KEYS[event.key.toLowerCase()]);
      } else {
        return;
      }
      event.preventDefault();
    });
  }

  // Kept on this device: every field but the session's secret.
  function keep() {
    recorded = false;
    const fields = [...typed()].filter(([name]) => name !== "csrf");
    store.set(key, JSON.stringify(fields));
  }

  function restore() {
    let fields;
    try {
      fields = JSON.parse(store.get(key) || "null");
    } catch {
      fields = null;
    }
    if (!Array.isArray(fields)) return;
    const given = new Map();
    for (const [name, value] of fields) given.set(name, [...(given.get(name) || []), value]);
    rows.atLeast((given.get("more_plate") || []).length);
    for (const element of form.elements) {
      if (!element.name || element.name === "csrf") continue;
      const values = given.get(element.name);
      if (element.type === "checkbox" || element.type === "radio") {
        element.checked = Boolean(values?.includes(element.value));
      } else if (values?.length) {
        element.value = values.shift();
      }
    }
    document.getElementById("restored").hidden = false;
    crossOut();
  }

  document.getElementById("afresh").addEventListener("click", () => {
    store.drop(key);
    location.reload();
  });

  // Only a page that begins anew takes up what was kept; one that came back with faults has it.
  if (!form.querySelector(".fault:not(:empty)")) {
    // A page kept on the phone is opened again and again: each time it is another inspection.
    if (crypto.randomUUID) form.elements.inspection.value = crypto.randomUUID();
    restore();
  }
  plates.forEach(show);
  rows.rows.forEach((row) => rows.show(row));
  count();

  form.addEventListener("change", (event) => {
    const plate = byField.get(event.target.name);
    if (plate) {
      show(plate);
      rows.mark(plate.dataset.field, plate.dataset.state);
    }
    else if (event.target.name === "looked") plates.forEach(show);
    count();
    if (!ASIDE.has(event.target.name)) crossOut();
    keep();
  });
  form.addEventListener("input", (event) => {
    if (!ASIDE.has(event.target.name)) crossOut();
    keep();
  });

  // The plate that goes next is marked in the picture.
  function markNext() {
    const next = form.querySelector("#verdict [data-next]")?.dataset.next;
    for (const plate of plates) plate.classList.toggle("next", plate.dataset.field === next);
  }

  // A verdict that comes from the server moves nothing away from under a finger.
  let back = null;
  document.addEventListener("htmx:before:swap", () => { back = underFinger.hold(); });
  document.addEventListener("htmx:after:swap", () => {
    answered();
    markNext();
    back?.();
  });
  function noAnswer() {
    if (outcome) return;
    const say = document.getElementById("offline");
    say.hidden = false;
    say.textContent = `No answer from the server. Your plate findings are kept on this device. ${here
      ? "The verdict is worked out on this phone." : "The verdict comes when there is a signal."}`;
  }
  document.addEventListener("htmx:before:request", (event) => {
    asked = changes;
    if (navigator.onLine) {
      document.getElementById("offline").hidden = true;
    } else {
      event.preventDefault();
      noAnswer();
    }
  });
  document.addEventListener("htmx:error", noAnswer);
  const late = () => pause().then(bringPhone).catch(() => {}).then(bring).then(keepPage).catch(() => {});
  if (document.readyState === "complete") late();
  else window.addEventListener("load", late, { once: true });
  window.addEventListener("online", () => {
    if (!recorded) form.dispatchEvent(new Event("change", { bubbles: true }));
  });

  // Without signal the findings go to the outbox of this device as facts, with the verdict shown.
  form.addEventListener("submit", async (event) => {
    const outbox = window.splicewright?.outbox;
    if (navigator.onLine || event.submitter?.hasAttribute("formaction")) return;
    event.preventDefault();
    const say = document.getElementById("offline");
    outcome = true;
    say.hidden = false;
    if (plates.every((p) => !p.dataset.state)) {
      say.textContent = "Not recorded: no plate was said to be looked at. Mark each, or say that all others are good.";
      return;
    }
    const data = typed();
    if (data.get("decision") === "run" && !data.get("not_seen")?.trim()) {
      say.textContent = "Not recorded: say what was not looked at before it may run on.";
      form.elements.not_seen.focus();
      return;
    }
    if (!outbox) {
      say.textContent = "No signal: everything is kept on this device. Record it when there is signal.";
      return;
    }
    try {
      workHere(); // what is sent is what this phone shows of what is marked now
      outcome = true;
      const sent = facts(), shown = sent.some((fact) => fact.kind === "phone verdict");
      await outbox.record(sent, { words: "inspection", joint: form.dataset.joint });
      recorded = true;
      store.drop(key);
      route.done(form.dataset.joint);
      route.show(document.getElementById("round"), form.dataset.joint);
      say.textContent = `No signal: the inspection waits on this device and is sent by itself. ${shown
        ? "The verdict shown here goes along; the server works it anew and tells you where it differs."
        : "The server works out its verdict when it arrives."}`;
    } catch (error) {
      if (error instanceof NotReadError) {
        say.textContent = `Not recorded: ${error.message}`;
        error.element.focus();
        return;
      }
      say.textContent = `Not kept: ${error.message}. Do not close this page.`;
    }
  });

  class NotReadError extends Error {
    constructor(element, why) {
      super(`${element.getAttribute("aria-label") || form.querySelector(`label[for="${element.id}"]`)?.textContent || element.name}: ${why}`);
      this.element = element;
    }
  }

  // What was typed into a field, in SI; null where nothing was.
  function measured(element, kind) {
    const text = element.value.trim();
    if (!text) return null;
    try {
      const value = reading.read(text, kind, kinds);
      if (value < 0 || (kind === "share" && value > 1)) {
        throw new reading.UnreadableError(`"${text}" is not accepted; accepted is ${kind === "share" ? "0 % to 100 %" : "0 or more"}`);
      }
      return value;
    } catch (error) {
      throw new NotReadError(element, error.message);
    }
  }

  function counted(element) {
    const text = element.value.trim();
    if (text && !/^\d{1,2}$/.test(text)) throw new NotReadError(element, `"${text}" is no whole number; accepted is 0 to 99`);
    return Number(text || 0);
  }

  // What stands in the rows, by plate.
  function rowsSaid() {
    const said = new Map();
    for (const row of rows.rows) {
      const cell = (column) => rows.cell(row, column), plate = cell("more_plate");
      const what = { kept: measured(cell("more_kept"), "share"), bolts: counted(cell("more_bolts")),
        note: cell("more_note").value.trim() };
      if (!plate.value.trim() && what.kept === null && !what.bolts && !what.note) continue;
      const field = `${cell("more_end").value}.${plate.value.trim()}`;
      if (!plates.some((p) => p.dataset.field === field)) {
        throw new NotReadError(plate, `"${plate.value.trim()}" is no plate of this joint`);
      }
      if (what.kept && plates.some((p) => p.dataset.field === field && p.dataset.state === "lost")) {
        throw new NotReadError(cell("more_kept"), "a lost plate keeps nothing; leave it blank, or say that the plate is there");
      }
      if (said.has(field)) throw new NotReadError(plate, "this plate is in two rows; use one row");
      said.set(field, what);
    }
    return said;
  }

  // What was found, as the facts of an inspection, and what this phone showed for it.
  // The server works the verdict anew when they arrive.
  function facts() {
    const data = typed(), of = { joint: form.dataset.joint, inspection: data.get("inspection") };
    const END = { leading: "leading end", trailing: "trailing end" };
    const LEVEL = { STOP: "stop", REDUCE: "not at this load", WATCH: "no overload found" };
    const one = (name, kind) => measured(form.elements[name], kind);
    const said = rowsSaid(), made = [], whole = new Set();
    for (const word of Object.keys(END)) {
      const there = plates.filter((p) => p.dataset.field.startsWith(`${word}.`)), count = there.length;
      if (!count || there.some((p) => !p.dataset.state)) continue;
      whole.add(word);
      made.push({ kind: "end inspected", what: { ...of, end: END[word], plates: count } });
    }
    for (const plate of plates) {
      const [word, number] = plate.dataset.field.split("."), row = said.get(plate.dataset.field);
      const state = plate.dataset.state || (row ? "ok" : "");
      if (!state || (state === "ok" && !row && whole.has(word))) continue;
      const where = { ...of, end: END[word], plate: Number(number) };
      made.push({ kind: "plate inspected", what: { ...where, state, note: row?.note || "" } });
      if (row && (row.kept !== null || row.bolts)) {
        made.push({ kind: "plate judged", what: { ...where, share_kept: row.kept, bolts_missing: row.bolts } });
      }
    }
    const whole_joint = { pin_now: one("pin_now", "length"), pin_new: one("pin_new", "length"),
      torn_left: one("torn_left", "length") || 0, torn_right: one("torn_right", "length") || 0,
      worn_keeps: one("worn_keeps", "share"), breaking: one("breaking", "force per width") };
    if (Object.values(whole_joint).some((value) => value)) made.push({ kind: "joint measured", what: { ...of, ...whole_joint } });
    const shown = here && !verdict.classList.contains("stale") ? here.shown : null;
    if (shown) {
      made.push({ kind: "phone verdict", what: { ...of, level: LEVEL[shown.verdict],
        margin_low: shown.margin[0], margin_high: shown.margin[1], unsaid: shown.unsaid } });
    }
    const can_run = { stop: false, run: true }[data.get("decision")] ?? null;
    made.push({ kind: "inspection closed", what: { ...of, can_run, next_after: one("next_after", "time"),
      note: data.get("note").trim(), not_seen: (data.get("not_seen") || "").trim() } });
    return made;
  }
})();

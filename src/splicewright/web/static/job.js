// A job on a phone, with or without signal: what is done here goes into the outbox first and is
// shown from there; what the register and other phones say is asked for whenever it can be had.
(() => {
  "use strict";
  const { asking, bar, jobPhone, jobState, outbox, step: shown } = window.splicewright;
  const { element, fill, hide, say, who } = shown;
  const data = JSON.parse(document.getElementById("job-data").textContent);
  const steps = data.steps, table = data.kinds, job = data.job;
  const byId = (id) => document.getElementById(id);
  const sections = [...document.querySelectorAll("[data-step]")];
  // A signature is never taken back; what else was written down last can be, at once.
  const UNDONE = new Set(["step ticked", "value recorded", "job commented"]);
  const ASK_EVERY = 30_000, PATIENCE = 8_000;
  const now = { state: data.state, view: null, local: [], timers: new Map() };
  const stepOf = (node) => {
    const section = node.closest("[data-step]");
    return steps.find((s) => s.key === section.dataset.step) ||
      { key: "", number: "", title: "", boxes: [], pairs: [], lines: 0 };
  };

  const waitsToBeMade = (section) => section.querySelector(":scope > template");

  // What stands in a step is made when it is opened, the rest while the phone has nothing to do:
  // a slow phone shows the step that is worked on sooner.
  function make(section) {
    const kept = waitsToBeMade(section);
    if (!kept) return;
    kept.replaceWith(kept.content);
    if (now.view) showSection(section, now.view);
  }

  const makeAll = () => sections.forEach(make);

  function makeRest() {
    const next = sections.find(waitsToBeMade);
    if (!next) return;
    make(next);
    if (window.requestIdleCallback) window.requestIdleCallback(makeRest, { timeout: 1_000 });
    else setTimeout(makeRest, 50);
  }

  const root = document.documentElement;
  let acting = 0;

  // Write down, then show; when the phone cannot keep it, say so and claim nothing.
  // settled: called when it is kept or refused, before the page shows the job anew
  async function write(facts, words, settled = () => {}) {
    acting += 1;
    root.dataset.acting = "yes";
    try {
      const records = await outbox.record(facts, { job, by: data.by, words });
      const last = records.at(-1);
      now.last = UNDONE.has(last.kind) ? { id: last.id, words } : null;
      return true;
    } catch (error) {
      bar.fail(outbox.isFull(error)
        ? `NOT saved: this phone has no room left. Free some space, then do it again: ${words}.`
        : `NOT saved (${error.message || error.name}). Write it on paper: ${words}.`);
      return false;
    } finally {
      settled();
      await refresh();
      setTimeout(() => { // by then the page has gone on to the next step
        acting -= 1;
        if (!acting) delete root.dataset.acting;
      });
    }
  }

  let turn = 0, shownTurn = 0;

  async function refresh() {
    turn += 1;
    const mine = turn;
    const { db } = outbox;
    const nothing = [[], [], [], undefined]; // a browser that keeps nothing: the bar says so
    // One transaction: an entry that is just being sent is then in the outbox or has its receipt.
    const [records, receipts, timers, kept] = await outbox.answered(db.transaction(
      "r", db.outbox, db.receipts, db.timers, db.jobs, () => Promise.all([
        db.outbox.where("job").equals(job).sortBy("seq"),
        db.receipts.where("[account+job]").equals([data.account, job]).toArray(),
        db.timers.where("[account+job+step]")
          .between([data.account, job, ""], [data.account, job, "\uffff"]).toArray(),
        now.view ? undefined : db.jobs.get([data.account, job]),
      ]))).catch(() => nothing);
    if (mine < shownTurn) return; // what was read later is shown already
    shownTurn = mine;
    if (kept && !now.view && kept.state.version >= now.state.version) {
      now.state = kept.state;
      now.heard = kept.heard;
    }
    const newer = receipts.filter((r) => r.seq > now.state.version)
      .sort((a, b) => a.seq - b.seq).map((r) => ({ ...r, seqOnServer: r.seq }));
    now.local = [...newer, ...records.filter((r) => r.account === data.account)];
    now.timers = new Map(timers.map((t) => [t.step, t]));
    now.view = jobState.merged(now.state, now.local, data.otherwise);
    bar.steady(show);
  }

  function show() {
    const view = now.view;
    for (const section of sections) showSection(section, view);
    const hold = steps.find((s) => s.hold && !view.holds.has(s.key));
    if (byId("next-hold")) {
      say(byId("next-hold"), hold
        ? `Next hold point: step ${hold.number}, ${hold.title}` : "Every hold point is signed.");
    }
    showConflicts(view);
    showSince(view);
    hide(byId("undo"), !now.last);
    if (now.last) say(byId("undo"), `Undo: ${now.last.words}`);
    fill(byId("comments"), view.comments.map((e) => element("li", `${e.text} (${who(e)})`)));
    fill(byId("handed"), view.handed.map((e) =>
      element("li", `To ${e.to}${e.note ? `: ${e.note}` : ""} (${who(e)})`)));
    fill(byId("signed"), view.signed.map((e) =>
      element("li", `${e.role}: "${e.statement}"${e.closes ? " The job is over." : ""} (${who(e)})`)));
    hide(byId("changed"), !view.changed);
    hide(byId("alone"), !view.alone);
    if (view.alone) say(byId("alone"), `One person may build and check this joint: ${view.alone.why} (${who(view.alone)}).`);
    showDeviations(view);
    showOpen(view);
    jobPhone.showStrays(now.state, steps, now.view.overtaken);
    jobPhone.showNews(now.state, data, steps);
  }

  // How long the job has been in hand, against what was planned and the window.
  function showSince(view) {
    const entries = [...view.ticks.values(), ...view.values.values()].flatMap((a) => a.entries);
    const first = entries.map((e) => e.at).sort()[0];
    hide(byId("since"), !first || Boolean(view.closed));
    if (!first) return;
    const took = (Date.now() - Date.parse(first)) / 1000;
    const against = data.window
      ? `window ${shown.duration(data.window)}${took > data.window ? ", which is over" : ""}` : "no window stated";
    say(byId("since"), `In hand since ${shown.clock(first)}: ${shown.duration(Math.max(60, took))}; ` +
      `planned ${shown.duration(data.planned)}, ${against}`);
    mark(byId("since"), "bad", Boolean(data.window) && took > data.window);
  }

  const mark = (node, name, on) => node.classList.toggle(name, on);

  let touches = 0;
  for (const kind of ["pointerdown", "keydown"]) document.addEventListener(kind, () => { touches += 1; }, true);

  // A step that is done folds, and the next one opens where it can be seen: not under the finger of
  // somebody who went on before a slow phone did.
  function goOn(step, since) {
    if (touches !== since) return;
    const section = byId(`step-${step.key}`);
    const next = steps.slice(steps.findIndex((s) => s.key === step.key) + 1)
      .find((s) => !isDone(s));
    if (section) section.open = false;
    const to = next && byId(`step-${next.key}`);
    if (!to) return;
    make(to);
    to.open = true;
    to.scrollIntoView({ block: "start" });
    to.querySelector("summary").focus({ preventScroll: true });
  }

  const isDone = (step) => step.hold
    ? now.view.holds.has(step.key) : Boolean(now.view.ticks.get(jobState.key(step.key, 0))?.last.done);

  function showSection(section, view) {
    const step = stepOf(section);
    if (section.dataset.step === "") return shown.showPhotos(section, step, view);
    shown.showState(section, step, view);
    if (waitsToBeMade(section)) return;
    shown.showStep(section, steps, step, view, table);
    askAgain(section, step, view);
    const timer = section.querySelector("[data-timer]");
    if (timer) showTimer(timer, now.timers.get(step.key));
  }

  function showConflicts(view) {
    const list = byId("conflicts").querySelector("ul");
    const lines = [];
    for (const [answers, nameOf] of [
      [view.values, ([step, what, box]) => [step, `${what}, box ${box}`]],
      [view.ticks, ([step, line]) => [step, line ? `line ${line}` : "done or not"]],
    ]) {
      for (const [place, answer] of answers) {
        if (!answer.conflict) continue;
        const [stepKey, what] = nameOf(JSON.parse(place));
        const step = steps.find((s) => s.key === stepKey);
        const line = element("li", `${step ? `Step ${step.number}, ` : ""}${what}`);
        for (const choice of choices(answer)) {
          const row = element("p", `${choice.words}: ${who(choice.entries.at(-1))}`);
          if (data.crew) {
            const button = element("button", `${choice.words} counts`, "second");
            button.type = "button";
            button.addEventListener("click", () => decide(answer, choice, what));
            row.append(button);
          }
          line.append(row);
        }
        lines.push(line);
      }
    }
    fill(list, lines);
    hide(byId("conflicts"), !lines.length);
  }

  const wordsOf = (entry) => entry.typed ?? (entry.done ? "done" : "not done");

  // The answers to choose from: the last of each phone and person.
  function choices(answer) {
    const last = new Map();
    for (const entry of answer.entries) last.set(jobState.key(entry.device, entry.by), entry);
    const found = new Map();
    for (const entry of last.values()) {
      const words = wordsOf(entry);
      if (!found.has(words)) found.set(words, { words, entries: [] });
      found.get(words).entries.push(entry);
    }
    return [...found.values()];
  }

  // What does not count is withdrawn by a correction; it stays in the register.
  function decide(answer, choice, what) {
    const why = `two answers for ${what}; ${choice.words} counts`.slice(0, 120);
    const facts = answer.entries.filter((e) => wordsOf(e) !== choice.words).map((e) => ({
      kind: "correction",
      what: { of: "job", about: job, corrects: e.fact, kind: null, instead: null, why },
    }));
    return write(facts, why);
  }

  // What stays outside its limits, who answers for it, and what is still to be decided.
  function showDeviations(view) {
    const lines = view.deviations.map((d) => {
      const step = steps.find((s) => s.key === d.step);
      const line = element("li");
      line.append(element("b", `${d.what}${d.box > 1 ? `, box ${d.box}` : ""}`),
        ` of ${step ? `step ${step.number}, ${step.title}` : d.step}: stays at ${d.shown}, outside ${d.limit}. ` +
        `Why: ${d.why}. To do: ${d.to_do}${d.until ? `, by ${d.until}` : ""}. Signed: ${who(d)}.`);
      const counts = step && jobState.outside(step, view).some((o) => o.signed?.fact === d.fact);
      if (!counts) line.append(" ", element("b", "No longer counts: measured or signed again since."));
      return line;
    });
    hide(byId("deviations"), !lines.length);
    fill(byId("deviations").querySelector("ul"), lines);
    const open = steps.some((s) => jobState.outside(s, view).some((o) => !o.signed));
    hide(byId("deviation-for"), !open);
  }

  function showOpen(view) {
    const stuck = now.local.filter((r) => r.state === "person").length;
    const open = jobState.keepsOpen(steps, view);
    if (stuck) open.push(`${stuck} of the entries on this phone need a person first`);
    const closing = byId("closes").checked;
    hide(byId("keeps-open"), !closing || !open.length);
    fill(byId("keeps-open").querySelector("ul"),
      closing ? open.map((s) => element("li", s)) : []);
    const gaps = jobState.forLead(steps, view), mayNot = closing && gaps.length > 0 && !data.lead;
    hide(byId("for-lead"), !closing || !gaps.length);
    fill(byId("for-lead").querySelector("ul"), closing ? gaps.map((s) => element("li", s)) : []);
    const role = document.querySelector('input[name="role"]:checked')?.value;
    const same = jobState.samePerson(role, data.account, view);
    hide(byId("same-person"), !same);
    say(byId("same-person").querySelector("b"), same);
    byId("sign-off-form").querySelector("button").disabled =
      (closing && open.length > 0) || mayNot || Boolean(same);
    const holds = steps.filter((s) => s.hold && !view.holds.has(s.key)).length;
    const waits = now.local.filter((r) => r.seqOnServer === undefined).length;
    say(byId("hand-left"), `${holds} hold points open; ` +
      (waits ? `${waits} entries still wait on this phone.` : "nothing waits on this phone."));
  }

  // What the register says

  let asks = 0, heardOf = 0;
  const showCopy = (...told) => bar.steady(() => jobPhone.showCopy(...told));

  async function ask() {
    asks += 1;
    const mine = asks;
    const { version, plan, mark: of = "" } = now.state;
    const address = `/jobs/${job}/state?since=${version}&plan=${plan}&mark=${of}`;
    try {
      const answer = await fetch(address, {
        headers: { Accept: "application/json" }, cache: "no-store",
        signal: AbortSignal.timeout(PATIENCE),
      });
      if (!answer.headers.has("X-Splicewright")) return showCopy(now.heard, "between");
      if (answer.status === 401) return showCopy(now.heard, "sign-in");
      const account = answer.headers.get("X-Account");
      if (account && account !== data.account) return location.reload();
      if (!answer.ok) return showCopy(now.heard, "server");
      if (answer.status === 200) {
        const state = await answer.json();
        if (mine < heardOf) return undefined; // answers may overtake each other
        now.state = state; // of an older version too: a register may have been set back
      }
      heardOf = Math.max(mine, heardOf);
      await heard();
      showCopy(null, now.state.plan !== data.plan ? "plan" : "", now.state.again);
    } catch {
      showCopy(now.heard, "signal");
    }
  }

  async function heard() {
    now.heard = Date.now();
    try {
      await outbox.answered(outbox.db.jobs.put({ account: data.account, job, state: now.state, heard: now.heard }));
    } catch (error) {
      if (!outbox.state.silent && !outbox.isFull(error) && (await outbox.keeps())) throw error; // what others wrote can be asked for again
    }
    jobPhone.keepPhotos(data, now.state.photos);
    await refresh();
  }

  async function askNowAndThen() {
    if (document.visibilityState !== "visible") return;
    const before = heardOf;
    await ask();
    // There is signal, whoever missed its return.
    if (heardOf > before && outbox.state.trouble === "signal") outbox.flush();
  }

  async function start() {
    now.heard = Date.parse(data.state.read);
    await refresh();
    const wanted = location.hash.startsWith("#step-") && document.querySelector(location.hash);
    const next = steps.find((s) => !isDone(s));
    const first = wanted || (next && byId(`step-${next.key}`));
    if (first?.matches("[data-step]")) {
      make(first);
      first.open = true;
      // A job in hand begins where the work is, unless something above has to be read first.
      const toRead = ["copy", "moved", "news", "conflicts"].some((id) => byId(id) && !byId(id).hidden);
      if (!wanted && next !== steps[0] && !toRead) first.scrollIntoView({ block: "start" });
    }
    document.documentElement.dataset.ready = "job";
    performance.mark("job ready"); // benchmarks/bench_web_page.py reads it
    asking.giveKeys(byId("keys"), (input) => shown.boxOf(stepOf(input), input).kind);
    jobPhone.start(data, makeAll);
    outbox.onChange(refresh);
    window.addEventListener("outbox-sent", ask);
    window.addEventListener("online", ask);
    document.addEventListener("visibilitychange", () => {
      if (document.visibilityState === "visible") ask();
    });
    setInterval(askNowAndThen, ASK_EVERY);
    setInterval(() => now.timers.size && show(), 10_000);
    makeRest();
    await ask();
  }

  // What a person does

  // Whether something has to be asked of a value first; the answer is then taken as typed.
  function asked(input, step, box, entry, text) {
    const question = asking.questionOf(text, box, entry, jobState.beforeOf(step, box, now.view), table);
    asking.ask(input, question, (choice) => {
      input.value = choice.typed;
      input.dataset.dirty = "yes";
      typed(input, choice);
    });
    return question !== null;
  }

  // What was written down by a page that did not ask, or before another box was measured.
  function askAgain(section, step, view) {
    if (!data.crew) return;
    for (const input of section.querySelectorAll(".box input")) {
      const box = shown.boxOf(step, input);
      if (input.dataset.dirty || document.activeElement === input) continue;
      const last = view.values.get(jobState.key(step.key, box.what, box.box))?.last;
      if (last && jobState.isFarOff(step, box, view)) asked(input, step, box, last, last.typed);
      else asking.ask(input, null);
    }
  }

  // choice: what somebody chose when they were asked
  function typed(input, choice = {}) {
    const step = stepOf(input);
    const box = shown.boxOf(step, input);
    const entry = shown.typedIn(input, box, table);
    const clean = () => delete input.dataset.dirty;
    const last = now.view.values.get(jobState.key(step.key, box.what, box.box))?.last;
    if (entry?.fault) return undefined; // stays as typed, told as not written down
    if (entry === null || (last && last.typed === entry.typed && !choice.sure)) {
      clean();
      return show();
    }
    if (!choice.sure && asked(input, step, box, entry, input.value)) return undefined;
    const what = { job, step: step.key, what: box.what, measure: box.kind, value: entry.value,
      typed: entry.typed, box: box.box, sure: Boolean(choice.sure) };
    return write([{ kind: "value recorded", what }], `${box.what}, box ${box.box}: ${entry.typed}`,
      clean);
  }

  // Every line of a step is ticked: its first empty box is next.
  function toBoxes(section) {
    const lines = [...section.querySelectorAll("[data-tick]")].filter((t) => Number(t.dataset.line));
    if (lines.some((t) => !t.checked)) return;
    [...section.querySelectorAll(".box input")].find((input) => !input.value)?.focus();
  }

  async function tick(box) {
    const step = stepOf(box), line = Number(box.dataset.line);
    if (line && box.checked) toBoxes(box.closest("[data-step]"));
    const what = { job, step: step.key, done: box.checked, line, plan: data.plan };
    const words = `${step.title}${line ? `, line ${line}` : ""}: ${box.checked ? "done" : "not done"}`;
    box.dataset.dirty = "yes"; // as it was touched, until it is kept
    const since = touches;
    const kept = await write([{ kind: "step ticked", what }], words, () => delete box.dataset.dirty);
    if (kept && !line && what.done && isDone(step)) goOn(step, since);
  }

  // over: what is not as it should be; then a reason must be given. Gives false, or the reason.
  function confirmed(head, text, yes, over = "") {
    byId("ask-head").textContent = head;
    byId("ask-what").textContent = text;
    byId("ask-yes").textContent = yes;
    byId("ask-over").textContent = over;
    byId("ask-reason").value = "";
    byId("ask-reasons").hidden = !over;
    byId("ask").showModal();
    return new Promise((resolve) => {
      const end = (answer) => {
        if (answer && over) {
          const reason = byId("ask-reason");
          reason.setCustomValidity(reason.value.trim() ? "" : "Say why it is signed all the same.");
          if (!reason.reportValidity()) return;
        }
        byId("ask").close();
        resolve(answer && { why: over ? byId("ask-reason").value.trim() : "" });
      };
      byId("ask-yes").onclick = () => end(true);
      byId("ask-no").onclick = () => end(false);
      byId("ask").oncancel = () => resolve(false);
    });
  }

  async function signHold(button) {
    const step = stepOf(button);
    const gaps = jobState.gaps(step, now.view);
    const signs = await confirmed(`Step ${step.number}: hold point`, step.hold, `${data.by} signs`,
      gaps.length && !jobState.whyNot(steps, step, now.view) ? jobState.sayGaps(gaps) : "");
    if (!signs) return;
    const since = touches, why = jobState.whyNot(steps, step, now.view);
    if (why) {
      bar.fail(`Not signed. ${why}`);
      return;
    }
    const what = { job, step: step.key, statement: step.hold, why: signs.why, gaps, plan: data.plan };
    // Who signs that a step is right says that it is done: one tap less for each.
    const done = now.view.ticks.get(jobState.key(step.key, 0))?.last.done
      ? [] : [{ kind: "step ticked", what: { job, step: step.key, done: true, line: 0, plan: data.plan } }];
    const words = `hold point of step ${step.number} signed`;
    await photographs;
    if (await write([...done, { kind: "hold point signed", what }], words)) goOn(step, since);
  }

  // A step of days, or of less than nothing: the phone's clock was set meanwhile.
  const LONGEST_STEP = 3 * 86_400;

  async function turnTimer(button) {
    try {
      await turned(button);
    } catch (error) {
      bar.fail(`The timer does not run: this browser keeps nothing (${error.name}).`);
    }
  }

  async function turned(button) {
    const step = stepOf(button), place = [data.account, job, step.key];
    const runs = now.timers.get(step.key);
    if (!runs) {
      await outbox.db.timers.put({ account: data.account, job, step: step.key, began: Date.now() });
      return refresh();
    }
    const took = Math.max(1, Math.round((Date.now() - runs.began) / 1000));
    if (Date.now() < runs.began || took > LONGEST_STEP) {
      bar.fail(`Not written down: by this phone's clock ${step.title} took ` +
        `${shown.duration((Date.now() - runs.began) / 1000)}, so the clock was set meanwhile. ` +
        "Write the time it took as a comment.");
      await outbox.db.timers.delete(place);
      return refresh();
    }
    const what = { job, step: step.key, took, planned: step.planned };
    if (await write([{ kind: "step timed", what }], `${step.title} took ${shown.duration(took)}`)) {
      await outbox.db.timers.delete(place);
    }
    return refresh();
  }

  function showTimer(button, runs) {
    const pressed = String(Boolean(runs));
    if (button.getAttribute("aria-pressed") !== pressed) button.setAttribute("aria-pressed", pressed);
    say(button, runs
      ? `Stop the timer: ${shown.duration((Date.now() - runs.began) / 1000)}` : "Start the timer");
  }

  let photographs = Promise.resolve(); // signatures wait for those that are being made smaller

  function photograph(input) {
    const [file] = input.files;
    if (!file) return;
    const step = stepOf(input);
    input.value = "";
    photographs = photographs.then(() => keepPhotograph(file, step));
  }

  async function keepPhotograph(file, step) {
    let blob;
    try {
      blob = await window.splicewright.smaller(file);
    } catch (error) {
      bar.fail(`The photograph was NOT kept: ${error.message}.`);
      return;
    }
    const what = { of: "job", about: job, photo: "", caption: "", step: step.key, damage: null };
    await write([{ kind: "photograph added", what, blob }],
      `photograph${step.number ? ` of step ${step.number}` : ""}`);
  }

  document.addEventListener("input", (event) => {
    if (!event.target.closest(".box")) return;
    event.target.dataset.dirty = "yes";
    shown.judgeTyping(event.target, stepOf(event.target), table);
  });
  document.addEventListener("change", (event) => {
    const { target } = event;
    if (target.closest(".box")) typed(target);
    else if (target.matches("[data-tick]")) tick(target);
    else if (target.matches(".take input")) photograph(target);
    else if (target.id === "closes") show();
  });
  document.addEventListener("click", (event) => {
    const opened = event.target.closest("summary")?.parentElement;
    if (opened?.matches("[data-step]")) make(opened);
    const sign = event.target.closest("[data-sign]"), timer = event.target.closest("[data-timer]");
    if (sign) signHold(sign);
    if (timer) turnTimer(timer);
  });
  document.addEventListener("toggle", (event) => {
    if (event.target.matches("[data-step]")) make(event.target);
  }, true);
  document.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || !event.target.closest(".box")) return;
    event.preventDefault();
    const inputs = [...document.querySelectorAll("details[open] .box input")];
    const next = inputs[inputs.indexOf(event.target) + 1];
    event.target.blur();
    if (!asking.isOpen(event.target)) next?.focus(); // a question is not left behind
  });

  byId("hand-over-form").addEventListener("submit", async (event) => {
    event.preventDefault();
    const to = byId("hand-to").value.trim();
    if (!to) return;
    const what = { job, to, note: byId("hand-note").value };
    if (await write([{ kind: "job handed over", what }], `handed over to ${to}`)) event.target.reset();
  });

  byId("undo").addEventListener("click", async () => {
    const { id, words } = now.last;
    const what = { of: "job", about: job, corrects: id, kind: null, instead: null, why: "undone at once" };
    await write([{ kind: "correction", what }], `undone: ${words}`);
  });
  byId("comment-form").addEventListener("submit", async (event) => {
    event.preventDefault();
    const text = byId("comment").value.trim();
    if (text && (await write([{ kind: "job commented", what: { job, text } }], "comment"))) {
      event.target.reset();
    }
  });

  byId("sign-off-form").addEventListener("change", () => {
    const role = document.querySelector('input[name="role"]:checked');
    byId("statement").hidden = !role;
    const over = byId("closes").checked ? " The job is over with this signature." : "";
    byId("statement").textContent = role ? role.dataset.statement + over : "";
    showOpen(now.view);
  });
  // What is signed stands above the button that names the signer: it is asked once more only where
  // a lead closes the job over what was never measured.
  byId("sign-off-form").addEventListener("submit", async (event) => {
    event.preventDefault();
    const role = document.querySelector('input[name="role"]:checked');
    const closes = byId("closes").checked, joint = byId("joint-now").value;
    const lacks = closes ? jobState.forLead(steps, now.view).length : 0;
    const said = `${byId("statement").textContent} ${lacks} ${lacks === 1 ? "step was" : "steps were"} ` +
      "never measured in full: the joint will say so for good.";
    if (lacks && !(await confirmed(role.value, said, `${data.by} signs`))) return;
    await photographs;
    const facts = [];
    if (joint && data.joint) facts.push({ kind: "joint built", what: { joint: data.joint } });
    if (joint === "joint put to work" && data.joint) {
      facts.push({ kind: joint, what: { joint: data.joint } });
    }
    const what = { job, role: role.value, statement: role.dataset.statement,
      seen: now.state.version, closes };
    if (await write([...facts, { kind: "signed off", what }], `signed off: ${role.value}`)) {
      event.target.reset();
      byId("statement").hidden = true;
    }
  });

  start();
})();

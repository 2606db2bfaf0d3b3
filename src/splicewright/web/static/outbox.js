// The outbox: what was written down on this phone and is not yet on the register.
//
// A record is made once and never changed but for how far its sending is. It leaves the outbox in
// the same transaction that keeps its receipt, and for no other reason. Records go in the order in
// which they were made; photographs after everything else, because a weak signal should first
// carry what is small. A record that the register refuses waits for a person and holds back only
// what speaks of it: a hold point signature waits for the records of its step, the end of an
// inspection for its findings, a sign-off for all earlier records of its job.
(() => {
  "use strict";
  const AT_ONCE = 50;
  const FIRST_PAUSE = 5_000, LONGEST_PAUSE = 300_000;
  const TIMEOUT = 60_000, PHOTO_TIMEOUT = 300_000;
  const BETWEEN = 0; // in place of a status: a network that asks people to sign in, or the like
  const RECEIPTS_KEPT = 90 * 24 * 3600 * 1000;
  const SILENCE = 10_000, STILL_SILENT = 1_000;

  // Strict: a record is on the disk before the page says that it is kept.
  const db = new Dexie("splicewright", { chromeTransactionDurability: "strict" });
  db.version(1).stores({
    outbox: "++seq, &id, account, job",
    receipts: "id, [account+job], at",
    aside: "id, account",
    jobs: "[account+job]",
    timers: "[account+job+step]",
    meta: "name",
  });
  // The newest receipt is asked for, to find that a register was set back to an older copy.
  db.version(2).stores({ receipts: "id, [account+job], at, [account+seq]" });
  db.open().catch(() => {}); // at once: opening takes long on a slow phone; whoever uses it is told

  // WebKit never ends what a page was writing when it was left, and every later page waits for it:
  // so a page ends it itself. What writes entries goes on, for the browser keeps those it can.
  const begun = new Set(), stores = window.IDBDatabase?.prototype, begin = stores?.transaction;
  if (begin) {
    stores.transaction = function transaction(...given) {
      const one = begin.apply(this, given);
      begun.add(one);
      for (const end of ["complete", "abort"]) one.addEventListener(end, () => begun.delete(one));
      return one;
    };
  }
  window.addEventListener("pagehide", () => {
    for (const one of begun) {
      if (one.mode === "readwrite" && one.objectStoreNames.contains("outbox")) continue;
      try {
        one.abort();
      } catch { /* it is over */ }
    }
  });

  let pause = FIRST_PAUSE, timer = null, again = false;
  // silent: the store does not answer; unkept: entries that are on the page alone till it does
  const state = { trouble: "", sending: false, sent: null, silent: false, unkept: 0 };
  const listeners = new Set();

  function tell(change) {
    Object.assign(state, change);
    for (const listener of listeners) {
      try {
        listener();
      } catch (error) {
        reportError(error); // what a page shows holds up nothing that is sent
      }
    }
  }

  // What the store answers. Where it does not for long (a tab that hangs holds it, or the browser is at
  // fault), people are told until it does, and whoever asked goes on without: never does a page only wait.
  const unanswered = new Set();
  function answered(work) {
    return new Promise((resolve, reject) => {
      const timer = setTimeout(() => {
        unanswered.add(work);
        tell({ silent: true });
        reject(new DOMException("the phone's storage does not answer", "TimeoutError"));
      }, state.silent ? STILL_SILENT : SILENCE);
      const over = () => {
        clearTimeout(timer);
        if (unanswered.delete(work) && !unanswered.size) tell({ silent: false });
      };
      work.then(resolve, reject).then(over);
    });
  }
  // Before the browser lets go of what the store has not taken it asks.
  window.addEventListener("beforeunload", (event) => state.silent && state.unkept && event.preventDefault());

  const account = () => document.querySelector('meta[name="account"]')?.content || "";

  function newId() {
    if (crypto.randomUUID) return crypto.randomUUID();
    const b = crypto.getRandomValues(new Uint8Array(16));
    b[6] = (b[6] & 0x0f) | 0x40;
    b[8] = (b[8] & 0x3f) | 0x80;
    const hex = [...b].map((x) => x.toString(16).padStart(2, "0")).join("");
    return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
  }

  async function deviceName() {
    let kept;
    try {
      kept = await db.meta.get("device");
    } catch {
      return "phone that keeps nothing";
    }
    if (kept) return kept.value;
    const made = `phone ${newId().slice(0, 4)}`;
    try {
      await db.meta.add({ name: "device", value: made });
    } catch {
      return (await db.meta.get("device"))?.value || made; // another tab was faster
    }
    return made;
  }

  const known = window.splicewright.phoneKnown(db, account, deviceName, newId);
  const setDeviceName = (name) => db.meta.put({ name: "device", value: name });

  // Write facts down, all or none; when this returns they are kept on the phone, or, where a browser
  // keeps nothing, on the register.
  // facts: [{kind, what, blob?}]; about: {job, words} for showing them while they wait
  async function record(facts, about) {
    const keeping = keep(facts, about);
    state.unkept += facts.length;
    answered(keeping).catch(() => {}); // told; it goes on waiting
    try {
      return await keeping;
    } finally {
      state.unkept -= facts.length;
      if (state.silent) tell({});
    }
  }

  async function keep(facts, about) {
    const device = await deviceName();
    const at = new Date().toISOString();
    const records = facts.map((fact) => ({
      id: newId(), account: account(), by: about.by || "", device, at, job: about.job || "",
      kind: fact.kind, what: fact.what, words: fact.words || about.words || fact.kind,
      blob: fact.blob || null, state: "waits", faults: [],
    }));
    await known.looked;
    try {
      await db.transaction("rw", db.outbox, db.meta, async () => {
        await db.outbox.bulkAdd(records);
        await known.counted(records.length);
      });
    } catch (error) {
      if (!keepsNothing(error)) throw error;
      return sendStraight(records);
    }
    known.mirrored().catch(() => {});
    askToKeep();
    tell({});
    flush();
    return records;
  }

  // Whether this browser has a database for this page at all.
  const keeps = () => db.open().then(() => true, () => false);

  let asked = false;
  function askToKeep() {
    if (!asked && navigator.storage?.persist) {
      asked = true;
      navigator.storage.persist().catch(() => {});
    }
  }

  // Whether a failure means that the phone has no room left.
  function isFull(error) {
    for (let e = error; e; e = e.inner) {
      if (e.name === "QuotaExceededError" || /quota/i.test(e.message || "")) return true;
    }
    return false;
  }

  // Whether a failure means that this browser has no database at all for this page.
  function keepsNothing(error) {
    const names = new Set();
    for (let e = error; e; e = e.inner) names.add(e.name);
    return ["MissingAPIError", "OpenFailedError", "InvalidStateError", "SecurityError"].some((n) => names.has(n)) &&
      !isFull(error);
  }

  // Nothing can be kept here: what is written is on the register, or it is not written.
  async function sendStraight(records) {
    const sent = [];
    for (const record of records) {
      if (!needsUpload(record)) {
        sent.push(record);
        continue;
      }
      const { status, body } = await postPhoto(record).catch(() => ({ status: BETWEEN, body: null }));
      if (status !== 200) throw new Error(faultsOf(body)[0] || "the register cannot be reached");
      sent.push({ ...record, what: { ...record.what, photo: body.digest } });
    }
    const answer = await postSurely(sent);
    const refused = answer.status === 200 ? answer.body.outcomes.filter((o) => o.status !== 200) : [answer.body];
    if (refused.length) throw new Error(refused.flatMap(faultsOf)[0] || "the register cannot be reached");
    window.dispatchEvent(new CustomEvent("outbox-sent"));
    return records;
  }

  // An answer may be lost after the register took what was sent: asked once more, it knows it.
  async function postSurely(sent) {
    if (!navigator.onLine) throw new Error("there is no signal");
    const first = await postFacts(sent).catch(() => null);
    if (first && first.status < 500) return first;
    const second = await postFacts(sent).catch(() => null);
    if (second?.status === 200) return second;
    throw new Error(
      "no answer came; the register may have it all the same, so look there before you write it again");
  }

  const mine = () => db.outbox.where("account").equals(account()).sortBy("seq");

  // Whether a record must wait because of earlier ones that have not gone.
  function heldBack(record, earlier) {
    if (record.kind === "signed off") return earlier.some((e) => e.job === record.job);
    if (record.kind === "hold point signed") {
      return earlier.some(
        (e) => e.job === record.job && e.what.step === record.what.step &&
          e.kind !== "photograph added");
    }
    if (record.kind === "inspection closed") {
      return earlier.some(
        (e) => e.what.inspection === record.what.inspection && e.kind !== "photograph added");
    }
    return false;
  }

  const needsUpload = (r) => r.kind === "photograph added" && !r.what.photo;

  // The next records to send together: in order, and only as far as none speaks of another.
  function nextBatch(records, most) {
    const batch = [], left = [];
    for (const record of records) {
      if (record.state !== "waits" || needsUpload(record) || heldBack(record, left)) {
        left.push(record);
        continue;
      }
      if (heldBack(record, batch)) break;
      batch.push(record);
      if (batch.length === most) break;
    }
    return batch;
  }

  async function post(url, init, timeout) {
    const answer = await fetch(url, {
      ...init, method: "POST", credentials: "same-origin", redirect: "error", cache: "no-store",
      headers: { Accept: "application/json", ...init.headers },
      signal: AbortSignal.timeout?.(timeout),
    });
    const ours = answer.headers.has("X-Splicewright");
    let body = null;
    try {
      body = await answer.json();
    } catch (error) {
      // An answer that broke off is no answer; an error page of some server between us is one.
      if (answer.ok && ours) throw error;
    }
    // A proxy may refuse what is too large, or find no server; nobody else speaks for the register.
    const believed = ours || answer.status === 413 || answer.status >= 500;
    return { status: believed ? answer.status : BETWEEN, body, date: answer.headers.get("Date") };
  }

  const faultsOf = (body) =>
    (body?.error || body?.faults || []).map((f) => f.sentence).filter(Boolean);

  const toData = (r) => ({
    format: 1, id: r.id, at: r.at, by: r.by || "phone", person: r.account, device: r.device,
    kind: r.kind, what: r.what,
  });

  async function settle(record, outcome) {
    if (outcome.status === 200) {
      await db.transaction("rw", db.outbox, db.receipts, async () => {
        await db.receipts.put({
          id: record.id, account: record.account, job: record.job, kind: record.kind,
          what: record.what, by: record.by, device: record.device, at: record.at, words: record.words,
          seq: outcome.seq, received: outcome.received,
        });
        await db.outbox.delete(record.seq);
      });
      return true;
    }
    if (outcome.status !== 409 && outcome.status !== 422) return false;
    await needPerson(record, faultsOf(outcome), outcome.status);
    return true;
  }

  function needPerson(record, faults, status) {
    const say = faults.length ? faults : [`the register refused it (${status})`];
    return db.outbox.update(record.seq, { state: "person", faults: say });
  }

  // What a refusal of a whole request means; "" when sending may go on.
  function troubleOf(status, body) {
    if (status === BETWEEN) return "between";
    if (status === 401) return "sign-in";
    if (status === 403) return body?.account ? "other" : "role";
    if (status === 507) return "server-full";
    return "server";
  }

  const REFUSED = [400, 409, 413, 415, 422];

  function postFacts(records, phone = null) {
    const body = JSON.stringify({ account: account(), facts: records.map(toData), phone });
    return post("/sync", { body, headers: { "Content-Type": "application/json" } }, TIMEOUT);
  }

  // Nothing is sent: the register hears of this phone all the same, and tells what it knows of it.
  async function sayHello() {
    const sent = await known.report();
    let answer;
    try {
      answer = await postFacts([], sent);
    } catch {
      return "signal";
    }
    if (answer.status !== 200) return troubleOf(answer.status, answer.body);
    if (!answer.body.phone) return "server"; // of an earlier version
    await known.heard(answer.body.phone, sent, answer.date);
    tell({});
    return "";
  }

  async function sendBatch(batch) {
    const sent = await known.report();
    const answer = await postFacts(batch, sent);
    if (answer.status === 200) {
      // First, for newer receipts would hide that the register was set back.
      await known.heard(answer.body.phone, sent, answer.date);
      if (answer.body.phone?.lacks.length) return ""; // nothing was taken: what it lacks comes first
      const outcomes = new Map((answer.body.outcomes || []).map((o) => [o.id, o]));
      let settled = 0;
      for (const record of batch) {
        const outcome = outcomes.get(record.id);
        if (outcome && (await settle(record, outcome))) settled += 1;
      }
      if (answer.body.told?.length) await known.tell(answer.body.told);
      await known.mirrored();
      return settled ? "" : "server";
    }
    if (!REFUSED.includes(answer.status)) return troubleOf(answer.status, answer.body);
    if (batch.length > 1) return "halve";
    await needPerson(batch[0], faultsOf(answer.body), answer.status);
    return "";
  }

  function postPhoto(record) {
    const headers = { "Content-Type": record.blob.type || "image/jpeg", "X-Account": record.account };
    return post("/photographs", { body: record.blob, headers }, PHOTO_TIMEOUT);
  }

  async function sendPhoto(record) {
    const answer = await postPhoto(record);
    if (answer.status === 200 && answer.body.digest) {
      const what = { ...record.what, photo: answer.body.digest };
      await db.outbox.update(record.seq, { what });
      return "";
    }
    if (!REFUSED.includes(answer.status)) return troubleOf(answer.status, answer.body);
    await needPerson(record, faultsOf(answer.body), answer.status);
    return "";
  }

  async function sendAll() {
    let most = AT_ONCE, sentSome = false;
    for (;;) {
      // All that a register set back lacks is found before any of it goes: it goes in its order.
      if (await known.sweeping()) {
        const trouble = await sayHello();
        if (trouble) return { trouble, sentSome };
        continue;
      }
      const records = await mine();
      const batch = nextBatch(records, most);
      const photo = batch.length ? null : records.find((r) => r.state === "waits" && needsUpload(r));
      if (!batch.length && !photo) {
        // A hello that does not come through is said with the next entries.
        if ((await known.due()) && !(await sayHello()) && (await known.sweeping())) continue;
        return { trouble: "", sentSome };
      }
      const trouble = batch.length ? await sendBatch(batch) : await sendPhoto(photo);
      if (trouble === "halve") {
        most = Math.max(1, Math.floor(batch.length / 2));
      } else if (trouble) {
        return { trouble, sentSome };
      } else {
        sentSome = true;
        tell({});
      }
    }
  }

  // Send what waits; one tab at a time. Safe to call at any moment.
  async function flush() {
    if (!account()) return;
    clearTimeout(timer);
    if (state.sending) {
      again = true;
      return;
    }
    const alone = navigator.locks
      ? (work) => navigator.locks.request(
          "splicewright-outbox", { ifAvailable: true }, (lock) => (lock ? work() : "busy"))
      : (work) => work();
    again = false;
    tell({ sending: true });
    let outcome;
    try {
      outcome = await alone(async () => {
        try {
          return await sendAll();
        } catch (error) {
          if (isFull(error)) return { trouble: "phone-full" };
          return { trouble: "signal" };
        }
      });
    } catch {
      outcome = { trouble: "server" }; // whatever went wrong here, it is tried again
    }
    state.sending = false;
    if (outcome === "busy") {
      timer = setTimeout(flush, 2_000);
      tell({});
      return;
    }
    const { trouble, sentSome } = outcome;
    if (sentSome) {
      pause = FIRST_PAUSE;
      state.sent = new Date();
      window.dispatchEvent(new CustomEvent("outbox-sent"));
    }
    if (trouble) {
      known.trouble();
      timer = setTimeout(flush, pause);
      pause = Math.min(2 * pause, LONGEST_PAUSE);
    }
    tell({ trouble });
    if (again) flush();
  }

  // By a person or by the network's return: at once, and from then on patiently anew.
  function flushNow() {
    pause = FIRST_PAUSE;
    return flush();
  }

  async function sendAgain(seq) {
    await db.outbox.update(seq, { state: "waits", faults: [] });
    tell({});
    return flushNow();
  }

  // Take a refused record out of the way; it stays on the phone, and who did so is kept with it.
  async function setAside(seq) {
    await db.transaction("rw", db.outbox, db.aside, async () => {
      const record = await db.outbox.get(seq);
      await db.aside.put({ ...record, asideAt: new Date().toISOString() });
      await db.outbox.delete(seq);
    });
    tell({});
    return flushNow();
  }

  // What waits, on this phone, told apart by whose it is and what holds it.
  async function waiting() {
    const all = await answered(db.outbox.orderBy("seq").toArray());
    const own = all.filter((r) => r.account === account());
    return {
      waits: own.filter((r) => r.state === "waits"),
      person: own.filter((r) => r.state === "person"),
      others: all.filter((r) => r.account !== account()),
    };
  }

  // By the register's clock: a phone whose own jumped ahead forgets nothing.
  const forgetOldReceipts = () => {
    if (known.now() === null) return Promise.resolve(0);
    const before = new Date(known.now() - RECEIPTS_KEPT).toISOString();
    return db.receipts.where("at").below(before).filter((r) => r.received < before).delete();
  };

  window.addEventListener("online", flushNow);
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") flushNow();
  });

  window.splicewright = Object.assign(window.splicewright || {}, {
    outbox: {
      db, state, account, answered, keeps, known, record, flush: flushNow, waiting, sendAgain, setAside, deviceName,
      setDeviceName, isFull, newId, forgetOldReceipts, onChange: (listener) => listeners.add(listener),
    },
  });
})();

// What the register remembers of this phone, and what follows where the two do not agree: a browser
// that deleted what was kept here, a register set back to an older copy, a clock that is wrong.
//
// Entries are counted for each account (`made`). The register keeps the count it last heard under
// this phone's id, which stands in a cookie too: that outlives the store. The count stands a second
// time in local storage, which tells without signal when only the database is gone.
(() => {
  "use strict";
  const ASKED = 150, OFFERED = -1e9, ASK_AGAIN = 600_000, CLOCK_OFF = 300_000;

  function phoneKnown(db, account, deviceName, newId) {
    const state = { off: null, asked: 0 };
    const valueOf = async (name) => (await db.meta.get(name))?.value;
    const count = async () => (await valueOf(`made:${account()}`)) || 0;
    const mine = () => db.outbox.where("account").equals(account()).count();

    const mirror = {
      get: () => {
        try {
          return JSON.parse(localStorage.getItem(`kept:${account()}`));
        } catch {
          return null;
        }
      },
      put: (kept) => {
        try {
          localStorage.setItem(`kept:${account()}`, JSON.stringify(kept));
        } catch { /* the register remembers too */ }
      },
    };

    // Within the transaction that writes entries.
    const counted = async (more) =>
      db.meta.put({ name: `made:${account()}`, value: (await count()) + more });

    const mirrored = async () => mirror.put({ made: await count(), waits: await mine() });

    const notice = (kind, value) => db.meta.put({ name: `notice:${account()}:${kind}`, value: { kind, ...value } });

    // The database was deleted and what stands beside it was not: told at once, with or without signal.
    async function look() {
      const kept = mirror.get();
      await db.transaction("rw", db.meta, async () => {
        const made = await count();
        if (!kept || !(kept.made > made)) return;
        await notice("lost", { waits: kept.waits, heard: null });
        await db.meta.put({ name: `made:${account()}`, value: kept.made + made });
      });
    }

    // What goes along with what is sent. The newest receipt is asked for each time: a register that
    // was set back has lost the end of its log, so it lacks that one if it lacks any. Then all are
    // asked for, a page at a time, beginning anew should it be set back once more.
    async function report() {
      await looked;
      const device = await deviceName();
      const sent = await db.transaction("r", db.meta, db.outbox, db.receipts, async () => ({
        id: (await valueOf("phone")) || null, store: null, device, made: await count(), waits: await mine(),
        ask: [...await newest(), ...await page()],
      }));
      if (!sent.id) sent.store = await storeId();
      return sent;
    }

    // Of a store that has no phone's id yet. A phone takes it for its own where its browser has none:
    // a page that is left before it keeps that has lost nothing, and a store begun anew is known by it.
    const storeId = () => db.transaction("rw", db.meta, async () => {
      const kept = await valueOf("store");
      if (kept) return kept;
      const value = newId();
      await db.meta.put({ name: "store", value });
      return value;
    });

    const newest = () => db.receipts.where("[account+seq]")
      .between([account(), Dexie.minKey], [account(), Dexie.maxKey]).reverse().limit(1).primaryKeys();
    const swept = () => valueOf(`sweep:${account()}`); // the last receipt asked for; undefined when done

    async function page() {
      const from = await swept();
      return from === undefined ? [] : db.receipts.where("id").above(from)
        .filter((r) => r.account === account()).limit(ASKED).primaryKeys();
    }

    // Begun before what is lacking is offered again, gone on with after it: a phone that is killed
    // between the two asks once more.
    async function beginSweep([first], lacks) {
      if (lacks.includes(first)) await db.meta.put({ name: `sweep:${account()}`, value: "" });
    }

    async function goOn([first, ...asked], lacks) {
      if (lacks.includes(first) || (await swept()) === undefined) return;
      const name = `sweep:${account()}`;
      if (asked.length === ASKED) await db.meta.put({ name, value: asked.at(-1) });
      else await db.meta.delete(name);
    }

    // Whether the register should hear of this phone though nothing waits to be sent.
    async function due() {
      if (document.readyState !== "complete") return false; // the page itself goes first
      if (Date.now() - state.asked > ASK_AGAIN || state.asked > Date.now()) return true;
      if ((await swept()) !== undefined) return true;
      return (await count()) !== (await valueOf(`told:${account()}`)) || !(await valueOf("phone"));
    }

    // answer: of the register, to the report that was sent; date: its clock, by the answer's header
    async function heard(answer, sent, date) {
      if (date) state.off = Date.now() - Date.parse(date);
      if (!answer) return; // a server of an earlier version
      await db.transaction("rw", db.meta, async () => {
        if (!sent.id && !(await valueOf("phone"))) await db.meta.put({ name: "phone", value: answer.id });
        if (answer.lost) {
          await notice("lost", answer.lost);
          await db.meta.put({ name: `made:${account()}`, value: answer.lost.made + (await count()) });
        }
        if (answer.elsewhere.length) await notice("elsewhere", { phones: answer.elsewhere });
        await db.meta.put({ name: `told:${account()}`, value: sent.made });
        await beginSweep(sent.ask, answer.lacks);
      });
      state.asked = Date.now();
      if (answer.lacks.length) await offerAgain(answer.lacks);
      await goOn(sent.ask, answer.lacks);
      await mirrored();
    }

    // The register was set back to an older copy: what it lacks goes once more, in its order, and
    // before what waits, for that may speak of it.
    async function offerAgain(ids) {
      const pictures = new Map();
      for (const receipt of await db.receipts.bulkGet(ids)) {
        if (receipt?.kind === "photograph added") pictures.set(receipt.id, await pictureOf(receipt));
      }
      await db.transaction("rw", db.outbox, db.receipts, db.meta, async () => {
        const lacking = (await db.receipts.bulkGet(ids)).filter(Boolean).sort((a, b) => a.seq - b.seq);
        await db.outbox.bulkAdd(lacking.map((receipt) => {
          const { received, seq, ...record } = receipt;
          const blob = pictures.get(record.id) || null;
          // Two set-backs may have given two entries one number.
          return { ...record, seq: OFFERED + seq + 0.9 * Math.random(), blob, state: "waits", faults: [],
            words: record.words || record.kind,
            what: blob ? { ...record.what, photo: "" } : record.what };
        }));
        await db.receipts.bulkDelete(lacking.map((r) => r.id));
        const before = await valueOf(`notice:${account()}:restored`);
        await notice("restored", { entries: (before?.entries || 0) + lacking.length });
      });
    }

    // What the server has to say of what it was sent, beside what is not yet read.
    async function tell(sentences) {
      const before = (await valueOf(`notice:${account()}:verdict`))?.sentences || [];
      await notice("verdict", { sentences: [...new Set([...before, ...sentences])] });
    }

    // A photograph is kept by the service worker after it was sent.
    async function pictureOf(receipt) {
      try {
        return await (await caches.match(`/photographs/${receipt.what.photo}`))?.blob();
      } catch {
        return undefined;
      }
    }

    // What somebody has to be told, until they say that they have read it.
    const notices = async () => (await db.meta.where("name").startsWith(`notice:${account()}:`).toArray())
      .map((kept) => kept.value);
    const read = (kind) => db.meta.delete(`notice:${account()}:${kind}`);
    const trouble = () => { state.asked = 0; }; // it may have been set back meanwhile

    const looked = look().catch(() => {}); // a browser that keeps nothing is told of where it is asked

    return {
      count, counted, due, sweeping: async () => (await swept()) !== undefined, heard, looked, mirrored,
      notices, read, report, tell, trouble,
      now: () => (state.off === null ? null : Date.now() - state.off), // by the register's clock
      clockOff: () => (Math.abs(state.off) > CLOCK_OFF ? state.off : 0), // [ms], ahead of it
    };
  }

  window.splicewright = Object.assign(window.splicewright || {}, { phoneKnown });
})();

// A job as it stands on this phone: what the register said last, and what was written down here
// since. The rule for two answers is that of store/job_sheet.py, the rule for limits that of
// job/judging.py; the server works both anew.
(() => {
  "use strict";
  const key = (...parts) => JSON.stringify(parts);

  // state: as /jobs/{job}/state gives it; local: records of the outbox and receipts newer than it
  // otherwise: steps that this page's plan asks otherwise than an earlier version, by its id
  function merged(state, local, otherwise = {}) {
    const view = {
      ticks: new Map(), values: new Map(), holds: new Map(), photos: [...state.photos],
      times: new Map(Object.entries(state.times)), handed: [...state.handed],
      signed: [...state.signed], deviations: state.deviations || [], closed: state.closed, changed: state.changed,
      alone: state.alone, comments: [...(state.comments || [])],
      overtaken: [...(state.overtaken || [])], measured: state.measured || [],
    };
    const ownTimes = new Map();
    for (const answer of state.ticks) {
      const e = answer.entries[0];
      view.ticks.set(key(e.step, e.line), { entries: [...answer.entries] });
    }
    for (const answer of state.values) {
      const e = answer.entries[0];
      view.values.set(key(e.step, e.what, e.box), { entries: [...answer.entries] });
    }
    for (const entry of state.holds) push(view.holds, entry.step, entry);
    const known = new Set(
      [...state.ticks, ...state.values].flatMap((a) => a.entries)
        .concat(state.overtaken || [], state.holds, state.photos, state.handed, state.signed, state.comments || []).map((e) => e.fact));
    for (const record of local) {
      // Recorded already; only its receipt was lost on the way.
      if (known.has(record.id)) continue;
      const entry = {
        ...record.what, fact: record.id, by: record.by, at: record.at, device: record.device,
        waits: record.seqOnServer === undefined, person: record.state === "person",
        account: record.account,
        blob: record.blob,
      };
      if (otherwise[entry.plan]?.includes(entry.step)) {
        view.overtaken.push(entry);
      } else if (record.kind === "step ticked") {
        answer(view.ticks, key(entry.step, entry.line)).entries.push(entry);
      } else if (record.kind === "value recorded") {
        answer(view.values, key(entry.step, entry.what, entry.box)).entries.push(entry);
      } else if (record.kind === "hold point signed") {
        push(view.holds, entry.step, entry);
      } else if (record.kind === "photograph added") {
        view.photos.push(entry);
      } else if (record.kind === "step timed") {
        ownTimes.set(entry.step, (ownTimes.get(entry.step) || 0) + entry.took);
      } else if (record.kind === "job handed over") {
        view.handed.push(entry);
      } else if (record.kind === "job commented") {
        view.comments.push(entry);
      } else if (record.kind === "signed off") {
        view.signed.push(entry);
        if (entry.closes && !entry.person) view.closed = view.closed || entry.at;
      } else if (record.kind === "correction" && !record.what.instead) {
        withdraw(view, record.what.corrects);
      }
    }
    for (const [step, took] of ownTimes) {
      view.times.set(step, (view.times.get(step) || 0) + took);
    }
    for (const answers of [view.ticks, view.values]) {
      for (const [place, one] of answers) {
        if (one.entries.length === 0) {
          answers.delete(place);
          continue;
        }
        one.last = one.entries[one.entries.length - 1];
        one.conflict = differ(one.entries);
      }
    }
    return view;
  }

  function answer(answers, place) {
    if (!answers.has(place)) answers.set(place, { entries: [] });
    return answers.get(place);
  }

  function push(lists, name, entry) {
    if (!lists.has(name)) lists.set(name, []);
    lists.get(name).push(entry);
  }

  function withdraw(view, fact) {
    const stays = (entry) => entry.fact !== fact;
    for (const answers of [view.ticks, view.values]) {
      for (const one of answers.values()) one.entries = one.entries.filter(stays);
    }
    view.photos = view.photos.filter(stays);
    view.comments = view.comments.filter(stays);
  }

  // What an entry answers, without who said it.
  const said = (entry) =>
    entry.typed !== undefined ? key(entry.value, entry.typed) : key(entry.done);

  // A later word from the same phone and person replaces their own; another's does not.
  function differ(entries) {
    const last = new Map();
    for (const entry of entries) last.set(key(entry.device, entry.by), said(entry));
    return new Set(last.values()).size > 1;
  }

  // How a value [SI] stands to the limits as printed.
  function judge(limits, value) {
    if (limits.low !== null && value < limits.low) return "too small";
    if (limits.high !== null && value > limits.high) return "too large";
    return limits.low === null && limits.high === null ? "no limit" : "within";
  }

  // Whether a value [SI] is where it is expected; the spans come with the page, the rule is that of
  // job/acceptance/likely.py. before: what stands in the boxes of the reading with lower numbers
  const PAIRED_FROM = 0.1, TIMES = 3, FAR = "far from what is expected";
  function isLikely(box, value, before) {
    const [low, high] = box.likely;
    if ((low !== null && value < low) || (high !== null && value > high)) return false;
    return !["length", "distance"].includes(box.kind) || before.every((other) =>
      Math.max(value, other) < PAIRED_FROM || Math.max(value, other) <= TIMES * Math.min(value, other));
  }

  const beforeOf = (step, box, view) => step.boxes
    .filter((b) => b.what === box.what && b.box < box.box)
    .map((b) => view.values.get(key(step.key, b.what, b.box))?.last.value)
    .filter((value) => value !== undefined);

  // The boxes of a step that hold what nobody expects, and of which nobody said that it is right.
  const farOff = (step, view) => step.boxes.filter((box) => isFarOff(step, box, view));

  function isFarOff(step, box, view) {
    const last = view.values.get(key(step.key, box.what, box.box))?.last;
    if (!last || last.sure || isLikely(box, last.value, beforeOf(step, box, view))) return false;
    return !outside(step, view).some((o) => o.what === box.what && o.box === box.box);
  }

  // The deviation that a lead signed for this very value; undefined when none did.
  const deviationOf = (step, what, box, value, view) => view.deviations.filter((d) =>
    d.step === step.key && d.what === what && d.box === box &&
    Math.abs(d.value - value) <= 1e-9 * Math.abs(value)).at(-1);

  // The values of a step that are outside: [{what, box, verdict, signed}], box 0 for a difference;
  // signed: the deviation that lets it stay so.
  function outside(step, view) {
    const valueOf = (what, box) => view.values.get(key(step.key, what, box))?.last.value;
    const found = [];
    for (const box of step.boxes) {
      const value = valueOf(box.what, box.box);
      if (value === undefined || step.pairs.some((p) => p.what === box.what)) continue;
      const verdict = judge(box, value);
      if (!verdict.startsWith("too")) continue;
      const signed = deviationOf(step, box.what, box.box, value, view);
      found.push({ what: box.what, box: box.box, verdict, signed });
    }
    for (const pair of step.pairs) {
      const apart = apartOf(step, pair, view);
      if (apart !== null && judge({ low: 0, high: pair.most }, apart) === "too large") {
        const signed = deviationOf(step, pair.what, 0, apart, view);
        found.push({ what: pair.what, box: 0, verdict: "too large", signed });
      }
    }
    return found;
  }

  // How far the two boxes of a pair differ [SI]; null while one is empty.
  function apartOf(step, pair, view) {
    const [one, other] = [1, 2].map((n) => view.values.get(key(step.key, pair.what, n))?.last.value);
    return one === undefined || other === undefined ? null : Math.abs(one - other);
  }

  // Why the hold point of a step cannot be signed now; "" when it can.
  function whyNot(steps, step, view) {
    for (const before of steps) {
      if (before.key === step.key) break;
      if (before.hold && !view.holds.has(before.key)) {
        return `First the hold point of step ${before.number}, ${before.title}.`;
      }
    }
    if (linesOpen(step, view)) return "First tick every line above.";
    if (disputed(step, view)) return "Two answers at this step; first say which one counts.";
    return "";
  }

  // What a step asks for and lacks, or has outside its limits without a deviation:
  // [{what, box, how}], as store/present/job_view.py finds it.
  function gaps(step, view) {
    const missing = step.boxes
      .filter((b) => !view.values.has(key(step.key, b.what, b.box)))
      .map((b) => ({ what: b.what, box: b.box, how: "missing" }));
    const bad = outside(step, view).filter((o) => !o.signed)
      .map((o) => ({ what: o.what, box: o.box, how: o.verdict }));
    const far = farOff(step, view).map((b) => ({ what: b.what, box: b.box, how: FAR }));
    return [...missing, ...bad, ...far];
  }

  function sayGaps(found) {
    const boxes = new Map();
    for (const gap of found) {
      const said = `"${gap.what}" ${gap.how}`;
      boxes.set(said, (boxes.get(said) || 0) + 1);
    }
    return [...boxes].map(([said, n]) => (n === 1 ? said : `${said} (${n} boxes)`)).join(", ");
  }

  // Why only a lead can close the job, as far as this phone knows.
  function forLead(steps, view) {
    const found = [];
    for (const step of steps) {
      const name = `step ${step.number}, ${step.title}`;
      const missing = gaps(step, view).filter((gap) => gap.how === "missing");
      if (missing.length) found.push(`${sayGaps(missing)}: ${name}`);
    }
    return found;
  }

  // Why this account may not sign as this: who built a joint does not check it.
  function samePerson(role, account, view) {
    const [built, checked] = ["I built it", "I checked it, I did not build it"];
    const other = { [built]: checked, [checked]: built }[role];
    if (!other || view.alone) return "";
    return view.signed.some((e) => e.role === other && e.account === account)
      ? `You have signed: ${other}. Builder and checker are two people.` : "";
  }

  function linesOpen(step, view) {
    for (let line = 1; line <= step.lines; line += 1) {
      if (!view.ticks.get(key(step.key, line))?.last.done) return true;
    }
    return false;
  }

  const disputed = (step, view) =>
    [...view.values, ...view.ticks].some(
      ([place, one]) => one.conflict && JSON.parse(place)[0] === step.key);

  // What keeps the job from being closed, as far as this phone knows.
  function keepsOpen(steps, view) {
    const found = [];
    for (const step of steps) {
      const name = `step ${step.number}, ${step.title}`;
      if (step.hold && !view.holds.has(step.key)) {
        found.push(`the hold point of ${name}, is not signed`);
      }
      for (const o of outside(step, view)) {
        if (!o.signed) found.push(`"${o.what}" of ${name}, is ${o.verdict}`);
      }
      for (const box of farOff(step, view)) {
        found.push(`"${box.what}" of ${name}, box ${box.box}, is ${FAR}: say that it is right, or measure it again`);
      }
      if (disputed(step, view)) found.push(`${name}, has two answers`);
    }
    return found;
  }

  window.splicewright = Object.assign(window.splicewright || {}, {
    jobState: {
      merged, judge, isLikely, isFarOff, beforeOf, outside, apartOf, whyNot, keepsOpen, key, gaps, sayGaps, forLead, samePerson,
    },
  });
})();

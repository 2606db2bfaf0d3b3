// A verdict without the server: what is typed on the page of an inspection, read; the joint judged
// by joint-verdict.js; the answer said in the words that came with the joint's data.
(() => {
  "use strict";
  const { reading, jointVerdict } = window.splicewright;
  const ENDS = ["leading", "trailing"];

  // A number as quantities/showing.py writes it, for kinds without fractions and steps.
  function show(value, shown) {
    const number = (value - shown.offset) / shown.factor;
    const text = rounded(shown.most && Math.abs(number) >= 10 ** shown.most
      ? Number(number.toExponential(shown.most - 1)) : number, shown.digits, shown.decimals);
    return `${text}${["°", ""].includes(shown.unit) ? "" : " "}${shown.unit}`;
  }

  function rounded(number, least, decimals) {
    const size = Math.abs(number);
    if (size < 1e-9) return "0";
    const digits = size < 1 ? Math.min(least, 3) : least;
    let places = digits - 1 - Math.floor(Math.log10(size));
    places = Math.max(0, size >= 1 ? Math.min(places, decimals) : places);
    const text = (number + Math.sign(number) * 1e-9).toFixed(places);
    return text.includes(".") ? text.replace(/\.?0+$/, "") : text;
  }

  // What was found, for the Judge; throws where something typed cannot be read.
  function foundOn(form, stateOf, data) {
    const one = (name) => (form.get(name) || "").trim();
    const number = (name, kind, missing) => (one(name) ? reading.read(one(name), kind, data.kinds) : missing);
    const rows = new Map();
    const columns = ["more_end", "more_plate", "more_kept", "more_bolts", "more_note"].map((c) => form.getAll(c));
    columns[0].forEach((end, n) => {
      const [plate, kept, bolts, note] = columns.slice(1).map((c) => (c[n] || "").trim());
      if (!plate && !kept && !bolts && !note) return;
      const key = `${end}.${plate}`;
      if (!/^\d{1,4}$/.test(plate) || (bolts && !/^\d{1,4}$/.test(bolts)) || rows.has(key)) {
        throw new reading.UnreadableError(`row ${n + 1}`);
      }
      rows.set(key, { kept: kept ? reading.read(kept, "share", data.kinds) : null, bolts: Number(bolts || 0) });
    });
    const worn = number("worn_keeps", "share", data.kept.worn);
    const plates = [], assumed = new Set();
    ENDS.forEach((word, end) => {
      for (let at = 1; at <= data.numbers.plates; at += 1) {
        const key = `${word}.${at}`, state = stateOf(key) || "ok", row = rows.get(key);
        rows.delete(key);
        if (state === "ok" && !row) continue;
        const judged = row?.kept ?? null;
        const kept = judged ?? (state === "worn" ? worn : data.kept[state]);
        if (!(kept >= 0 && kept <= 1) || (state === "lost" && judged)) throw new reading.UnreadableError(key);
        const bolts = row?.bolts || 0, keeps = kept * ((data.numbers.bolts - bolts) / data.numbers.bolts);
        plates.push({ end, number: at, kept, keeps, bolts, sound: state === "ok" && judged === null });
        if (state === "worn" && judged === null && !one("worn_keeps")) assumed.add("worn");
        if (state === "cracked" && judged === null) assumed.add("cracked");
        if (row?.bolts) assumed.add("bolts");
      }
    });
    if (rows.size) throw new reading.UnreadableError("a plate that is not there");
    const found = {
      plates, pinNow: number("pin_now", "length", null), pinNew: number("pin_new", "length", null),
      tornLeft: number("torn_left", "length", 0), tornRight: number("torn_right", "length", 0),
      breaking: number("breaking", "force per width", null),
    };
    // Assumptions on the pin, on breaking and on torn edges go by what was measured.
    const taken = data.assumptions, lines = [];
    const add = (text, now) => lines.push(text.replace("{now}", now));
    for (const word of ["worn", "cracked", "bolts"]) if (assumed.has(word)) add(taken[word]);
    if (found.pinNow !== null) {
      taken.pin_now.forEach((text) => add(text, one("pin_now")));
      if (found.pinNow < (found.pinNew ?? data.numbers.pin)) add(taken.pin_worn);
    } else {
      lines.push(...taken.pin);
    }
    if (found.breaking !== null) add(taken.broken, one("breaking"));
    else lines.push(...taken.not_broken);
    if (found.tornLeft || found.tornRight) {
      const named = new Set(plates.map((plate) => plate.end));
      const end = data.ends[ENDS[named.size === 1 ? [...named][0] : 0]];
      taken.torn.forEach((text) => lines.push(text.replace("{end}", end)));
    }
    if (plates.some((p) => p.keeps > 0 && p.keeps < 1)) add(taken.softer);
    const anything = plates.some((p) => !p.sound || p.bolts) || found.pinNow !== null ||
      found.tornLeft > 0 || found.tornRight > 0;
    return { found, anything, assumed: [...lines, ...taken.always] };
  }

  const list = (lines) => `<ul>${lines.map((line) => `<li>${escaped(line)}</li>`).join("")}</ul>`;
  const escaped = (text) => text.replace(/[&<>"]/g, (c) => `&#${c.charCodeAt(0)};`);

  class Here {
    constructor(data) {
      this.data = data;
      this.judge = new jointVerdict.Judge(data.numbers);
    }

    // Work what a sound joint needs beforehand, a little at a time, while nobody waits.
    async prepare(pause) {
      for (let at = 0; at < this.data.numbers.cases.length; at += 1) {
        this.judge.soundOf(at, 1);
        if (at % 4 === 3) await pause();
      }
      // The first verdict is slow, for its script is compiled then: better now than at a tap.
      this.judge.judge({ plates: [{ end: 0, number: 1, kept: 0.5, bolts: 0 }], pinNow: null, pinNew: null,
        tornLeft: 0, tornRight: 0, breaking: null });
    }

    // The answer as a piece of the page; throws where there is none.
    // unsaid: plates of which nothing was said
    say(form, stateOf, unsaid) {
      const { data } = this;
      const { found, anything, assumed } = foundOn(form, stateOf, data);
      const [one, many] = data.unsaid;
      let html = unsaid ? (unsaid === 1 ? one : many.replace("{plates}", unsaid)) : "";
      this.shown = null;
      if (!anything) return html + data.nothing;
      const judged = this.judge.judge(found);
      this.shown = { verdict: judged.verdict, margin: judged.margin, unsaid };
      const share = (value) => show(value, data.shown.share);
      const tension = (value) => show(value * data.numbers.running, data.shown["force per width"]);
      const filled = (text, names) => text.replace(/\{(\w+)\}/g, (_, name) => names[name]);
      const lines = [
        filled(data.margin, {
          low: share(judged.margin[0]), high: share(judged.margin[1]),
          end: data.ends[judged.typical.end], place: data.places[judged.typical.place],
          sound_low: share(data.sound_margin[0]), sound_high: share(data.sound_margin[1]),
        }),
        filled(data.carries, {
          largest: tension(judged.carries[0]), typical: tension(judged.typical.carries), running: tension(1),
        }),
        filled(data.next, { plate: judged.next.number, end: data.ends[judged.next.end] }),
        data.turns[judged.losses],
      ];
      const level = document.createElement("div");
      level.innerHTML = data.levels[judged.verdict];
      level.firstElementChild.dataset.next = `${judged.next.end}.${judged.next.number}`;
      html += level.innerHTML + list(lines);
      html += `<details class="more"><summary>What is assumed: ${assumed.length}</summary>${list(assumed)}</details>`;
      return html + data.worked_here;
    }
  }

  Object.assign(window.splicewright, { verdictHere: { Here, foundOn, show } });
})();

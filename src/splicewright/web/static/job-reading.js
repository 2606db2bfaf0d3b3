// Reading what people type, as quantities/reading.py does: the same texts, values and sentences.
// The table of units comes with the page, made from the one unit policy; none stands here.
// tests/web/test_job_reading.py holds both readers against one set of cases.
(() => {
  "use strict";
  const LONGEST = 80;
  const NUMBER =
    /\s*([+-]?)\s*(?:(?:(\d+)(?:\s+|\s*-\s*|(?=⁄)))?(\d+)\s*[/⁄]\s*(\d+)|((?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?))\s*/y;
  const UNIT = /[^\d\-+.]*(?:(?<=[A-Za-z])[23](?![\d.])[^\d\-+.]*)*/y;
  const SIGNS = [
    ["−", "-"], ["–", "-"], ["′′", '"'], ["″", '"'], ["”", '"'], ["′", "'"], ["’", "'"],
    ["·", " "], ["*", " "], ["^", ""],
  ];

  class UnreadableError extends Error {}

  // One number with its unit, in SI.
  // table: as web/job_page.unit_table makes it; kind: such as "length"
  function read(text, kind, table) {
    const policy = table[kind];
    const refuse = (what) => {
      const units = policy.accepted.map((u) => u[0]).filter(Boolean).join(", ");
      throw new UnreadableError(
        `${what}; accepted is ${policy.noun} such as ${policy.example} ` +
        `(units: ${units || "a plain number"})`);
    };
    if ([...text].length > LONGEST) {
      refuse(`a text of ${[...text].length} characters is no number with a unit`);
    }
    const plain = folded(text);
    let total = 0, position = 0, parts = 0, negative = false, first = null;
    while (position < plain.length) {
      NUMBER.lastIndex = position;
      const match = NUMBER.exec(plain);
      if (match === null) refuse(`"${text}" cannot be read as a number with a unit`);
      if (parts && (match[1] || !policy.several)) refuse(`"${text}" holds more than one number`);
      const number = valueOf(match, text, refuse);
      negative = negative || match[1] === "-";
      UNIT.lastIndex = NUMBER.lastIndex;
      const unit = UNIT.exec(plain)[0];
      position = UNIT.lastIndex;
      const found = find(unit.trim(), policy, table.ambiguous, text, refuse);
      first = first || [number, found];
      total += number * found[1] + found[2];
      parts += 1;
    }
    if (!parts) refuse("is empty");
    if (negative && policy.offset) {
      // The sign belongs to the number, not to the kelvins.
      total = -first[0] * first[1][1] + first[1][2];
      if (total < 0) refuse(`"${text}" is below absolute zero`);
    } else if (negative) {
      total = -total;
    }
    if (!Number.isFinite(total)) refuse(`"${text}" is not a finite number`);
    return total;
  }

  function folded(text) {
    let plain = text.replace(/(?<=\d)(?=[¼½¾⅐-⅞])/gu, " ").normalize("NFKC");
    for (const [fancy, simple] of SIGNS) plain = plain.replaceAll(fancy, simple);
    return plain.replace(/\s+/gu, " ").trim();
  }

  function valueOf(match, text, refuse) {
    if (match[5] !== undefined) return Number(match[5]);
    if (Number(match[4]) === 0) refuse(`"${text}" divides by zero`);
    return Number(match[2] || 0) + Number(match[3]) / Number(match[4]);
  }

  function find(unit, policy, ambiguous, text, refuse) {
    for (const spelling of [unit, unit.replaceAll(" / ", "/"), unit.replaceAll(" ", "")]) {
      const found = policy.accepted.find((u) => u[0] === spelling);
      if (found) return found;
    }
    const small = unit.toLowerCase();
    // Capitals are forgiven, but a small m is never read as mega: "5 mN" is not 5 MN.
    const alike = policy.accepted.filter(
      (u) => u[0].toLowerCase() === small && unit.length > 1 && !(u[0][0] === "M" && unit[0] === "m"));
    if (alike.length === 1) return alike[0];
    if (Object.hasOwn(ambiguous, small)) refuse(`"${text}": ${ambiguous[small]}`);
    if (unit === "") refuse(`"${text}" has no unit`);
    if (unit.includes(",")) refuse(`"${text}" has a comma: write decimals with a point`);
    refuse(`"${text}" has the unit "${unit}"`);
  }

  // What was typed into a box, with the box's unit where none was typed. Keypads of some countries
  // have a comma only; one that may also part thousands is refused, never guessed.
  function completed(text, unit) {
    let typed = text.trim();
    const comma = /^([^,]*\d),(\d+)([^,]*)$/.exec(typed);
    if (comma && !comma[1].includes(".") && !comma[3].includes(".")) {
      if (comma[2].length === 3 && !/^[+-]?0$/.test(comma[1])) {
        throw new UnreadableError(
          `"${typed}" may mean thousands or thousandths; write decimals with a point`);
      }
      typed = `${comma[1]}.${comma[2]}${comma[3]}`;
    }
    return /^[+\-−]?[\d\s./⁄¼½¾⅐-⅞-]+$/u.test(typed) && unit ? `${typed} ${unit}` : typed;
  }

  window.splicewright = Object.assign(window.splicewright || {}, {
    reading: { read, completed, UnreadableError },
  });
})();

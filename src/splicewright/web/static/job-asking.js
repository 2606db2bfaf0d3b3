// Asking before a value is written down that may be a slip of unit or digit; and the keys for
// fractions and units. What is far off is job-state.js's to say, by the spans of the page.
(() => {
  "use strict";
  const { jobState, reading, step: { element, fill, hide, shownIn } } = window.splicewright;
  const FRACTION = /[/⁄¼½¾⅐-⅞]/u, BARE = /^[\d\s./⁄¼½¾⅐-⅞-]+$/u;

  // What is to be asked of a value before it is written down; null when it is plain.
  // Gives {text, choices: [{label, typed, sure}]}
  function questionOf(text, box, entry, before, table) {
    const bare = text.trim();
    if (FRACTION.test(bare) && BARE.test(bare) && box.kind === "length" && box.unit !== "in") {
      const choices = ["in", box.unit].map((unit) => {
        const typed = `${bare} ${unit}`, value = reading.read(typed, box.kind, table);
        return { typed, label: `${typed} (${shownIn(value, box.kind, unit === "in" ? "mm" : "in", table)})` };
      });
      return { text: `${bare} of what?`, choices };
    }
    if (jobState.isLikely(box, entry.value, before)) return null;
    const also = box.other ? ` (${shownIn(entry.value, box.kind, box.other, table)})` : "";
    const meant = slips(entry, box, before, table).map((typed) => ({ typed, label: `It is ${typed}` }));
    return { text: `${entry.typed}${also}: far from what is expected here. Look at the tape once more.`,
      choices: [...meant, { typed: entry.typed, sure: true, label: `${entry.typed} is right` }] };
  }

  // What may have been meant: the same digits in another unit, or with the point elsewhere, where
  // that is expected and within the limits; two at most.
  function slips(entry, box, before, table) {
    const plain = /^([\d.]+)\s*(.*)$/.exec(entry.typed);
    if (!plain) return [];
    const [, number, unit] = plain, found = [];
    const digits = (by) => Number((Number(number) * by).toPrecision(12));
    const tries = [...["mm", "in", "m", "ft", "cm"].map((u) => `${number} ${u}`),
      ...[0.1, 10, 0.01, 100, 0.001, 1000].map((by) => `${digits(by)} ${unit}`)];
    for (const typed of tries) {
      let value;
      try {
        value = reading.read(typed, box.kind, table);
      } catch {
        continue; // the unit is of another kind
      }
      const fits = jobState.isLikely(box, value, before) && !jobState.judge(box, value).startsWith("too");
      if (fits && !found.includes(typed)) found.push(typed);
    }
    return found.slice(0, 2);
  }

  // Ask under the boxes of a reading; nothing is written down before the answer.
  function ask(input, question, answer) {
    const place = input.closest(".reading").querySelector(".asks"), id = input.id;
    if (!question) {
      if (place.dataset.of === id) place.replaceChildren();
      return;
    }
    const said = `${id} ${question.text} ${question.choices.map((c) => c.label).join()}`;
    if (place.dataset.said === said && place.firstChild) return;
    Object.assign(place.dataset, { of: id, said });
    const row = element("div", "", "row");
    row.append(...question.choices.map((choice) => {
      const button = element("button", choice.label, choice.sure ? "second" : "");
      button.type = "button";
      button.addEventListener("click", () => {
        place.replaceChildren();
        answer(choice);
      });
      return button;
    }));
    place.replaceChildren(element("p", question.text), row);
  }

  const isOpen = (input) => {
    const place = input.closest(".reading").querySelector(".asks");
    return Boolean(place.firstChild) && place.dataset.of === input.id;
  };

  // The keys that a keypad for numbers lacks, under the boxes of the reading that is typed.
  const KEYS = { length: ["/", " ", "mm", "in"], distance: ["/", " ", "m", "ft", "in"],
    torque: ["N m", "lbf ft"], temperature: ["°C", "°F"] };
  function giveKeys(keys, kindOf) {
    document.addEventListener("focusin", (event) => {
      const input = event.target, place = input.closest?.(".box");
      if (!keys || !place || input.tagName !== "INPUT" || input.readOnly) return;
      const kind = kindOf(input);
      hide(keys, !KEYS[kind]);
      if (!KEYS[kind] || place.closest(".reading").contains(keys)) return;
      place.closest(".reading").querySelector(".asks").before(keys);
      fill(keys, KEYS[kind].map((text) => {
        const button = element("button", text === " " ? "space" : text, "second");
        button.type = "button";
        button.tabIndex = -1; // whoever has a keyboard has these keys
        // The box keeps the focus, and the keypad stays.
        button.addEventListener("pointerdown", (down) => down.preventDefault());
        button.addEventListener("click", () => type(text));
        return button;
      }));
    });
  }

  function type(text) {
    const input = document.activeElement;
    if (!input?.closest?.(".box")) return;
    const unit = /[a-z]/i.test(text) && input.value && !input.value.endsWith(" ") ? ` ${text}` : text;
    input.setRangeText(unit, input.selectionStart, input.selectionEnd, "end");
    input.dispatchEvent(new Event("input", { bubbles: true }));
  }

  Object.assign(window.splicewright, { asking: { ask, giveKeys, isOpen, questionOf } });
})();

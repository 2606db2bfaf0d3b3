// One step of a job on the page: showing how it stands, and judging what is being typed.
(() => {
  "use strict";
  const { jobState, reading } = window.splicewright;
  const { key } = jobState;

  function element(name, text, className) {
    const made = document.createElement(name);
    if (text) made.textContent = text;
    if (className) made.className = className;
    return made;
  }

  // Pages are shown anew with every entry, and most of it stays: a slow phone pays for each write.
  function say(node, text) {
    if (node.textContent !== text) node.textContent = text;
  }

  function fill(node, children) {
    if (children.length || node.firstChild) node.replaceChildren(...children);
  }

  function mark(node, name, on) {
    if (node.classList.contains(name) !== on) node.classList.toggle(name, on);
  }

  function hide(node, hidden) {
    if (node.hidden !== hidden) node.hidden = hidden;
  }

  const two = (number) => String(number).padStart(2, "0");

  // As toLocaleString writes it for sv-SE, which makes a format for every entry of every showing: that
  // took half of the time after each tap.
  function clock(at) {
    const moment = new Date(at);
    const time = `${two(moment.getHours())}:${two(moment.getMinutes())}`;
    if (moment.toDateString() === new Date().toDateString()) return time;
    return `${moment.getFullYear()}-${two(moment.getMonth() + 1)}-${two(moment.getDate())} ${time}`;
  }

  // Numbers stay in one line with their units.
  function duration(seconds) {
    const minutes = Math.round(seconds / 60);
    if (minutes < 1) return `${Math.round(seconds)}\u00a0s`;
    if (minutes < 60) return `${minutes}\u00a0min`;
    if (minutes >= 72 * 60) return `${Math.round(minutes / 1440)}\u00a0days`;
    return `${Math.floor(minutes / 60)}\u00a0h${minutes % 60 ? `\u00a0${minutes % 60}\u00a0min` : ""}`;
  }

  // Who said an entry, where and when, and whether it has left the phone.
  function who(entry) {
    const from = [entry.by, entry.device, clock(entry.at)].filter(Boolean).join(", ");
    if (entry.person) return `${from}; needs a person`;
    return entry.waits ? `${from}; waits for signal` : from;
  }

  // A length of SI in a unit of the table, for a difference nobody typed.
  function inUnit(value, kind, unit, table) {
    const factor = table[kind].accepted.find((u) => u[0] === unit)[1];
    return `${Number((value / factor).toFixed(unit === "mm" ? 1 : 3))} ${unit}`;
  }

  function bare(typed, unit) {
    return typed.endsWith(` ${unit}`) ? typed.slice(0, -unit.length - 1) : typed;
  }

  function boxOf(step, input) {
    const place = input.closest(".box");
    return step.boxes.find(
      (b) => b.what === place.dataset.what && b.box === Number(place.dataset.box));
  }

  // What is in a box: {typed, value} or {fault}; null when it is empty.
  function typedIn(input, box, table) {
    if (!input.value.trim()) return null;
    try {
      const typed = reading.completed(input.value, box.unit);
      return { typed, value: reading.read(typed, box.kind, table) };
    } catch (error) {
      if (!(error instanceof reading.UnreadableError)) throw error;
      return { fault: error.message };
    }
  }

  // A number in a unit of the table; three digits, as many as a tape gives.
  function shownIn(value, kind, unit, table) {
    const [, factor, offset] = table[kind].accepted.find((u) => u[0] === unit);
    const number = (value - offset) / factor, size = Math.abs(number);
    const places = size < 1 ? 3 : size < 10 ? 2 : size < 1000 ? 1 : 0;
    return `${Number(number.toFixed(places))} ${unit.replace(/^deg/, "°")}`;
  }

  const GOOD = { within: "within its limits", "no limit": "" };

  function showVerdict(place, words, bad) {
    say(place, words);
    mark(place, "bad", Boolean(bad));
  }

  // The unit beside: the crew's own where another was typed.
  const otherOf = (typed, box) => (typed.typed.endsWith(` ${box.unit}`) ? box.other : box.unit);

  // Judge while somebody types; nothing is written down yet.
  function judgeTyping(input, step, table) {
    const box = boxOf(step, input);
    const place = document.getElementById(`${input.id}-v`);
    const typed = typedIn(input, box, table);
    const also = input.closest(".box").querySelector("[data-also]");
    if (also) say(also, typed && !typed.fault ? `= ${shownIn(typed.value, box.kind, otherOf(typed, box), table)}` : "");
    const invalid = String(Boolean(typed?.fault));
    if ((input.getAttribute("aria-invalid") || "false") !== invalid) {
      input.setAttribute("aria-invalid", invalid);
    }
    if (typed === null) return showVerdict(place, "", false);
    if (typed.fault) return showVerdict(place, typed.fault, true);
    const verdict = jobState.judge(box, typed.value);
    showVerdict(place, GOOD[verdict] ?? verdict, verdict.startsWith("too"));
  }

  function showBox(place, step, view, table) {
    const input = place.querySelector("input");
    const box = boxOf(step, input);
    const answer = view.values.get(key(step.key, box.what, box.box));
    const shown = answer ? (answer.conflict ? answer.entries : [answer.last]) : [];
    fill(place.querySelector(".others"), shown.map((entry) =>
      element("p", `${answer.conflict ? `${entry.typed}: ` : ""}${who(entry)}`, "said")));
    mark(place, "waits", Boolean(answer?.last.waits));
    if (document.activeElement === input || input.dataset.dirty) return;
    const value = answer ? bare(answer.last.typed, box.unit) : "";
    if (input.value !== value) input.value = value;
    judgeTyping(input, step, table);
  }

  function showPairs(section, step, view, table) {
    for (const pair of step.pairs) {
      const place = section.querySelector(`[data-pair="${CSS.escape(pair.what)}"]`);
      const apart = jobState.apartOf(step, pair, view);
      if (apart === null) {
        showVerdict(place, "", false);
        continue;
      }
      const box = step.boxes.find((b) => b.what === pair.what);
      const verdict = jobState.judge({ low: 0, high: pair.most }, apart);
      const shown = inUnit(apart, box.kind, box.unit, table);
      showVerdict(place, `Difference ${shown}: ${GOOD[verdict] ?? verdict}`, verdict === "too large");
    }
  }

  function showTick(section, step, view, box) {
    const line = Number(box.dataset.line);
    const answer = view.ticks.get(key(step.key, line));
    const done = Boolean(answer?.last.done);
    if (!box.dataset.dirty && box.checked !== done) box.checked = done;
    const said = section.querySelector(`[data-said="${line}"]`);
    if (!answer) {
      say(said, "");
    } else if (answer.conflict) {
      say(said, answer.entries
        .map((e) => `${e.done ? "done" : "not done"}: ${who(e)}`).join(" / "));
    } else {
      say(said, who(answer.last));
    }
    mark(said, "bad", Boolean(answer?.conflict));
  }

  const pictures = new Map();

  function pictureOf(entry) {
    if (!entry.blob) return `/photographs/${entry.photo}`;
    if (!pictures.has(entry.fact)) pictures.set(entry.fact, URL.createObjectURL(entry.blob));
    return pictures.get(entry.fact);
  }

  // How far a photograph is that is to be measured; "" for one that is only looked at.
  const measuredOf = (photo, view) => !photo.measure ? ""
    : view.measured?.includes(photo.measure.measuring) ? "Measured and signed"
      : "Waits for measuring: look at what it proposes";

  function showPhotos(section, step, view) {
    const place = section.querySelector(".photos");
    const photos = view.photos.filter((p) => p.step === step.key);
    const shown = JSON.stringify(photos.map((p) => [p.fact, p.waits, p.person, measuredOf(p, view)]));
    if ((place.dataset.shown || "[]") === shown) return; // pictures flicker when made anew
    place.dataset.shown = shown;
    place.replaceChildren(...photos.map((photo) => {
      const figure = element("figure");
      const picture = element("img");
      picture.src = pictureOf(photo);
      picture.alt = photo.caption || `Photograph of step ${step.number}`;
      picture.loading = "lazy";
      const said = element("figcaption", who(photo));
      if (photo.measure) {
        const link = element("a", measuredOf(photo, view), "tap");
        link.href = `${location.pathname}/measured/${photo.measure.measuring}`;
        said.append(" ", photo.waits ? element("b", "Waits for measuring.") : link);
      }
      figure.append(picture, said);
      return figure;
    }));
  }

  function showHold(section, steps, step, view) {
    const place = section.querySelector(".hold");
    if (!place) return;
    const signed = view.holds.get(step.key) || [];
    const first = steps.filter((s) => s.hold && s.number < step.number && !view.holds.has(s.key));
    fill(place.querySelector("[data-holds]"), signed.map((entry) => {
      const over = entry.gaps?.length
        ? `; with ${jobState.sayGaps(entry.gaps)}. Why: ${entry.why}` : "";
      const line = element("li", `Signed: ${who(entry)}${over}`);
      if (first.length) line.append(element("b", `; step ${first[0].number} was not signed`));
      return line;
    }));
    const why = jobState.whyNot(steps, step, view);
    const outside = jobState.outside(step, view);
    const bad = outside.length > 0 && signed.length > 0;
    const told = outside.every((o) => o.signed)
      ? "Signed; a value of this step is outside its limits, by a signed deviation."
      : "Signed, but a value of this step is outside its limits.";
    say(place.querySelector("[data-why]"), signed.length ? (bad ? told : "") : why);
    const lacking = signed.length ? [] : jobState.gaps(step, view);
    say(place.querySelector("[data-gaps]"), lacking.length && !why
      ? `Not as asked: ${jobState.sayGaps(lacking)}. Measure it, or sign with a reason.` : "");
    mark(place, "signed", signed.length > 0 && !bad);
    const button = place.querySelector("[data-sign]");
    if (button) {
      if (button.disabled !== Boolean(why)) button.disabled = Boolean(why);
      say(button, signed.length ? "Sign as well" : "Sign this hold point");
    }
  }

  function stateOf(step, view) {
    const places = [...view.values, ...view.ticks].filter(([p]) => JSON.parse(p)[0] === step.key);
    if (places.some(([, one]) => one.conflict)) return ["two answers", "bad"];
    const outside = jobState.outside(step, view);
    if (outside.some((o) => !o.signed)) return ["outside its limits", "bad"];
    if (outside.length) return ["outside its limits, deviation signed", "warn"];
    const done = view.ticks.get(key(step.key, 0))?.last.done;
    if (step.hold && view.holds.get(step.key)?.at(-1).gaps?.length) return ["signed with gaps", "warn"];
    if (step.hold && view.holds.has(step.key)) return [done ? "done, signed" : "signed", "good"];
    if (step.hold && done) return ["done, not signed", "warn"];
    if (done) return ["done", "good"];
    return [places.length ? "begun" : "open", places.length ? "warn" : ""];
  }

  function showStep(section, steps, step, view, table) {
    for (const place of section.querySelectorAll(".box")) showBox(place, step, view, table);
    showPairs(section, step, view, table);
    for (const box of section.querySelectorAll("[data-tick]")) showTick(section, step, view, box);
    showPhotos(section, step, view);
    showHold(section, steps, step, view);
    const feeds = section.querySelector("[data-feeds]");
    if (feeds) hide(feeds, !step.boxes.some((b) => view.values.has(key(step.key, b.what, b.box))));
    const took = view.times.get(step.key);
    say(section.querySelector("[data-took]"), took ? `; took ${duration(took)}` : "");
  }

  function showState(section, step, view) {
    const [word, colour] = stateOf(step, view);
    const state = section.querySelector("[data-state]");
    say(state, word);
    const names = colour ? `state ${colour}` : "state";
    if (state.className !== names) state.className = names;
  }

  Object.assign(window.splicewright, {
    step: {
      boxOf, clock, duration, element, fill, hide, judgeTyping, say, shownIn, showPhotos, showState,
      showStep, typedIn, who,
    },
  });
})();

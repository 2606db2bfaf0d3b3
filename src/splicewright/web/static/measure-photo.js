// Photographs taken to be measured: kept on the phone first, sent when there is a signal, measured
// when they have come. What the bars read goes with each, so that nothing has to be asked later.
(() => {
  "use strict";
  const { bar, live, outbox, reading, smaller } = window.splicewright;
  const byId = (id) => document.getElementById(id);
  const data = JSON.parse(byId("measure-data").textContent);
  const form = byId("measure");
  const taken = [];

  const say = (id, text) => { byId(`fault-${id}`).textContent = text; };

  // A bar as typed, in metres; a bare number is in the unit shown beside the box.
  function barOf(name, [low, high], needed) {
    const text = form.elements[name].value.trim();
    say(name, "");
    if (!text) {
      if (needed) say(name, "is empty; measure it on a printed sheet");
      return needed ? undefined : null;
    }
    try {
      const value = reading.read(reading.completed(text, data.unit), "length", data.kinds);
      if (value >= low && value <= high) return value;
      const inUnit = (metres) => data.unit === "in"
        ? `${(metres / 0.0254).toFixed(2)} in` : `${(metres * 1e3).toFixed(0)} mm`;
      say(name, `cannot be; accepted is ${inUnit(low)} to ${inUnit(high)}`);
    } catch (error) {
      say(name, error.message);
    }
    return undefined;
  }

  async function take(file) {
    let blob;
    try {
      blob = await smaller(file);
    } catch (error) {
      say("photo", `not kept: ${error.message}`);
      return;
    }
    taken.push(blob);
    const figure = document.createElement("figure"), picture = document.createElement("img");
    const away = document.createElement("button");
    Object.assign(picture, { src: URL.createObjectURL(blob), alt: `Photograph ${taken.length}` });
    Object.assign(away, { type: "button", className: "second", textContent: "Leave out" });
    away.addEventListener("click", () => {
      taken.splice(taken.indexOf(blob), 1);
      figure.remove();
    });
    figure.append(picture, away);
    byId("taken").append(figure);
    say("photo", "");
  }

  // What is said and drawn of one kind of photograph only.
  function guide() {
    const { value } = form.elements.shows;
    for (const part of document.querySelectorAll("[data-for]")) {
      part.toggleAttribute("hidden", !part.dataset.for.split(" ").includes(value));
    }
  }

  async function keep(event) {
    event.preventDefault();
    const long = barOf("bar", data.bars[0], true), cross = barOf("cross_bar", data.bars[1], false);
    const end = form.elements.end.value, shows = form.elements.shows.value;
    say("end", end ? "" : "is not chosen");
    const count = taken.length;
    say("photo", count && count <= data.most ? "" : `${count} taken; accepted is 1 to ${data.most}`);
    if (long === undefined || cross === undefined || !end || !count || count > data.most) return;
    const measure = { measuring: outbox.newId(), shows, end, bar: long, cross_bar: cross,
      photographs: count };
    const caption = `${data.shown[shows]} of the ${end} end, to be measured`;
    const what = { of: data.of, about: data.about, photo: "", caption, step: data.step, damage: null,
      inspection: inspection(), measure };
    try {
      await outbox.record(taken.map((blob) => ({ kind: "photograph added", what, blob })),
        { words: caption, job: data.of === "job" ? data.about : "" });
    } catch (error) {
      bar.fail(outbox.isFull(error) ? "The photographs were not kept: this phone has no room left."
        : `The photographs were not kept: ${error.message}.`);
      return;
    }
    taken.length = 0;
    byId("taken").replaceChildren();
    byId("kept").textContent = "Kept on this phone. Waits for measuring: sent when there is a signal.";
    show();
  }

  // The inspection that is under way names itself in the address.
  const inspection = () => /^#inspection=([0-9a-f-]{36})$/.exec(location.hash)?.[1] || null;

  // What this phone holds of this thing, sent or not.
  async function show() {
    const mine = (r) => r.what?.measure && r.what.about === data.about;
    const [waiting, sent] = await Promise.all([
      outbox.db.outbox.filter(mine).toArray(), outbox.db.receipts.filter(mine).toArray()]);
    const found = new Map();
    for (const [records, waits] of [[sent, false], [waiting, true]]) {
      for (const record of records) {
        const { measuring } = record.what.measure;
        found.set(measuring, { words: record.what.caption, waits: waits || found.get(measuring)?.waits });
      }
    }
    byId("waiting").replaceChildren(...[...found].reverse().map(([measuring, one]) => {
      const line = document.createElement("li"), link = document.createElement("a");
      link.href = `${data.place}/measured/${measuring}`;
      link.textContent = `${one.words}: ${one.waits ? "waits for a signal" : "sent; look at what it proposes"}`;
      line.append(link);
      return line;
    }));
    document.documentElement.dataset.waits = String([...found.values()].filter((f) => f.waits).length);
  }

  form.addEventListener("submit", keep);
  form.addEventListener("change", (event) => { if (event.target.name === "shows") guide(); });
  byId("photo").addEventListener("change", async ({ target }) => {
    const [file] = target.files;
    if (file) await take(file);
    target.value = "";
  });
  guide();
  live(take);
  outbox.onChange(show);
  show();
  if (navigator.serviceWorker) {
    bar.tellWorker({ type: "keep", account: data.account, place: data.place, urls: data.keep })
      .then((answer) => bar.sayKept(answer?.failed === 0));
  }
  document.documentElement.dataset.ready = "measure";
})();

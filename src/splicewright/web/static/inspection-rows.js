// Findings, plate by plate: a row for each plate that is marked, with note and photographs.
//
// A photograph is a fact of its own: it goes to the outbox the moment it is taken, and needs no
// recorded inspection to be kept.
(() => {
  "use strict";
  const END = { leading: "leading end", trailing: "trailing end" };
  const COLUMNS = ["more_plate", "more_bolts", "more_kept", "more_note"];

  class Rows {
    constructor(form) {
      this.form = form;
      this.rows = [...form.querySelectorAll(".row-of")];
      this.more = document.getElementById("one-more");
      this.more.hidden = false;
      this.more.addEventListener("click", () => this.add().querySelector("select").focus());
      this.rows.forEach((row) => this.listen(row));
    }

    cell(row, column) { return row.querySelector(`[name="${column}"]`); }

    filled(row) { return COLUMNS.some((column) => this.cell(row, column).value.trim()); }

    // One more row, empty, as the last.
    add() {
      const last = this.rows.at(-1), number = this.rows.length + 1, old = last.dataset.row;
      const row = last.cloneNode(true);
      row.dataset.row = number;
      row.setAttribute("aria-label", `Plate row ${number}`);
      for (const each of row.querySelectorAll("[aria-label]")) {
        each.setAttribute("aria-label", each.getAttribute("aria-label").replace(/row \d+$/, `row ${number}`));
      }
      for (const each of row.querySelectorAll(".fault")) {
        each.id = each.id.replace(new RegExp(`-${old}$`), `-${number}`);
        each.textContent = "";
      }
      for (const each of row.querySelectorAll("input")) each.value = "";
      row.querySelector(".thumbs").replaceChildren();
      last.after(row);
      this.rows.push(row);
      this.listen(row);
      return row;
    }

    // As many rows as were kept.
    atLeast(count) { while (this.rows.length < count) this.add(); }

    rowOf(field) {
      const [end, number] = field.split(".");
      return this.rows.find((row) =>
        this.cell(row, "more_end").value === end && this.cell(row, "more_plate").value.trim() === number);
    }

    // A plate that is marked has its row; one that is good again loses it, unless more was said.
    mark(field, state) {
      const row = this.rowOf(field);
      const marked = state && state !== "ok";
      if (marked && !row) {
        const free = this.rows.find((each) => !this.filled(each) && !each.querySelector("img")) || this.add();
        const [end, number] = field.split(".");
        this.cell(free, "more_end").value = end;
        this.cell(free, "more_plate").value = number;
        this.show(free);
      } else if (!marked && row && COLUMNS.slice(1).every((column) => !this.cell(row, column).value.trim()) &&
          !row.querySelector("img")) {
        this.cell(row, "more_plate").value = "";
        this.show(row);
      }
    }

    listen(row) {
      this.cell(row, "more_plate").addEventListener("input", () => this.show(row));
      row.querySelector("input[type=file]").addEventListener("change", (event) => this.photograph(row, event.target));
      this.show(row);
    }

    // A photograph is of a plate: it is offered where one is named.
    show(row) {
      row.querySelector(".shots").hidden = !window.splicewright?.outbox || !this.cell(row, "more_plate").value.trim();
    }

    async photograph(row, input) {
      const { bar, outbox, smaller } = window.splicewright;
      const [file] = input.files, plate = this.cell(row, "more_plate").value.trim();
      if (!file || !/^\d{1,4}$/.test(plate)) return;
      const end = END[this.cell(row, "more_end").value], joint = this.form.dataset.joint;
      const words = `Plate ${plate}, ${end}`;
      const what = { of: "joint", about: joint, photo: "", caption: words, step: "", damage: null,
        inspection: this.form.elements.inspection.value, end, plate: Number(plate) };
      input.value = "";
      let blob;
      try {
        blob = await smaller(file);
        await outbox.record([{ kind: "photograph added", what, blob }], { words: `photograph of ${words}`, joint });
      } catch (error) {
        bar.fail(`The photograph was not kept: ${error.message}.`);
        return;
      }
      this.picture(row, URL.createObjectURL(blob));
    }

    picture(row, address) {
      const image = document.createElement("img");
      Object.assign(image, { src: address, alt: `Photograph of plate ${this.cell(row, "more_plate").value.trim()}` });
      row.querySelector(".thumbs").append(image);
    }

    // Photographs of this inspection that this phone took before the page was opened again.
    async photographs() {
      const { outbox } = window.splicewright || {};
      if (!outbox) return;
      const id = this.form.elements.inspection.value;
      const mine = (record) => record.kind === "photograph added" && record.what.inspection === id;
      const found = [...await outbox.db.outbox.filter(mine).toArray(), ...await outbox.db.receipts.filter(mine).toArray()];
      for (const { what, blob } of found) {
        const field = `${Object.keys(END).find((word) => END[word] === what.end)}.${what.plate}`;
        if (!this.rowOf(field)) this.mark(field, "photographed");
        this.picture(this.rowOf(field), blob ? URL.createObjectURL(blob) : `/photographs/${what.photo}`);
      }
    }
  }

  window.splicewright = Object.assign(window.splicewright || {}, { inspectionRows: { Rows } });
})();

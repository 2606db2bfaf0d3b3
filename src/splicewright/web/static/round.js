// The page of a round: every joint of it is put on the phone, so that the walk needs no signal.
"use strict";
(() => {
  const { bar, outbox, round } = window.splicewright;
  const list = document.getElementById("route");
  if (!list) return;
  const items = [...list.querySelectorAll("[data-joint]")], status = document.getElementById("kept");
  round.begin(list.dataset.round, items.map((item) => ({ joint: item.dataset.joint, words: item.dataset.words })));

  function showDone() {
    const finished = round.route()?.done || [];
    for (const item of items) {
      const is = finished.includes(item.dataset.joint);
      item.dataset.done = String(is);
      item.querySelector(".done").hidden = !is;
    }
  }

  // What the page of an inspection needs stands in the page itself.
  async function keepOne(item, account) {
    const place = `/joints/${item.dataset.joint}`;
    const page = await fetch(`${place}/inspect`, { credentials: "same-origin", headers: { Accept: "text/html" } });
    if (!page.ok || page.redirected) return false;
    const made = new DOMParser().parseFromString(await page.text(), "text/html");
    const form = made.getElementById("inspection");
    if (!form) return false;
    const parts = [...made.querySelectorAll("link[rel=stylesheet], script[src]")]
      .map((each) => each.getAttribute("href") || each.getAttribute("src"));
    const urls = [`${place}/inspect`, form.dataset.condensed, form.dataset.script, ...parts].filter(Boolean);
    return (await bar.tellWorker({ type: "keep", account, place, urls }))?.failed === 0;
  }

  async function keepAll() {
    if (!navigator.serviceWorker) {
      status.textContent = "This address is not served by HTTPS: without signal these pages cannot be opened.";
      return;
    }
    const account = outbox.account();
    await bar.tellWorker({ type: "keep", account, place: location.pathname,
      urls: [location.pathname, ...[...document.querySelectorAll("link[rel=stylesheet], script[src]")]
        .map((each) => each.getAttribute("href") || each.getAttribute("src"))] });
    let on = 0;
    for (const [at, item] of items.entries()) {
      status.textContent = `Putting the round on the phone: ${at} of ${items.length}.`;
      let came = false;
      try {
        came = await keepOne(item, account);
      } catch { /* no signal: what was kept before stays */ }
      if (!came) {
        const there = await caches.match(`/joints/${item.dataset.joint}/inspect`).catch(() => undefined);
        came = Boolean(there);
      }
      item.querySelector(".on").hidden = !came;
      on += came ? 1 : 0;
    }
    status.textContent = on === items.length
      ? "The whole round is on the phone: every joint opens without signal."
      : `On the phone: ${on} of ${items.length} joints; open this page again with signal for the rest.`;
    document.documentElement.dataset.kept = String(on === items.length);
  }

  showDone();
  window.addEventListener("pageshow", showDone);
  if (items.length) {
    const start = () => keepAll().catch((error) => { status.textContent = `Not on the phone: ${error.message}.`; });
    if (document.readyState === "complete") start();
    else window.addEventListener("load", start, { once: true });
  }
})();

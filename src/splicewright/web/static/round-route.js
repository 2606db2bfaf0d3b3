// The route of a round: joints in walking order, kept on this phone, and which of them are done.
(() => {
  "use strict";
  const KEY = "splicewright round";

  function route() {
    try {
      const found = JSON.parse(localStorage.getItem(KEY) || "null");
      return Array.isArray(found?.joints) ? found : null;
    } catch {
      return null;
    }
  }

  function write(found) {
    try { localStorage.setItem(KEY, JSON.stringify(found)); } catch { /* no room: the list still leads */ }
  }

  // Begin a round, or go on with the same one: what was done of it stays done.
  function begin(name, joints) {
    const before = route();
    write({ name, joints, done: before?.name === name ? before.done : [] });
  }

  function done(joint) {
    const found = route();
    if (found?.joints.some((each) => each.joint === joint) && !found.done.includes(joint)) {
      write({ ...found, done: [...found.done, joint] });
    }
  }

  // Where to go next, from the page of a joint of the round.
  function show(place, joint) {
    const found = route(), here = joint || document.getElementById("inspection")?.dataset.joint;
    const at = found ? found.joints.findIndex((each) => each.joint === here) : -1;
    if (!place || at < 0) return;
    const { joints, done: finished, name } = found;
    const ahead = [...joints.slice(at + 1), ...joints.slice(0, at)];
    const next = ahead.find((each) => !finished.includes(each.joint));
    const left = joints.filter((each) => !finished.includes(each.joint)).length;
    const link = document.createElement("a");
    link.className = "tap";
    link.href = next ? `/joints/${next.joint}/inspect` : `/rounds/${name}`;
    link.textContent = next ? `Next: ${next.words}` : "See the round";
    const all = document.createElement("a");
    all.className = "tap";
    all.href = `/rounds/${name}`;
    all.textContent = `Round, joint ${at + 1} of ${joints.length}; ${left ? `${left} left` : "all done"}`;
    place.replaceChildren(all, next ? " · " : "", next ? link : "");
    place.hidden = false;
  }

  window.splicewright = Object.assign(window.splicewright || {}, { round: { begin, done, route, show } });
})();

// What comes to stand above moves nothing away from under a finger. WebKit alone leaves that to pages.
(() => {
  "use strict";

  // Gives what holds the page where it is, once something has changed.
  function hold() {
    const moves = scrollY > 0 && !CSS.supports("overflow-anchor", "auto");
    // Beside a narrow form there is nothing in the middle of a desk.
    const seen = moves && [innerWidth / 2, innerWidth / 4, 60]
      .map((x) => document.elementFromPoint(x, innerHeight / 2)?.closest("main *")).find(Boolean);
    const before = seen && seen.getBoundingClientRect().top;
    return () => {
      if (seen?.isConnected) scrollBy({ top: seen.getBoundingClientRect().top - before, behavior: "instant" });
    };
  }

  function steady(change) {
    const back = hold();
    change();
    back();
  }

  window.splicewright = Object.assign(window.splicewright || {}, { underFinger: { hold, steady } });
})();
